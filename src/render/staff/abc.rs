//! ABC notation, standard 2.1 (2011): a tune in free metre, a line of music for each breath.
//!
//! That standard has no signs for quarter tones, so a pitch between the twelve notes is written as the nearest of them
//! with its cents above it.

use super::{Sheet, Written};

/// The octave whose notes are written with plain capitals.
const CAPITALS_OCTAVE: i32 = 4;
/// Seconds in a minute.
const MINUTE_S: f64 = 60.0;

/// The sheet as a file's text.
pub fn write(sheet: &Sheet) -> String {
    let key = sheet.key.map_or("none".to_string(), |k| {
        format!("{}{}", k.root, k.mode[..3].to_lowercase())
    });
    // In the field K: some readers take a bass clef for a shift by octaves, which the standard does not.
    let clef = if sheet.is_bass { "V:1 clef=bass\n" } else { "" };
    let groups: Vec<String> = sheet.groups().into_iter().map(group).collect();
    format!(
        "%abc-2.1\nX:1\nT:{}\nM:none\nL:1/4\nQ:1/4={:.0}\n{clef}K:{key}\n{}\n",
        sheet.title.replace(['\n', '%'], " "),
        (MINUTE_S / sheet.quarter_s).max(1.0),
        groups.join("\n")
    )
}

fn group(notes: &[Written]) -> String {
    let notes: Vec<String> = notes.iter().map(note).collect();
    notes.join(" ")
}

fn note(note: &Written) -> String {
    let cents = off_cents(note).map_or(String::new(), |c| format!("\"^{c:+.0}c\""));
    let words = note
        .words
        .as_ref()
        .map_or(String::new(), |w| format!("\"_{w}\""));
    let breath = if note.ends_breath { "!breath!" } else { "" };
    let sign = match note.alteration {
        0 => "=".to_string(),
        n if n > 0 => "^".repeat(n.unsigned_abs() as usize),
        n => "_".repeat(n.unsigned_abs() as usize),
    };
    let sign = if note.shows_accidental {
        sign
    } else {
        String::new()
    };
    let length = match note.quarters {
        1 => String::new(),
        n => n.to_string(),
    };
    format!("{cents}{words}{breath}{sign}{}{length}", pitch(note))
}

/// Cents off the written note, quarter tones among them.
fn off_cents(note: &Written) -> Option<f64> {
    match note.quarter {
        0 => note.cents,
        quarter => Some(super::QUARTER_CENTS * f64::from(quarter)),
    }
}

/// "C,", "C", "c", "c'".
fn pitch(note: &Written) -> String {
    let above = note.octave - CAPITALS_OCTAVE;
    if above <= 0 {
        format!(
            "{}{}",
            note.letter,
            ",".repeat(above.unsigned_abs() as usize)
        )
    } else {
        let marks = "'".repeat(above.unsigned_abs() as usize - 1);
        format!("{}{marks}", note.letter.to_ascii_lowercase())
    }
}
