//! Where the playing time lies within the octave: the folded histogram from the centre up, each degree named.

use super::write::{Html, length};
use crate::histogram::{BIN_CENTS, BINS, Histogram};
use crate::report::identify::{DegreeRow, Identify};
use crate::report::words::{percent, phrase};
use crate::scale::ScaleEstimate;

/// Width of a bin and of its column, and the drawing's measures.
const BIN: f64 = 3.4;
const COLUMN: f64 = 4.4;
const LEFT: f64 = 14.0;
const TOP: f64 = 14.0;
const HEIGHT: f64 = 108.0;
const FOOT: f64 = 50.0;
/// The octave is drawn from so many bins below the centre on, so that a flat centre is seen whole.
const BELOW: usize = 5;

/// The playing time over the octave.
#[derive(Debug, Clone)]
pub struct Time {
    /// Its parts, counted from C in steps of ten cents.
    bins: [f64; BINS],
    /// Where most of it is that of degrees.
    is_inside: [bool; BINS],
}

impl Time {
    /// The time of a histogram; a note is that of a degree where the estimate takes it for one, wherever it lies.
    pub fn new(histogram: &Histogram, estimate: &ScaleEstimate) -> Self {
        let mut inside = [0.0; BINS];
        for (note, meant) in histogram.notes.iter().zip(&estimate.notes) {
            let is_degree = estimate.set.contains(meant.class);
            inside[note.bin()] += if is_degree { 1.0 } else { -1.0 } * note.weight();
        }
        Self {
            bins: histogram.bins,
            is_inside: inside.map(|more| more >= 0.0),
        }
    }
}

/// Draws the time of a recording.
pub fn octave(html: &mut Html, answer: &Identify, time: &Time) {
    let bins = &time.bins;
    let highest = bins.iter().copied().fold(0.0, f64::max);
    if highest <= 0.0 {
        return;
    }
    let home = answer.centre.as_ref().map_or(0, |c| c.pitch_class);
    let (width, height) = (2.0 * LEFT + BIN * BINS as f64, TOP + HEIGHT + FOOT);
    let view = format!("0 0 {} {}", length(width), length(height));
    let label = told(answer);
    let attributes = [
        ("class", "octave"),
        ("viewBox", view.as_str()),
        ("role", "img"),
        ("aria-label", &label),
    ];
    html.element("svg", &attributes, |h| {
        grid(h);
        for (k, bin) in bins.iter().enumerate() {
            let high = HEIGHT * bin / highest;
            if high > 0.3 {
                column(h, k, home, high, time.is_inside[k]);
            }
        }
        for degree in &answer.degrees {
            name(h, degree, answer, home);
        }
    });
}

fn told(answer: &Identify) -> String {
    let shares: Vec<String> = answer
        .degrees
        .iter()
        .map(|d| format!("{} {}", d.told(), percent(d.share)))
        .collect();
    phrase("octave.label", &[("shares", &shares.join(", "))])
}

/// Where a bin counted from C lies, from the left.
fn place(bin: usize, home: usize) -> f64 {
    let per_semitone = BINS / 12;
    let from_home = (bin + BINS + BELOW - home * per_semitone) % BINS;
    LEFT + BIN * from_home as f64
}

fn grid(html: &mut Html) {
    let floor = length(TOP + HEIGHT);
    for k in 0..12 {
        let x = length(LEFT + BIN * (BELOW + k * BINS / 12) as f64 + BIN / 2.0);
        let attributes = [
            ("class", "octave-grid"),
            ("x1", x.as_str()),
            ("y1", &length(TOP)),
            ("x2", &x),
            ("y2", &floor),
        ];
        html.element("line", &attributes, |_| {});
    }
}

fn column(html: &mut Html, bin: usize, home: usize, high: f64, is_inside: bool) {
    let class = if is_inside {
        "column"
    } else {
        "column column-outside"
    };
    let attributes = [
        ("class", class),
        ("x", &length(place(bin, home))),
        ("y", &length(TOP + HEIGHT - high)),
        ("width", &length(COLUMN)),
        ("height", &length(high)),
    ];
    html.element("rect", &attributes, |_| {});
}

fn name(html: &mut Html, degree: &DegreeRow, answer: &Identify, home: usize) {
    let same =
        |n: &&crate::report::identify::NoteRow| super::line::without_octave(&n.name) == degree.name;
    let Some(class) = answer.notes.iter().find(same).map(|n| n.pitch_class) else {
        return;
    };
    let off = BIN * degree.far_off().unwrap_or_default() / BIN_CENTS;
    let x = length(place(class * BINS / 12, home) + off + BIN / 2.0);
    let kind = if Some(class) == answer.centre.as_ref().map(|c| c.pitch_class) {
        "octave-name octave-home"
    } else {
        "octave-name"
    };
    let rows = [
        (kind, 17.0, degree.name.clone()),
        (
            "octave-share",
            34.0,
            percent(degree.share).replace('\u{a0}', ""),
        ),
    ];
    for (class, down, text) in rows {
        let y = length(TOP + HEIGHT + down);
        let attributes = [("class", class), ("x", &x), ("y", y.as_str())];
        html.element("text", &attributes, |h| h.text(&text));
    }
}
