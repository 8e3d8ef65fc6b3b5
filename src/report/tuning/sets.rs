//! The named sets of strings, for a reader.

use crate::report::terminal::page::{Page, Style};
use crate::tuning::StringSet;

/// The named sets with their sources.
pub fn write_sets(sets: &[StringSet], page: &mut Page) {
    for set in sets {
        page.heading(&set.name);
        page.paragraph(&set.strings);
        page.set(
            &format!("{}.", set.source.trim_end_matches('.')),
            2,
            2,
            Style::Faint,
        );
        if let Some(note) = &set.note {
            page.set(note, 2, 2, Style::Faint);
        }
    }
}
