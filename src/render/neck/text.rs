//! The neck in characters: strings across, the highest on top, as one looks down on a neck held to play.

use super::{Mark, Neck};
use crate::render::scale::{Scale, Tone};

/// Frets that necks bear an inlay at (common practice, no source).
pub(super) const INLAYS: [usize; 9] = [3, 5, 7, 9, 12, 15, 17, 19, 21];

/// The drawing, with a line above that says what it shows.
pub fn write(scale: &Scale, neck: &Neck) -> String {
    let marks = neck.marks(scale);
    let width = cell_width(&marks);
    let names: Vec<String> = neck.strings.iter().map(|s| s.to_string()).collect();
    let margin = names.iter().map(String::len).max().unwrap_or(0);
    let mut out = format!("{}\n\n", head(scale));
    out.push_str(&row(&" ".repeat(margin), &numbers(neck, width), neck, " "));
    for string in (0..neck.strings.len()).rev() {
        let name = format!("{:<margin$}", names[string]);
        let cells: Vec<String> = (0..=neck.frets)
            .map(|fret| cell(&marks, string, fret, width))
            .collect();
        out.push_str(&row(&name, &cells, neck, "|"));
    }
    out.push_str(&row(&" ".repeat(margin), &inlays(neck, width), neck, " "));
    out.push_str(&format!("\n[1] is the centre, {}.", scale.root));
    if marks.iter().any(|m| !m.is_on_fret()) {
        out.push_str(
            " Cents behind a degree: that far above (+) or below (-) the fret under which it stands.",
        );
    }
    out.push('\n');
    out
}

/// "D Dorian kumoi: D E F A B".
pub(super) fn head(scale: &Scale) -> String {
    let names: Vec<String> = scale.rising.iter().map(Tone::note_text).collect();
    let falling: Vec<String> = scale.falling.iter().map(Tone::note_text).collect();
    let down = if scale.has_two_forms() {
        format!("; falling {}", falling.join(" "))
    } else {
        String::new()
    };
    format!("{}: {}{down}", scale.title, names.join(" "))
}

fn cell_width(marks: &[Mark]) -> usize {
    let longest = marks.iter().map(|m| label(m).len()).max().unwrap_or(1);
    longest.max(2) + 2
}

fn label(mark: &Mark) -> String {
    let degree = mark.tone.degree_text();
    if mark.is_centre {
        format!("[{degree}]")
    } else {
        degree
    }
}

fn cell(marks: &[Mark], string: usize, fret: usize, width: usize) -> String {
    let here = marks
        .iter()
        .filter(|m| m.string == string && m.fret() == fret);
    let labels: Vec<String> = here.map(label).collect();
    if labels.is_empty() {
        let filler = if fret == 0 { " " } else { "-" };
        return filler.repeat(width);
    }
    let filler = if fret == 0 { ' ' } else { '-' };
    centred(&labels.join("/"), width, filler)
}

fn centred(text: &str, width: usize, filler: char) -> String {
    let room = width.saturating_sub(text.chars().count());
    let left: String = std::iter::repeat_n(filler, room / 2).collect();
    let right: String = std::iter::repeat_n(filler, room - room / 2).collect();
    format!("{left}{text}{right}")
}

fn numbers(neck: &Neck, width: usize) -> Vec<String> {
    let number = |fret: usize| match fret {
        0 => centred("open", width, ' '),
        _ => centred(&fret.to_string(), width, ' '),
    };
    (0..=neck.frets).map(number).collect()
}

fn inlays(neck: &Neck, width: usize) -> Vec<String> {
    let dot = |fret: usize| match fret {
        12 | 24 => "o o",
        _ if INLAYS.contains(&fret) => "o",
        _ => "",
    };
    (0..=neck.frets)
        .map(|fret| centred(dot(fret), width, ' '))
        .collect()
}

/// A line of cells; the open string stands before the nut, which is drawn double.
fn row(name: &str, cells: &[String], neck: &Neck, wire: &str) -> String {
    let nut = wire.repeat(2);
    let frets = cells[1..].to_vec();
    let line = if neck.is_left_handed {
        let mirrored: Vec<String> = frets.into_iter().rev().collect();
        format!("{wire}{}{nut}{} {name}", mirrored.join(wire), cells[0])
    } else {
        format!("{name} {}{nut}{}{wire}", cells[0], frets.join(wire))
    };
    format!("{}\n", line.trim_end())
}
