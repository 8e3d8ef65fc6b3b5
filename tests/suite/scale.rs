//! The scale stage on invented note lists: the set, the centre, what is not clear, and what is known beforehand.
//!
//! What is expected is what was written: the lines are made from a scale and a centre that is first, last, longest and
//! lowest (common practice, no source). Scales: the kumoi family D E F A B (Persichetti, Twentieth-Century Harmony,
//! 1961) and the diatonic modes.

use crate::support::lines;

use lines::{BEAT_S, D4, ladder, line, raised, up_and_down};
use proptest::prelude::*;
use whichmode::histogram::Histogram;
use whichmode::notes::{Drone, NoteList};
use whichmode::scale::{Clue, Evidence, Prior, ScaleEstimate, ScaleOptions, Verdict, infer};
use whichmode::units::{PitchClass, PitchClassSet};

const MAJOR: [f64; 7] = [2.0, 2.0, 1.0, 2.0, 2.0, 2.0, 1.0];
const DORIAN: [f64; 7] = [2.0, 1.0, 2.0, 2.0, 2.0, 1.0, 2.0];
const KUMOI: [f64; 5] = [2.0, 1.0, 4.0, 2.0, 3.0];
const HIRAJOSHI: [f64; 5] = [2.0, 1.0, 4.0, 1.0, 4.0];
const WHOLE_TONE: [f64; 6] = [2.0; 6];

fn heard_with(list: &NoteList, options: &ScaleOptions) -> ScaleEstimate {
    infer(list, &Histogram::new(list, None), options)
}

fn heard(notes: &[(f64, f64)]) -> ScaleEstimate {
    heard_with(&line(notes), &ScaleOptions::default())
}

fn tune(root: f64, steps: &[f64]) -> Vec<(f64, f64)> {
    let keys = ladder(root, steps);
    up_and_down(&keys, &keys)
}

fn class(midi: f64) -> PitchClass {
    PitchClass::nearest(midi)
}

fn set(root: f64, steps: &[f64]) -> PitchClassSet {
    ladder(root, steps).into_iter().map(class).collect()
}

fn classes(numbers: &[i64]) -> PitchClassSet {
    numbers.iter().map(|&n| PitchClass::new(n)).collect()
}

#[test]
fn a_line_has_the_set_and_the_centre_that_were_written() {
    for steps in [&MAJOR[..], &DORIAN, &KUMOI, &HIRAJOSHI] {
        for root in 0..12 {
            let root = D4 + f64::from(root);
            let estimate = heard(&tune(root, steps));
            assert_eq!(estimate.set, set(root, steps), "{steps:?} from {root}");
            assert_eq!(estimate.centre, Some(class(root)), "{steps:?} from {root}");
            assert!(estimate.outside.is_empty());
        }
    }
}

/// Same notes, another home: each rotation of one family is told by where the line rests.
#[test]
fn rotations_on_the_same_notes_are_told_apart() {
    for start in 0..KUMOI.len() {
        let root = D4 + KUMOI[..start].iter().sum::<f64>();
        let steps: Vec<f64> = (0..5).map(|k| KUMOI[(start + k) % 5]).collect();
        let estimate = heard(&tune(root, &steps));
        assert_eq!(estimate.set, set(D4, &KUMOI));
        assert_eq!(estimate.centre, Some(class(root)), "{steps:?}");
    }
}

/// One short note a semitone beside a degree, in passing, is a slip: told with its place, not made a degree.
#[test]
fn a_slip_is_outside_the_set() {
    let mut notes = tune(D4, &KUMOI);
    let at = 9;
    notes.insert(at, (notes[at - 1].0 + 1.0, 0.25 * BEAT_S));
    let slip = class(notes[at].0);
    let estimate = heard(&notes);
    assert!(!estimate.set.contains(slip));
    assert_eq!(estimate.set, set(D4, &KUMOI));
    assert_eq!(estimate.outside, [at]);
}

/// A note between a slip and a degree makes the notes doubtful, and the verdict says so: clear without it while it is short,
/// clear with it once it is played as much as the others.
#[test]
fn a_doubtful_note_makes_the_answer_ambiguous() {
    let lengths = (1..=30).map(|k| f64::from(k) * 0.1);
    let verdicts: Vec<(Verdict, bool)> = lengths
        .map(|beats| {
            let mut notes = tune(D4, &KUMOI);
            notes.insert(9, (D4 + 4.0, beats * BEAT_S));
            let estimate = heard(&notes);
            let with = estimate.set.contains(class(D4 + 4.0));
            let next = estimate.alternatives.iter().find(|r| r.set != estimate.set);
            let next = next.map_or(0.0, |r| r.confidence / estimate.centre_confidence);
            let close = estimate.set_confidence - next < 0.15;
            assert!(
                !close || estimate.verdict == Verdict::Ambiguous,
                "{beats}: {estimate:?}"
            );
            (estimate.verdict, with)
        })
        .collect();
    assert_eq!(verdicts[0], (Verdict::Clear, false));
    assert_eq!(verdicts[29], (Verdict::Clear, true));
    assert!(
        verdicts.iter().any(|v| v.0 == Verdict::Ambiguous),
        "{verdicts:?}"
    );
}

