//! A class: submissions that were reviewed before, as a table, as a sheet for each student and as CSV.

use serde::Deserialize;
use serde_json::{Value, json};
use whichmode::report::csv::Csv;
use whichmode::report::html::Html;
use whichmode::report::html::class::{Submission, class};
use whichmode::report::html::sheet;
use whichmode::report::review::{COLUMNS, ReviewRow, failure_cells};
use whichmode::tuning::StringNote;

/// A submission that was reviewed before.
#[derive(Deserialize)]
pub struct Told {
    file: String,
    review: Option<ReviewRow>,
    #[serde(default)]
    error: String,
}

impl Told {
    /// The student's sheet; what was asked is shown on the neck of `strings`.
    pub fn sheet(&self, strings: &[StringNote]) -> Html {
        sheet::sheet(&self.shown(strings))
    }

    fn shown<'a>(&'a self, strings: &'a [StringNote]) -> Submission<'a> {
        Submission {
            file: &self.file,
            result: self.review.as_ref().ok_or(self.error.as_str()),
            sound: None,
            sheet: None,
            strings,
        }
    }

    fn csv(&self, csv: Csv) -> String {
        csv.line(&match &self.review {
            Some(row) => row.cells(&self.file),
            None => failure_cells(&self.file, &self.error),
        })
    }
}

/// The table, and all of it as CSV.
pub fn whole_class(submissions: &[Told]) -> Value {
    let shown: Vec<Submission> = submissions.iter().map(|s| s.shown(&[])).collect();
    let csv = Csv {
        byte_order_mark: true,
        ..Csv::default()
    };
    let mut table = csv.header(&COLUMNS);
    table.extend(submissions.iter().map(|s| s.csv(csv)));
    json!({ "html": class(&shown).finish(), "csv": table })
}
