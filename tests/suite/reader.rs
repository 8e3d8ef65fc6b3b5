//! The readers of lines with weights drawn at random: what holds for any weights.
//!
//! What is expected follows from what a standpoint is: a transposed line has its centre transposed, and a reader that counts
//! in scale steps can't tell a tune from the same tune on another scale.

use crate::support::lines;

use approx::assert_abs_diff_eq;
use lines::{D4, ladder, line, up_and_down};
use whichmode::histogram::Histogram;
use whichmode::scale::course::{Course, MOST_NOTES, OWN, Standpoint, TOPICS};
use whichmode::scale::reader::{CHANNELS, Reader, mean_scores, sizes};
use whichmode::units::PitchClass;

const DORIAN: [f64; 7] = [2.0, 1.0, 2.0, 2.0, 2.0, 1.0, 2.0];
const DOUBLE_HARMONIC: [f64; 7] = [1.0, 3.0, 1.0, 2.0, 1.0, 3.0, 1.0];
/// The flags of the fifth and the fourth: all that the steps know of semitones, but for the candidate itself.
const FIFTH_AND_FOURTH: std::ops::Range<usize> = 8..10;

/// Numbers between -0.3 and 0.3 (a linear congruential generator; D. E. Knuth, "The art of computer programming", 1997).
fn weights(standpoint: Standpoint) -> Vec<f32> {
    let count = sizes(standpoint).iter().map(|(r, c)| r * c).sum();
    let next = |state: &mut u64| {
        *state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        Some(((*state >> 40) as f32 / (1 << 24) as f32 - 0.5) * 0.6)
    };
    (0..count).scan(1, |state, _| next(state)).collect()
}

fn course(notes: &[(f64, f64)]) -> Course {
    let list = line(notes);
    Course::new(&Histogram::new(&list, None).notes).expect("the line has notes")
}

fn tune(root: f64, steps: &[f64]) -> Vec<(f64, f64)> {
    let keys = ladder(root, steps);
    let mut notes = up_and_down(&keys, &keys);
    notes[2].1 *= 2.5;
    notes
}

#[test]
fn a_transposed_line_has_transposed_scores() {
    for standpoint in [Standpoint::Steps, Standpoint::Semitones] {
        let weights = weights(standpoint);
        let reader = Reader::new(standpoint, &weights);
        let as_written = reader.scores(&course(&tune(D4, &DORIAN)));
        for up in 1..12 {
            let moved = reader.scores(&course(&tune(D4 + up as f64, &DORIAN)));
            for c in PitchClass::all() {
                let (a, b) = (as_written[c.index()], moved[c.up(up).index()]);
                assert_abs_diff_eq!(a, b, epsilon = 1e-4);
            }
        }
    }
}

/// The place of a note in the compass is told in semitones, and so are the fifth and the fourth; the test leaves them out.
#[test]
fn steps_know_no_scale() {
    let height = TOPICS
        .iter()
        .position(|t| t.0.starts_with("height"))
        .unwrap();
    let height: usize = TOPICS[..height].iter().map(|t| t.1).sum();
    let scores = |standpoint: Standpoint, steps: &[f64]| -> Vec<f32> {
        let mut weights = weights(standpoint);
        for row in FIFTH_AND_FOURTH.map(|flag| OWN + flag).chain([height]) {
            weights[row * CHANNELS..][..CHANNELS].fill(0.0);
        }
        let scores = Reader::new(standpoint, &weights).scores(&course(&tune(D4, steps)));
        let degrees = &ladder(D4, steps)[..steps.len()];
        let score = |key: &f64| scores[PitchClass::nearest(*key).index()];
        degrees.iter().map(score).collect()
    };
    let differ = |standpoint| {
        let others = scores(standpoint, &DOUBLE_HARMONIC);
        let pairs = scores(standpoint, &DORIAN).into_iter().zip(others);
        pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f32::max)
    };
    assert!(differ(Standpoint::Steps) < 1e-4);
    assert!(differ(Standpoint::Semitones) > 0.1);
}

/// Candidates that do not sound get no score, and several readers the mean of theirs.
#[test]
fn only_what_sounds_is_scored() {
    let course = course(&tune(D4, &DORIAN));
    let weights = weights(Standpoint::Steps);
    let one = Reader::new(Standpoint::Steps, &weights).scores(&course);
    for c in PitchClass::all() {
        assert_eq!(course.sounding.contains(&c), one[c.index()] != 0.0, "{c:?}");
    }
    let two = mean_scores(Standpoint::Steps, &[&weights, &weights], &course);
    for (a, b) in one.iter().zip(two) {
        assert_abs_diff_eq!(f64::from(*a), b, epsilon = 1e-6);
    }
}

/// A long line is read from its last notes; what is hidden is level, the rest as it was.
#[test]
fn a_course_is_bounded_and_hides_one_topic_at_a_time() {
    let long = course(&tune(D4, &DORIAN).repeat(40));
    assert_eq!(long.notes(), MOST_NOTES);
    assert_eq!(long.own.dim(), (MOST_NOTES, OWN));
    for topic in 0..TOPICS.len() {
        let hidden = long.without(topic);
        let from: usize = TOPICS[..topic].iter().map(|t| t.1).sum();
        for (k, (a, b)) in long
            .own
            .columns()
            .into_iter()
            .zip(hidden.own.columns())
            .enumerate()
        {
            if (from..from + TOPICS[topic].1).contains(&k) {
                assert!(b.iter().all(|x| *x == b[0]), "column {k}");
            } else {
                assert_eq!(a, b, "column {k}");
            }
        }
    }
}

#[test]
fn no_notes_are_no_course() {
    assert!(Course::new(&[]).is_none());
}