/// A degree that is played for its full length belongs to the set, rare as it may be: one note of sixty or so here.
#[test]
fn a_rare_degree_is_kept() {
    let keys = ladder(D4, &MAJOR);
    let without_sixth: Vec<f64> = keys.iter().copied().filter(|k| k - D4 != 9.0).collect();
    let mut notes = up_and_down(&without_sixth, &without_sixth).repeat(2);
    let after_fifth = notes.iter().position(|n| n.0 - D4 == 7.0).unwrap() + 1;
    notes.insert(after_fifth, (D4 + 9.0, 2.0 * BEAT_S));
    let estimate = heard(&notes);
    assert_eq!(estimate.set, set(D4, &MAJOR));
}

#[test]
fn too_little_is_said_to_be_too_little() {
    for notes in [
        vec![],
        vec![(62.0, 1.0)],
        vec![(62.0, 1.0), (64.0, 1.0), (65.0, 1.0), (62.0, 1.0)],
        [(62.0, 1.0), (64.0, 1.0)].repeat(6),
    ] {
        let estimate = heard(&notes);
        assert_eq!(estimate.verdict, Verdict::TooLittle, "{notes:?}");
        assert_eq!(estimate.centre, None);
        assert!(estimate.alternatives.is_empty());
    }
}

/// In the whole-tone scale every note is like every other; a line that rests nowhere gives no clear centre.
#[test]
fn a_line_without_a_home_is_ambiguous() {
    let keys = ladder(D4, &WHOLE_TONE);
    let order = [1, 3, 2, 4, 0, 5, 3, 1, 4, 2, 5, 0];
    let notes: Vec<(f64, f64)> = order.iter().map(|&k| (keys[k], BEAT_S)).collect();
    let estimate = heard(&notes);
    assert_eq!(estimate.verdict, Verdict::Ambiguous);
    assert!(!estimate.alternatives.is_empty());
}

/// A verdict is clear only where both readings have one centre; the lines here pull them apart on purpose: each begins
/// as one scale and comes to rest on another of its notes.
#[test]
fn readings_that_disagree_are_never_clear() {
    let best = |p: &[f64; 12]| (0..12).max_by(|&a, &b| p[a].total_cmp(&p[b]));
    let mut disagreed = 0;
    for steps in [&MAJOR[..], &DORIAN, &KUMOI, &HIRAJOSHI] {
        for rest in ladder(D4, steps) {
            let mut notes = tune(D4, steps);
            notes.truncate(notes.len() - 4);
            notes.push((rest, 3.0 * BEAT_S));
            let estimate = heard(&notes);
            if best(&estimate.neutral) != best(&estimate.common_practice) {
                disagreed += 1;
                assert_eq!(estimate.verdict, Verdict::Ambiguous, "rests on {rest}");
            }
        }
    }
    assert!(disagreed > 0, "none of the lines pulls the readings apart");
}

#[test]
fn a_known_centre_is_kept() {
    let notes = line(&tune(D4, &KUMOI));
    for centre in PitchClass::all() {
        let options = ScaleOptions {
            centre: Some(centre),
            ..Default::default()
        };
        let estimate = heard_with(&notes, &options);
        assert_eq!(estimate.centre, Some(centre));
        assert_eq!(estimate.centre_confidence, 1.0);
        assert_eq!(estimate.verdict, Verdict::Clear);
        assert!(estimate.alternatives.iter().all(|a| a.centre == centre));
        assert_eq!(estimate.set, set(D4, &KUMOI).with(centre));
    }
}

/// What lies outside a known set is listed, however often it is played.
#[test]
fn a_known_set_is_kept() {
    let known = set(D4, &KUMOI);
    let options = ScaleOptions {
        set: Some(known),
        ..Default::default()
    };
    let notes = tune(D4, &DORIAN);
    let estimate = heard_with(&line(&notes), &options);
    assert_eq!((estimate.set, estimate.set_confidence), (known, 1.0));
    assert!(known.contains(estimate.centre.unwrap()));
    let foreign: Vec<usize> = (0..notes.len())
        .filter(|&k| !known.contains(class(notes[k].0)))
        .collect();
    assert_eq!(estimate.outside, foreign);
}

