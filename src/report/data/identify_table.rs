//! What was heard in many recordings, a line each: as a table for spreadsheets.

use super::csv::Cell;
use super::identify::{Identify, Origin};
use crate::report::sentences::phrasing::capped;

/// The columns of the table.
pub const COLUMNS: [&str; 12] = [
    "file",
    "verdict",
    "version",
    "centre",
    "confidence",
    "notes",
    "or_else",
    "name",
    "a4_hz",
    "duration_s",
    "remarks",
    "notes_confidence",
];

const REMARKS: usize = 10;

/// One answer as a line of the table.
pub fn cells(answer: &Identify) -> [Cell; COLUMNS.len()] {
    let (Origin::File(name) | Origin::Id(name)) = &answer.origin;
    let centre = answer.centre.as_ref();
    let other = answer.alternatives.first();
    [
        name.as_str().into(),
        answer.verdict.name().into(),
        answer.version.clone().into(),
        centre.map(|c| c.name.clone()).into(),
        centre.map(|c| round(capped(c.confidence))).into(),
        answer.note_names.join(" ").into(),
        other.and_then(|a| a.version.clone()).into(),
        answer.labels.first().map(|l| l.name.as_str()).into(),
        answer.reference_hz.map(round).into(),
        round(answer.duration_s).into(),
        answer.warnings.join(" ").into(),
        centre.map(|_| round(capped(answer.set_confidence))).into(),
    ]
}

/// The line of a recording that could not be heard.
pub fn failure_cells(name: &str, message: &str) -> [Cell; COLUMNS.len()] {
    let mut cells: [Cell; COLUMNS.len()] = std::array::from_fn(|_| Cell::Empty);
    cells[0] = name.into();
    cells[1] = "error".into();
    cells[REMARKS] = message.into();
    cells
}

/// Two decimals are more than anyone reads in a table.
fn round(x: f64) -> f64 {
    (x * 100.0).round() / 100.0
}
