//! The networks that read lines, with weights drawn at random: what holds for any weights.
//!
//! What is expected follows from how intervals are counted: a transposed line has its centre transposed, and a network that
//! counts in scale steps can't tell a tune from the same tune on another scale.

use crate::support::lines;

use approx::assert_abs_diff_eq;
use lines::{D4, ladder, line, up_and_down};
use whichmode::histogram::Histogram;
use whichmode::network::Rows;
use whichmode::scale::Topic;
use whichmode::scale::fitting::{
    CHANNELS, Intervals, MOST_NOTES, NoteFeature, NoteSequence, SequenceNet, mean_scores, parts,
};
use whichmode::units::PitchClass;

const DORIAN: [f64; 7] = [2.0, 1.0, 2.0, 2.0, 2.0, 1.0, 2.0];
const DOUBLE_HARMONIC: [f64; 7] = [1.0, 3.0, 1.0, 2.0, 1.0, 3.0, 1.0];
/// The flags of the fifth and the fourth: all that the steps know of semitones, but for the candidate itself.
const FIFTH_AND_FOURTH: std::ops::Range<usize> = 8..10;

/// Numbers between -0.3 and 0.3 (a linear congruential generator; D. E. Knuth, "The art of computer programming", 1997).
fn weights(intervals: Intervals) -> Vec<f32> {
    let count = parts(intervals).iter().map(|(_, r, c)| r * c).sum();
    let next = |state: &mut u64| {
        *state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        Some(((*state >> 40) as f32 / (1 << 24) as f32 - 0.5) * 0.6)
    };
    (0..count).scan(1, |state, _| next(state)).collect()
}

fn sequence(notes: &[(f64, f64)]) -> NoteSequence {
    let list = line(notes);
    NoteSequence::new(&Histogram::new(&list, None).notes).expect("the line has notes")
}

fn tune(root: f64, steps: &[f64]) -> Vec<(f64, f64)> {
    let keys = ladder(root, steps);
    let mut notes = up_and_down(&keys, &keys);
    notes[2].1 *= 2.5;
    notes
}

fn scored(network: &SequenceNet, sequence: &NoteSequence) -> [f32; 12] {
    network.scores(sequence, &sequence.features)
}

#[test]
fn a_transposed_line_has_transposed_scores() {
    for intervals in [Intervals::Steps, Intervals::Semitones] {
        let weights = weights(intervals);
        let network = SequenceNet::new(intervals, &weights);
        let as_written = scored(&network, &sequence(&tune(D4, &DORIAN)));
        for up in 1..12 {
            let moved = scored(&network, &sequence(&tune(D4 + up as f64, &DORIAN)));
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
    let height = NoteFeature::Height as usize;
    let scores = |intervals: Intervals, steps: &[f64]| -> Vec<f32> {
        let mut weights = weights(intervals);
        for row in FIFTH_AND_FOURTH
            .map(|flag| NoteFeature::COUNT + flag)
            .chain([height])
        {
            weights[row * CHANNELS..][..CHANNELS].fill(0.0);
        }
        let scores = scored(
            &SequenceNet::new(intervals, &weights),
            &sequence(&tune(D4, steps)),
        );
        let degrees = &ladder(D4, steps)[..steps.len()];
        let score = |key: &f64| scores[PitchClass::nearest(*key).index()];
        degrees.iter().map(score).collect()
    };
    let differ = |intervals| {
        let others = scores(intervals, &DOUBLE_HARMONIC);
        let pairs = scores(intervals, &DORIAN).into_iter().zip(others);
        pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f32::max)
    };
    assert!(differ(Intervals::Steps) < 1e-4);
    assert!(differ(Intervals::Semitones) > 0.1);
}

/// Candidates that do not sound get no score, and several networks the mean of theirs.
#[test]
fn only_what_sounds_is_scored() {
    let sequence = sequence(&tune(D4, &DORIAN));
    let network = SequenceNet::new(Intervals::Steps, &weights(Intervals::Steps));
    let one = scored(&network, &sequence);
    for c in PitchClass::all() {
        assert_eq!(
            sequence.sounding.contains(&c),
            one[c.index()] != 0.0,
            "{c:?}"
        );
    }
    let two = mean_scores(&[network.clone(), network], &sequence);
    for (a, b) in one.iter().zip(two) {
        assert_abs_diff_eq!(f64::from(*a), b, epsilon = 1e-6);
    }
}

/// A long line is read from its last notes; what is hidden is level, the rest as it was.
#[test]
fn a_sequence_is_bounded_and_hides_one_topic_at_a_time() {
    let long = sequence(&tune(D4, &DORIAN).repeat(40));
    assert_eq!(long.notes(), MOST_NOTES);
    assert_eq!(
        (long.features.len(), long.features.columns()),
        (MOST_NOTES, NoteFeature::COUNT)
    );
    for topic in Topic::ALL {
        let hidden = long.without(*topic);
        for feature in NoteFeature::ALL {
            let column = |features: &Rows| -> Vec<f32> {
                (0..features.len())
                    .map(|i| features.row(i)[*feature as usize])
                    .collect()
            };
            let (before, after) = (column(&long.features), column(&hidden));
            if feature.topic() == *topic {
                assert!(after.iter().all(|x| *x == after[0]), "{feature:?}");
            } else {
                assert_eq!(before, after, "{feature:?}");
            }
        }
    }
}

#[test]
fn no_notes_are_no_sequence() {
    assert!(NoteSequence::new(&[]).is_none());
}
