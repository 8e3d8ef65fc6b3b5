//! MusicXML 4.0 (W3C Music Notation Community Group, 2021), partwise.
//!
//! A group of notes up to a breath is an implicit measure without a bar line, since a measure is where systems may break.

use std::fmt::Write;

use super::{Sheet, Written};

/// The sheet as a file's text.
pub fn write(sheet: &Sheet) -> String {
    let mut measures = String::new();
    for (k, group) in sheet.groups().into_iter().enumerate() {
        let attributes = if k == 0 {
            attributes(sheet)
        } else {
            String::new()
        };
        let notes: String = group.iter().map(note).collect();
        let _ = write!(
            measures,
            "    <measure number=\"{}\" implicit=\"yes\">\n{attributes}{notes}      \
             <barline location=\"right\"><bar-style>none</bar-style></barline>\n    </measure>\n",
            k + 1
        );
    }
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \"http://www.musicxml.org/dtds/partwise.dtd\">\n\
         <score-partwise version=\"4.0\">\n  <work><work-title>{}</work-title></work>\n  \
         <identification><encoding><software>whichmode</software></encoding></identification>\n  \
         <part-list><score-part id=\"P1\"><part-name print-object=\"no\">line</part-name></score-part></part-list>\n  \
         <part id=\"P1\">\n{measures}  </part>\n</score-partwise>\n",
        escaped(&sheet.title)
    )
}

fn attributes(sheet: &Sheet) -> String {
    let key = sheet.key.map_or(String::new(), |k| {
        format!(
            "        <key><fifths>{}</fifths><mode>{}</mode></key>\n",
            k.fifths,
            k.mode.to_lowercase()
        )
    });
    let (sign, line) = if sheet.is_bass { ("F", 4) } else { ("G", 2) };
    format!(
        "      <attributes>\n        <divisions>1</divisions>\n{key}        \
         <time print-object=\"no\"><senza-misura/></time>\n        \
         <clef><sign>{sign}</sign><line>{line}</line></clef>\n      </attributes>\n"
    )
}

fn note(note: &Written) -> String {
    let cents = note.cents.map_or(String::new(), |cents| {
        format!(
            "      <direction placement=\"above\"><direction-type><words>{cents:+.0} cents</words></direction-type></direction>\n"
        )
    });
    let accidental = match accidental(note) {
        Some(name) if note.shows_accidental => format!("<accidental>{name}</accidental>"),
        _ => String::new(),
    };
    let kind = match note.quarters {
        4 => "whole",
        2 => "half",
        _ => "quarter",
    };
    let breath = if note.ends_breath {
        "<notations><articulations><breath-mark/></articulations></notations>"
    } else {
        ""
    };
    let words = note.words.as_ref().map_or(String::new(), |words| {
        format!(
            "<lyric><syllabic>single</syllabic><text>{}</text></lyric>",
            escaped(words)
        )
    });
    format!(
        "{cents}      <note><pitch><step>{}</step>{}<octave>{}</octave></pitch><duration>{}</duration><type>{kind}</type>\
         {accidental}<stem>none</stem>{breath}{words}</note>\n",
        note.letter,
        alter(note),
        note.octave,
        note.quarters
    )
}

/// Semitones off the letter, with halves for quarter tones.
fn alter(note: &Written) -> String {
    match 2 * note.alteration + note.quarter {
        0 => String::new(),
        halves => format!("<alter>{}</alter>", f64::from(halves) / 2.0),
    }
}

/// The standard's name of the sign.
fn accidental(note: &Written) -> Option<&'static str> {
    match 2 * note.alteration + note.quarter {
        -4 => Some("flat-flat"),
        -3 => Some("three-quarters-flat"),
        -2 => Some("flat"),
        -1 => Some("quarter-flat"),
        0 => Some("natural"),
        1 => Some("quarter-sharp"),
        2 => Some("sharp"),
        3 => Some("three-quarters-sharp"),
        4 => Some("double-sharp"),
        _ => None,
    }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
