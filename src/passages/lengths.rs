//! How likely a change is by the lengths of what lies to either side of it.
//!
//! Whoever plays another version goes through its notes, mostly more than once: a change beside a long stretch is likelier than
//! the notes alone make it, one that leaves few notes between it and the next is less likely.

use super::{Change, LEAST_NOTES};

/// A stretch of so many notes is as long as any: a scale of seven degrees up and down and the better part of it again.
const LONG_NOTES: f64 = 24.0;
/// The odds of a change rise with this power of the notes to either side …
const WORTH: f64 = 1.5;
/// … up to this between two long stretches, as a natural logarithm. Both were chosen on made lessons of seeds 1, 2, 4, 6, 8,
/// 21, 31 and 33, so that of 3,000 tunes of one version each one in twenty at the most is told to hold several.
const BETWEEN_LONG: f64 = 0.65;

/// The places in a line of so many notes with their probabilities by the lengths about them: the likeliest first, each between
/// those that are told already, which are those from `told_from` on.
pub fn weighed(mut places: Vec<Change>, notes: usize, told_from: f64) -> Vec<Change> {
    let by_probability = |a: &Change, b: &Change| b.probability.total_cmp(&a.probability);
    places.sort_by(|a, b| by_probability(a, b).then(a.note.cmp(&b.note)));
    let mut borders = vec![0, notes];
    for place in &mut places {
        let next = borders.partition_point(|border| *border <= place.note);
        let lengths = [place.note - borders[next - 1], borders[next] - place.note];
        place.probability = likely(place.probability, lengths);
        if place.probability >= told_from && lengths.iter().all(|length| *length >= LEAST_NOTES) {
            borders.insert(next, place.note);
        }
    }
    places.sort_by_key(|place| place.note);
    places
}

fn likely(probability: f64, lengths: [usize; 2]) -> f64 {
    let short = lengths.map(|length| (length as f64 / LONG_NOTES).min(1.0).ln());
    let odds = (probability / (1.0 - probability)).ln();
    let log = odds + BETWEEN_LONG + WORTH * (short[0] + short[1]);
    1.0 / (1.0 + (-log).exp())
}
