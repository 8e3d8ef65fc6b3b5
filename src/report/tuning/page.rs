//! The page for players.

use super::advice::advice;
use super::doubt::doubt;
use super::json::TuningReport;
use super::overtones::{bell_sentence, overtone_sentence};
use crate::report::terminal::page::{Page, Style};
use crate::tuning::{Interval, StringReading, Tuning, Verdict};

/// How many intervals stand on a line of the page.
const INTERVALS_PER_LINE: usize = 3;

impl TuningReport<'_> {
    /// Sets the answer for a reader.
    pub fn write(&self, page: &mut Page) {
        let tuning = self.tuning;
        page.heading(&format!("{}: {}", self.file, verdict_words(tuning)));
        page.paragraph(&format!(
            "A4 = {:.1} Hz, temperament {}; meant: {}. Targets and strings in hertz, beats a second.",
            tuning.a4_hz, tuning.temperament, tuning.set.intended.label()
        ));
        for sentence in &self.explanation {
            page.paragraph(sentence);
        }
        page.gap();
        page.table(&rows(&tuning.strings), 0);
        write_intervals(&tuning.intervals, page);
        write_doubts(tuning, page);
        write_list("Take care", &self.cautions, page);
        write_list("About the recording", self.warnings, page);
    }
}

fn verdict_words(tuning: &Tuning) -> &'static str {
    match tuning.verdict {
        None => "no string was heard",
        Some(Verdict::InTune) => "in tune",
        Some(Verdict::Adjust) => "the right set, to be adjusted",
        Some(Verdict::WrongSet) => "not the intended set",
        Some(Verdict::StringsMissing) => "strings are missing",
        Some(Verdict::OtherOrder) => "plucked in another order than given",
        Some(Verdict::Uncertain) => "a reading is uncertain: pluck again before you turn anything",
    }
}

fn rows(strings: &[StringReading]) -> Vec<Vec<String>> {
    let head = [
        "string",
        " target",
        "  heard",
        " cents",
        "beats",
        "what to do",
    ];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend(strings.iter().map(row));
    rows
}

fn row(reading: &StringReading) -> Vec<String> {
    let number = |value: Option<f64>, width: usize, places: usize| match value {
        Some(v) => format!("{v:>width$.places$}"),
        None => format!("{:>width$}", "–"),
    };
    let cents = match (reading.deviation_cents, reading.uncertainty_cents) {
        (Some(off), Some(sigma)) => format!("{} ±{sigma:.1} {}", signed(off), side(off)),
        _ => format!("{:>6}", "–"),
    };
    vec![
        format!("{:>2} {}", reading.string, reading.target),
        number(Some(reading.target_hz), 7, 2),
        number(reading.measured_hz, 7, 2),
        cents,
        number(reading.beats_per_s, 5, 1),
        advice(reading).unwrap_or("not heard".to_owned()),
    ]
}

/// Cents with their sign and one decimal; no sign where they round to nothing.
fn signed(cents: f64) -> String {
    match side(cents) {
        "true" => format!("{:>6.1}", 0.0),
        _ => format!("{cents:>+6.1}"),
    }
}

/// Sharp or flat, as the shown figure has it.
fn side(cents: f64) -> &'static str {
    match cents {
        c if c >= 0.05 => "sharp",
        c if c <= -0.05 => "flat",
        _ => "true",
    }
}

fn write_intervals(intervals: &[Interval], page: &mut Page) {
    if intervals.is_empty() {
        return;
    }
    page.heading("From string to string in cents (and as meant)");
    let shown: Vec<String> = intervals
        .iter()
        .map(|i| {
            let pair = format!("{}–{}", i.from, i.to);
            format!("{pair:>5} {:>+7.1} ({:+.1})", i.cents, i.target_cents)
        })
        .collect();
    let rows: Vec<Vec<String>> = shown
        .chunks(INTERVALS_PER_LINE)
        .map(<[String]>::to_vec)
        .collect();
    page.table(&rows, 0);
}

fn write_doubts(tuning: &Tuning, page: &mut Page) {
    let doubts: Vec<String> = tuning
        .strings
        .iter()
        .filter_map(|s| Some(format!("String {}: {}.", s.string, doubt(s)?)))
        .collect();
    write_list("Doubts", &doubts, page);
    let overtones: Vec<String> = tuning
        .strings
        .iter()
        .filter_map(|s| {
            let hz = s.measured_hz?;
            let bell = bell_sentence(s.string, hz, &s.bell);
            bell.or_else(|| overtone_sentence(s.string, hz, &s.overtones))
        })
        .collect();
    write_list("Overtones", &overtones, page);
    if !tuning.others.is_empty() {
        let shown: Vec<String> = tuning
            .others
            .iter()
            .map(|o| format!("{:.1} Hz at {:.1} s", o.hz, o.start_s))
            .collect();
        write_list(
            "Heard besides, and none of the strings",
            &[shown.join(", ")],
            page,
        );
    }
}

fn write_list(heading: &str, sentences: &[String], page: &mut Page) {
    if sentences.is_empty() {
        return;
    }
    page.heading(heading);
    for sentence in sentences {
        page.set(sentence, 0, 2, Style::Plain);
    }
}