/// What is held beneath a line is home in most music that has a drone (common practice, no source): of two readings of
/// one line it moves the weight to its own, and of two drones a fifth apart the root of the fifth.
#[test]
fn a_drone_speaks_for_the_centre() {
    let keys = ladder(D4, &KUMOI);
    let order = [2, 3, 4, 3, 1, 2, 0, 1, 2, 4, 3, 2, 1, 3];
    let mut list = line(&order.map(|k| (keys[k], BEAT_S)));
    let drone = |midi| Drone { midi, share: 0.95 };
    for home in [50.0, 57.0] {
        let silent = heard_with(&list, &ScaleOptions::default());
        list.drones = vec![drone(home)];
        let estimate = heard_with(&list, &ScaleOptions::default());
        list.drones.clear();
        let at = class(home).index();
        assert_eq!(estimate.centre, Some(class(home)));
        assert!(estimate.neutral[at] > silent.neutral[at]);
        let told = |e: &Evidence| e.what == Clue::Drone && e.weight > 0.0;
        assert!(estimate.evidence.iter().any(told));
    }
    list.drones = vec![drone(57.0), drone(50.0)];
    let estimate = heard_with(&list, &ScaleOptions::default());
    assert_eq!(estimate.centre, Some(class(50.0)), "A and D: D is the root");
}

#[test]
fn degrees_are_what_was_played_from_the_centre_upward() {
    let notes = [
        (62.0, 2.0),
        (64.0, 1.0),
        (65.0, 1.0),
        (69.0, 1.0),
        (71.0, 1.0),
        (69.0, 1.0),
        (64.0, 1.0),
        (62.0, 2.0),
    ];
    let options = ScaleOptions {
        centre: Some(PitchClass::new(2)),
        set: Some(classes(&[2, 4, 5, 9, 11])),
        ..Default::default()
    };
    let estimate = heard_with(&line(&notes), &options);
    let told: Vec<_> = estimate
        .degrees
        .iter()
        .map(|d| (d.class.index(), d.count, d.share))
        .collect();
    assert_eq!(
        told,
        [
            (2, 2, 0.4),
            (4, 2, 0.2),
            (5, 1, 0.1),
            (9, 2, 0.2),
            (11, 1, 0.1)
        ]
    );
}

/// Any line of one of the scales: 5 to 30 notes within two octaves.
fn any_line() -> impl Strategy<Value = Vec<(f64, f64)>> {
    let scale = prop::sample::select(vec![
        MAJOR.to_vec(),
        DORIAN.to_vec(),
        KUMOI.to_vec(),
        HIRAJOSHI.to_vec(),
    ]);
    let order = prop::collection::vec((0..12usize, 1..5u32), 5..30);
    (scale, order, 0..12u8).prop_map(|(steps, order, root)| {
        let twice = [steps.as_slice(), steps.as_slice()].concat();
        let keys = ladder(D4 + f64::from(root), &twice);
        order
            .iter()
            .map(|&(k, beats)| (keys[k % keys.len()], BEAT_S * f64::from(beats)))
            .collect()
    })
}

fn is_probability(p: f64) -> bool {
    (0.0..=1.0).contains(&p)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..Default::default() })]

    #[test]
    fn probabilities_are_probabilities(notes in any_line()) {
        let estimate = heard(&notes);
        for centres in [&estimate.neutral, &estimate.common_practice] {
            prop_assert!((centres.iter().sum::<f64>() - 1.0).abs() < 1e-6);
            prop_assert!(centres.iter().all(|&p| is_probability(p)));
        }
        prop_assert!(estimate.class_probabilities.iter().all(|&p| is_probability(p)));
        prop_assert!(is_probability(estimate.set_confidence));
        prop_assert!(is_probability(estimate.centre_confidence));
        let readings: Vec<f64> = estimate.alternatives.iter().map(|a| a.confidence).collect();
        prop_assert!(readings.iter().all(|&p| is_probability(p)));
        prop_assert!(readings.windows(2).all(|w| w[0] >= w[1]), "best first");
        let first = estimate.set_confidence * estimate.centre_confidence;
        prop_assert!(first + readings.iter().sum::<f64>() <= 1.0 + 1e-6);
    }

    /// A line moved up by some semitones has the same answer, moved up.
    #[test]
    fn transposing_moves_the_answer(notes in any_line(), k in 1..12i64) {
        let (low, high) = (heard(&notes), heard(&raised(&notes, k as f64)));
        prop_assert_eq!(low.verdict, high.verdict);
        prop_assert_eq!(low.set.up(k), high.set);
        prop_assert!((low.centre_confidence - high.centre_confidence).abs() < 1e-3);
        for c in 0..12usize {
            let moved = (c + k as usize) % 12;
            prop_assert!((low.neutral[c] - high.neutral[moved]).abs() < 1e-3);
            prop_assert!((low.class_probabilities[c] - high.class_probabilities[moved]).abs() < 1e-3);
        }
    }

    /// A clear centre is the likeliest one under the prior that was asked for.
    #[test]
    fn the_prior_asked_for_decides(notes in any_line()) {
        for prior in [Prior::Neutral, Prior::CommonPractice] {
            let options = ScaleOptions { prior, ..Default::default() };
            let estimate = heard_with(&line(&notes), &options);
            let own = match prior {
                Prior::Neutral => estimate.neutral,
                Prior::CommonPractice => estimate.common_practice,
            };
            prop_assert_eq!(estimate.prior, prior);
            if let (Verdict::Clear, Some(centre)) = (estimate.verdict, estimate.centre) {
                prop_assert!(own.iter().all(|&p| p <= own[centre.index()]));
            }
        }
    }
}
