//! The semitone rule: an octave as a ruler of twelve semitones, on which the notes of a scale lie where they sound.

use super::shapes::{circle, stroke, text};
use super::write::{Html, length};
use crate::report::words::{phrase, word};
use crate::units::OCTAVE_CENTS;

/// From semitone to semitone, in units of the drawing.
const SEMITONE: f64 = 29.0;
/// Left of the centre and right of its octave.
const MARGIN: f64 = 26.0;
/// The drawing's height, and where its line lies.
const HEIGHT: f64 = 84.0;
const LINE: f64 = 36.0;
/// Half the length of the marks of notes that are not in the scale.
const TICK: f64 = 4.0;

/// A scale from its centre up: spelled names, degrees, and semitones from note to note.
pub struct Scale<'a> {
    /// Spelled, the centre first.
    pub note_names: &'a [String],
    /// As many degrees, or none.
    pub degrees: &'a [String],
    /// As many steps in semitones; the last leads back to the centre.
    pub steps: &'a [f64],
}

/// Steps of the twelve notes as a rule takes them.
pub fn semitones(steps: &[u8]) -> Vec<f64> {
    steps.iter().copied().map(f64::from).collect()
}

/// Steps between degrees in cents above the centre, back to the octave, as a rule takes them.
pub fn steps_between(cents: &[f64]) -> Vec<f64> {
    let bounds = cents.iter().copied().skip(1).chain([OCTAVE_CENTS]);
    let steps = cents.iter().zip(bounds);
    steps.map(|(low, high)| (high - low) / 100.0).collect()
}

/// Draws the rule; the centre stands at both ends.
pub fn rule(html: &mut Html, scale: &Scale) {
    let width = 2.0 * MARGIN + 12.0 * SEMITONE;
    let view = format!("0 0 {} {}", length(width), length(HEIGHT));
    let names = scale.note_names.join(" ");
    let steps: Vec<String> = scale.steps.iter().map(|&s| step_text(s)).collect();
    let label = phrase(
        "rule.label",
        &[("notes", &names), ("steps", &steps.join(" "))],
    );
    let attributes = [
        ("class", "rule"),
        ("viewBox", view.as_str()),
        ("role", "img"),
        ("aria-label", label.as_str()),
    ];
    html.element("svg", &attributes, |h| {
        ruler(h);
        let mut at = 0.0;
        for (k, name) in scale.note_names.iter().enumerate() {
            note(h, at, name, degree(scale, k), k == 0);
            let step = scale.steps.get(k).copied().unwrap_or(0.0);
            let middle = MARGIN + SEMITONE * (at + step / 2.0);
            text(h, "rule-step", middle, LINE - 11.0, &step_text(step));
            at += step;
        }
        if let Some(home) = scale.note_names.first() {
            let octave = if scale.degrees.is_empty() {
                ""
            } else {
                word("rule.octave")
            };
            note(h, 12.0, home, octave, true);
        }
    });
}

/// "2", or "1.5" off the twelve notes.
fn step_text(semitones: f64) -> String {
    ((semitones * 10.0).round() / 10.0).to_string()
}

fn degree<'a>(scale: &'a Scale, k: usize) -> &'a str {
    scale.degrees.get(k).map_or("", String::as_str)
}

fn ruler(html: &mut Html) {
    let right = MARGIN + 12.0 * SEMITONE;
    stroke(html, "rule-line", [MARGIN, LINE, right, LINE]);
    for k in 0..=12 {
        let x = MARGIN + SEMITONE * f64::from(k);
        stroke(html, "rule-tick", [x, LINE - TICK, x, LINE + TICK]);
    }
}

fn note(html: &mut Html, semitone: f64, name: &str, degree: &str, is_home: bool) {
    let x = MARGIN + SEMITONE * semitone;
    let class = if is_home { "rule-home" } else { "rule-note" };
    circle(html, class, [x, LINE], if is_home { 8.0 } else { 5.5 });
    if is_home {
        circle(html, "rule-ring", [x, LINE], 11.5);
    }
    text(html, "rule-name", x, LINE + 29.0, name);
    text(html, "rule-degree", x, LINE + 44.0, degree);
}
