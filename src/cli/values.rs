//! Values of options that several commands take, and the sentence for each that can't be read.

use clap::Args;

use crate::answer::A4_HZ;
use crate::report::csv::Csv;

/// An A4 in hertz.
pub fn a4(text: &str) -> Result<f64, String> {
    let hz: f64 = text
        .parse()
        .map_err(|_| "write it in hertz, such as 440".to_string())?;
    if A4_HZ.contains(&hz) {
        Ok(hz)
    } else {
        Err(format!(
            "an A4 lies between {} and {} Hz",
            A4_HZ.start(),
            A4_HZ.end()
        ))
    }
}

/// A time in seconds, minutes and seconds or hours, minutes and seconds: 75.5, 1:15.5, 1:02:03.
pub fn time(text: &str) -> Result<f64, String> {
    let parts: Vec<&str> = text.split(':').collect();
    let number = |part: &str| {
        part.parse::<f64>()
            .ok()
            .filter(|x| x.is_finite() && *x >= 0.0)
    };
    let is_whole = |part: &&str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let (last, before) = parts.split_last().ok_or("write a time")?;
    let below_sixty = |part: &str| number(part).is_some_and(|x| x < 60.0);
    let well_formed = before.iter().all(is_whole)
        && before.len() <= 2
        && parts.iter().skip(1).all(|part| below_sixty(part));
    number(last)
        .filter(|_| well_formed)
        .map(|s| {
            before
                .iter()
                .fold(0.0, |all, part| 60.0 * all + number(part).unwrap_or(0.0))
                * 60.0
                + s
        })
        .ok_or_else(|| "write seconds or minutes:seconds, such as 12.5 or 1:15".to_string())
}

/// How a table is wanted.
#[derive(Args)]
pub struct CsvArgs {
    /// Print a table that spreadsheets read, one line a recording
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
    /// Part the columns by semicolons and write numbers with a comma, as spreadsheets of many countries want it
    #[arg(long, requires = "csv")]
    semicolons: bool,
    /// Begin the table with a byte order mark, where a spreadsheet shows accents wrongly without it
    #[arg(long, requires = "csv")]
    bom: bool,
}

impl CsvArgs {
    /// The form of the table, if one is wanted.
    pub fn form(&self) -> Option<Csv> {
        self.csv.then_some(Csv {
            semicolons: self.semicolons,
            byte_order_mark: self.bom,
        })
    }
}
