//! The strings to change, in words.

use super::spelled;
use crate::render::Scale;
use crate::render::retune::{Change, Retuning};
use crate::report::sentences::phrasing::{counted, listed};
use crate::report::text::Page;
use crate::tuning::StringNote;

/// The changes, or that there is nothing to change.
pub fn tell(strings: &[StringNote], scale: &Scale, found: &Retuning, page: &mut Page) {
    let names: Vec<String> = strings.iter().map(|s| s.to_string()).collect();
    page.heading(&format!("{} to {}", names.join(" "), scale.title));
    if found.ways.iter().all(Vec::is_empty) {
        page.paragraph("Nothing to change: every string is a note of it.");
    }
    for (k, way) in found
        .ways
        .iter()
        .enumerate()
        .filter(|(_, way)| !way.is_empty())
    {
        let number = if found.count > 1 {
            format!("Way {}: ", k + 1)
        } else {
            String::new()
        };
        page.gap();
        page.paragraph(&format!("{number}change {}", counted(way.len(), "string")));
        let rows: Vec<Vec<String>> = way.iter().map(|c| change_row(strings, c)).collect();
        page.table(&rows, 2);
    }
    page.gap();
    if found.total_cents > 0.0 {
        page.paragraph(&totals(found));
    }
    if !found.lacking.is_empty() {
        let lacking: Vec<String> = found.lacking.iter().map(|t| t.degree_text()).collect();
        page.paragraph(&format!(
            "No string has degree {} of it: there are too few strings, or they may not be moved so far.",
            listed(&lacking)
        ));
    }
    if found.ways.iter().flatten().any(|c| c.cents > 0.0) {
        page.paragraph("Where a string is raised: it can snap. Raise it slowly, face away from it, and keep within the maker's limits; if in doubt take a lower solution.");
    }
}

fn totals(found: &Retuning) -> String {
    let more = match found.count {
        1 => String::new(),
        n if n as usize > found.ways.len() => {
            format!(
                " There are {n} ways with that little movement, {} are shown.",
                found.ways.len()
            )
        }
        n => format!(" {n} ways are equally good."),
    };
    format!("Moved in all: {}.{more}", amount(found.total_cents))
}

/// "2 semitones", or cents where it is no whole number of them.
fn amount(cents: f64) -> String {
    let semitones = cents.abs() / 100.0;
    if (semitones - semitones.round()).abs() < 1e-6 {
        counted(semitones.round() as usize, "semitone")
    } else {
        format!("{:.0} cents", cents.abs())
    }
}

fn change_row(strings: &[StringNote], change: &Change) -> Vec<String> {
    let string = strings[change.string];
    let midi = f64::from(string.midi) + change.cents / 100.0;
    let side = if change.cents > 0.0 { "up" } else { "down" };
    vec![
        format!("string {}", change.string + 1),
        format!("{string} to {}", spelled(change.tone.name, midi)),
        format!("{side} {}", amount(change.cents)),
        format!("degree {}", change.tone.degree_text()),
    ]
}
