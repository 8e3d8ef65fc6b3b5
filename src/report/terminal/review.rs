//! The review of a submission as a teacher reads it.

use super::page::{Page, Style};
use crate::report::data::review::ReviewRow;
use crate::report::sentences::phrasing::{MOST_SURE, percent};

/// Writes the review of one submission.
pub fn review_text(row: &ReviewRow, file: &str, page: &mut Page) {
    page.heading(&format!(
        "{file}: {}, {} sure",
        row.verdict.words(),
        percent(row.verdict_confidence.min(MOST_SURE))
    ));
    page.set(&row.explanation, 2, 2, Style::Plain);
    for warning in &row.warnings {
        page.set(&format!("note: {warning}"), 2, 4, Style::Faint);
    }
}
