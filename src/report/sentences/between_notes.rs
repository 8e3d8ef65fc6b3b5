//! What is said of degrees that lie between two of the twelve notes in a line that is named by the twelve.

use super::phrasing::{listed, ordinal};
use super::spelling::Names;
use crate::report::words::said;
use crate::scale::{Degree, ScaleEstimate, Verdict};
use crate::units::{PitchClass, SEMITONE_CENTS, from_semitone};

/// A degree lies between two notes if both its interval above the centre and its place among the others are so many cents
/// from the nearest of the twelve, and it has this part of the time and so many notes. Engineering judgement, as are the
/// next two; the interval alone would say so of a third of untrained singers, whose centre lies askew.
const BETWEEN_CENTS: f64 = 32.0;
const LEAST_SHARE: f64 = 0.04;
const LEAST_NOTES: usize = 3;
/// Notes that lie anywhere in a semitone scatter by 29 cents; those of a degree that takes in both its halves by hardly
/// more than this, in cents.
const MOST_SPREAD_CENTS: f64 = 45.0;
/// It must lie off its nearest note by so many standard errors of its mean.
const SURE_ERRORS: f64 = 3.0;
/// Of more degrees than this nothing is told one by one: the line is sung freely, or the scale is another.
const MOST_TOLD: usize = 2;

/// One of them.
struct Between {
    number: usize,
    below: String,
    above: String,
    cents: f64,
}

/// A sentence for each degree that lies between two notes, one for all where they are many; `None` where none does, or
/// where the answer names no notes of the twelve.
pub fn between_notes(estimate: &ScaleEstimate, names: &Names) -> Option<String> {
    let names_the_twelve = matches!(estimate.verdict, Verdict::Clear | Verdict::Ambiguous);
    let centre = estimate.centre.filter(|_| names_the_twelve)?;
    let all = estimate.degrees.iter();
    let found: Vec<Between> = all
        .filter_map(|degree| between(estimate, degree, centre, names))
        .collect();
    let home = names.of(centre);
    let sentences: Vec<String> = match found.len() {
        0 => return None,
        1..=MOST_TOLD => found.iter().map(|one| told(one, &home)).collect(),
        _ => vec![told_of_many(&found, &home)],
    };
    Some(sentences.join(" "))
}

fn between(
    estimate: &ScaleEstimate,
    degree: &Degree,
    centre: PitchClass,
    names: &Names,
) -> Option<Between> {
    let own = degree.mean_cents?;
    let cents = estimate.above_centre(degree.class, own)?;
    let off = from_semitone(cents).min(from_semitone(own));
    let spread = degree.spread_cents?;
    let is_sure = off * (degree.count as f64).sqrt() >= SURE_ERRORS * spread;
    let is_much = degree.share >= LEAST_SHARE && degree.count >= LEAST_NOTES;
    let is_between = off >= BETWEEN_CENTS && spread <= MOST_SPREAD_CENTS && is_sure && is_much;
    let below = centre.up((cents / SEMITONE_CENTS).floor() as i64);
    is_between.then_some(Between {
        number: names.degree(degree.class).and_then(|name| number(&name))?,
        below: names.of(below),
        above: names.of(below.up(1)),
        cents,
    })
}

/// The 3 of "b3".
fn number(degree: &str) -> Option<usize> {
    degree.trim_start_matches(['b', '#']).parse().ok()
}

fn told(one: &Between, home: &str) -> String {
    said!(
        "between.one",
        degree = ordinal(one.number),
        below = one.below,
        above = one.above,
        cents = format!("{:.0}", one.cents),
        home = home
    )
}

fn told_of_many(found: &[Between], home: &str) -> String {
    let degree = |one: &Between| {
        let cents = format!("{:.0}", one.cents);
        said!(
            "between.degree",
            degree = ordinal(one.number),
            cents = cents
        )
    };
    let degrees: Vec<String> = found.iter().map(degree).collect();
    said!("between.many", degrees = listed(&degrees), home = home)
}
