//! The histogram stage on invented note lists. What is expected follows from definitions: cents are 1200 to the octave
//! (A. J. Ellis in H. Helmholtz, On the Sensations of Tone, 1885), A4 = 440 Hz is MIDI number 69 (ISO 16:1975, MIDI 1.0),
//! so an A4 that lies c cents above it is 440 · 2^(c / 1200) Hz, and shares are sums over the list that was written.

use crate::support::lines;

use approx::assert_abs_diff_eq;
use lines::{BEAT_S, D4, ladder, line, note, raised, up_and_down};
use proptest::prelude::*;
use whichmode::histogram::{BINS, Histogram, intonation};
use whichmode::notes::NoteList;

/// The major scale, and the kumoi scale D E F A B (Persichetti, Twentieth-Century Harmony, 1961).
const MAJOR: [f64; 7] = [2.0, 2.0, 1.0, 2.0, 2.0, 2.0, 1.0];
const KUMOI: [f64; 5] = [2.0, 1.0, 4.0, 2.0, 3.0];

fn measured(notes: &[(f64, f64)]) -> Histogram {
    Histogram::new(&line(notes), None)
}

fn tune(steps: &[f64]) -> Vec<(f64, f64)> {
    let keys = ladder(D4, steps);
    up_and_down(&keys, &keys)
}

fn a4(cents: f64) -> f64 {
    440.0 * (cents / 1200.0).exp2()
}

fn cents(hz: f64) -> f64 {
    1200.0 * (hz / 440.0).log2()
}

/// The same notes, each moved by a function of its middle in seconds, in cents.
fn bent(list: &NoteList, cents_at: impl Fn(f64) -> f64) -> NoteList {
    let mut bent = list.clone();
    for n in &mut bent.notes {
        n.midi += cents_at(0.5 * (n.start_s + n.end_s)) / 100.0;
    }
    bent
}

/// The written tune over and over.
fn repeated(times: usize) -> NoteList {
    line(&tune(&MAJOR).repeat(times))
}

fn keys(histogram: &Histogram) -> Vec<i64> {
    histogram.notes.iter().map(|n| n.key).collect()
}

fn share(histogram: &Histogram, class: usize) -> f64 {
    histogram.classes[class].share
}

#[test]
fn a_line_in_tune_lies_on_the_standard_grid() {
    let histogram = measured(&tune(&KUMOI));
    assert_eq!(histogram.a4_hz(), 440.0);
    assert!(histogram.notes.iter().all(|n| n.cents == 0.0));
    assert_abs_diff_eq!(histogram.agreement(), 1.0, epsilon = 1e-9);
    let heard: Vec<usize> = (0..12).filter(|&k| share(&histogram, k) > 0.0).collect();
    assert_eq!(heard, [2, 4, 5, 9, 11], "D E F A B");
}

#[test]
fn a_line_out_of_tune_tells_its_own_a4() {
    let written = tune(&MAJOR);
    let in_tune = keys(&measured(&written));
    for off in [-45.0, -30.0, -7.5, 3.0, 20.0, 49.0] {
        let histogram = measured(&raised(&written, off / 100.0));
        assert_abs_diff_eq!(histogram.a4_hz(), a4(off), epsilon = 0.01);
        assert_eq!(keys(&histogram), in_tune, "{off} cents");
        assert!(histogram.notes.iter().all(|n| n.cents.abs() < 0.1));
    }
}

/// Deviations that sum to nothing leave the reference where it was, and stay with the notes.
#[test]
fn scatter_about_the_grid_does_not_move_it() {
    let mut notes = tune(&KUMOI);
    notes.iter_mut().for_each(|n| n.1 = BEAT_S);
    notes.truncate(20);
    for (k, n) in notes.iter_mut().enumerate() {
        n.0 += 0.35 + if k % 2 == 0 { 0.12 } else { -0.12 };
    }
    let histogram = measured(&notes);
    assert_abs_diff_eq!(cents(histogram.a4_hz()), 35.0, epsilon = 0.5);
    for (k, n) in histogram.notes.iter().enumerate() {
        let written = if k % 2 == 0 { 12.0 } else { -12.0 };
        assert_abs_diff_eq!(n.cents, written, epsilon = 1.0);
    }
    let (mean, spread) = intonation(&histogram.notes).unwrap();
    assert_abs_diff_eq!(mean, 0.0, epsilon = 1.0);
    assert_abs_diff_eq!(spread, 12.0, epsilon = 0.5);
}

/// A steady rise or fall of pitch, as of a tape or of strings that warm up: every note keeps its class.
#[test]
fn a_steady_drift_is_followed() {
    let written = repeated(2);
    let in_tune = keys(&Histogram::new(&written, None));
    let length_s = written.duration_s;
    for (start, rise) in [(0.0, 40.0), (20.0, -50.0), (-10.0, 60.0)] {
        let list = bent(&written, |t| start + rise * t / length_s);
        let histogram = Histogram::new(&list, None);
        assert_eq!(keys(&histogram), in_tune, "a drift of {rise} cents");
        let drift = histogram.reference.drift_cents(0.0, length_s);
        assert_abs_diff_eq!(drift, rise, epsilon = 5.0);
        let worst = histogram.notes.iter().map(|n| n.cents.abs());
        assert!(worst.fold(0.0, f64::max) < 5.0);
    }
}

/// The pitch wanders by 25 cents to either side, once in two minutes.
#[test]
fn a_slow_wander_is_followed() {
    let written = repeated(8);
    assert!(written.duration_s > 120.0);
    let in_tune = keys(&Histogram::new(&written, None));
    let wander = |t: f64| 25.0 * (std::f64::consts::TAU * t / 120.0).sin();
    let histogram = Histogram::new(&bent(&written, wander), None);
    assert_eq!(keys(&histogram), in_tune);
    let (_, spread) = intonation(&histogram.notes).unwrap();
    assert!(spread < 0.5 * 25.0 / 2f64.sqrt(), "{spread} cents are left");
}

#[test]
fn no_drift_is_seen_where_there_is_none() {
    let jitter = [4.0, -7.0, 2.0, 9.0, -5.0, -3.0, 6.0, -8.0, 1.0, -2.0, 3.0];
    let mut list = repeated(1);
    for (n, cents) in list.notes.iter_mut().zip(jitter.iter().cycle()) {
        n.midi += cents / 100.0;
    }
    let reference = Histogram::new(&list, None).reference;
    let drift = reference.drift_cents(0.0, list.duration_s);
    assert!(drift.abs() < 3.0, "{drift} cents");
}

/// 432 Hz lies 1200 · log2(440 / 432) = 31.77 cents below 440 Hz.
#[test]
fn a_given_a4_is_kept() {
    let histogram = Histogram::new(&line(&tune(&KUMOI)), Some(432.0));
    assert!(histogram.pinned);
    assert_abs_diff_eq!(histogram.a4_hz(), 432.0, epsilon = 1e-9);
    for n in &histogram.notes {
        assert_abs_diff_eq!(n.cents, 31.77, epsilon = 0.01);
    }
}

/// Half the notes of a scale with two neutral degrees lie off the grid: the others keep it in place.
#[test]
fn quarter_tones_do_not_turn_the_grid() {
    let rast = ladder(D4, &[2.0, 1.5, 1.5, 2.0, 2.0, 1.5, 1.5]);
    let histogram = measured(&raised(&up_and_down(&rast, &rast), 0.1));
    assert_abs_diff_eq!(cents(histogram.a4_hz()), 10.0, epsilon = 1.0);
    assert!(
        histogram.agreement() < 0.7,
        "a poor fit is told: {}",
        histogram.agreement()
    );
}

#[test]
fn shares_are_by_sounding_time_not_by_number() {
    let histogram = measured(&[(60.0, 3.0), (64.0, 0.5), (64.0, 0.25), (64.0, 0.25)]);
    assert_abs_diff_eq!(share(&histogram, 0), 0.75);
    assert_abs_diff_eq!(share(&histogram, 4), 0.25);
    assert_eq!(histogram.classes[0].count, 1);
    assert_eq!(histogram.classes[4].count, 3);
    assert_abs_diff_eq!(histogram.bins[0], 0.75);
    assert_abs_diff_eq!(histogram.bins[40], 0.25);
    assert_abs_diff_eq!(histogram.classes[0].longest_s, 3.0);
    assert_abs_diff_eq!(histogram.sounding_s, 4.0);
}

#[test]
fn a_note_counts_with_its_confidence() {
    let mut list = line(&[(60.0, 1.0), (67.0, 1.0)]);
    list.notes[1].confidence = 0.25;
    let histogram = Histogram::new(&list, None);
    assert_abs_diff_eq!(share(&histogram, 0), 0.8);
    assert_abs_diff_eq!(histogram.classes[7].best_confidence, 0.25);
}

#[test]
fn octaves_are_folded_and_counted() {
    let histogram = measured(&[(48.0, 1.0), (60.0, 1.0), (72.0, 1.0), (65.0, 1.0)]);
    assert_abs_diff_eq!(share(&histogram, 0), 0.75);
    assert_eq!(histogram.classes[0].octaves, 3);
    assert_eq!(histogram.classes[5].octaves, 1);
    assert_abs_diff_eq!(histogram.classes[0].octave_neighbour, 1.0);
    assert_eq!(histogram.classes[5].octave_neighbour, 0.0);
}

/// A short note a semitone off its neighbours is what a slip looks like.
#[test]
fn short_semitone_neighbours_are_marked() {
    let histogram = measured(&[
        (60.0, 1.0),
        (61.0, 0.1),
        (60.0, 1.0),
        (67.0, 1.0),
        (65.0, 1.0),
    ]);
    assert_eq!(histogram.classes[1].short_neighbour, 1.0);
    assert_eq!(histogram.classes[0].short_neighbour, 0.0);
}

#[test]
fn time_in_which_two_notes_sound_counts_once() {
    let notes = vec![note(0.0, 2.0, 60.0), note(1.0, 2.0, 67.0)];
    let histogram = Histogram::new(&NoteList::from_notes(notes), None);
    assert_abs_diff_eq!(histogram.sounding_s, 3.0);
}

#[test]
fn an_empty_list_has_no_sounding_time() {
    let histogram = Histogram::new(&NoteList::default(), None);
    assert_eq!(histogram.sounding_s, 0.0);
    assert_eq!(histogram.bins, [0.0; BINS]);
    assert!(histogram.classes.iter().all(|c| c.count == 0));
    assert_eq!(histogram.a4_hz(), 440.0);
    assert_eq!(intonation(&histogram.notes), None);
}

/// One note is its own grid: it can't be out of tune with anything.
#[test]
fn one_note_is_in_tune_with_itself() {
    let histogram = measured(&[(69.3, 1.0)]);
    assert_abs_diff_eq!(cents(histogram.a4_hz()), 30.0, epsilon = 0.01);
    assert_eq!(histogram.notes[0].class.index(), 9);
    assert_abs_diff_eq!(share(&histogram, 9), 1.0);
}

/// Any line: up to 40 notes of the piano's range, each up to 28 cents off, by multiples of 4 so that none lies on the
/// border between two bins of 10 cents.
fn any_line() -> impl Strategy<Value = Vec<(f64, f64)>> {
    let note = (30..90i32, -7..=7i32, 0.05..2.0f64)
        .prop_map(|(key, fours, length_s)| (f64::from(key) + 0.04 * f64::from(fours), length_s));
    prop::collection::vec(note, 1..40)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..Default::default() })]

    #[test]
    fn the_bins_sum_to_one(notes in any_line()) {
        let histogram = measured(&notes);
        prop_assert!((histogram.bins.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        let shares: f64 = histogram.classes.iter().map(|c| c.share).sum();
        prop_assert!((shares - 1.0).abs() < 1e-9);
        prop_assert!(histogram.notes.iter().all(|n| n.cents.abs() <= 50.0 + 1e-9));
    }

    /// Every bin and class moves up with the line.
    #[test]
    fn transposing_rotates(notes in any_line(), k in 1..12usize) {
        let higher = raised(&notes, k as f64);
        let pinned = |notes| Histogram::new(&line(notes), Some(440.0)).bins;
        let (low, high) = (pinned(&notes), pinned(&higher));
        for bin in 0..BINS {
            prop_assert!((low[bin] - high[(bin + 10 * k) % BINS]).abs() < 1e-9);
        }
        let (low, high) = (measured(&notes), measured(&higher));
        for class in 0..12 {
            let (here, there) = (low.classes[class], high.classes[(class + k) % 12]);
            prop_assert!((here.share - there.share).abs() < 1e-9);
            prop_assert_eq!(here.count, there.count);
        }
        prop_assert!((low.a4_hz() - high.a4_hz()).abs() < 1e-6);
    }

    /// A line played slower, or begun later, has the same shares.
    #[test]
    fn tempo_and_start_do_not_matter(notes in any_line(), slower in 1.0..2.0f64, later_s in 0.0..30.0f64) {
        let list = line(&notes);
        let mut moved = list.clone();
        for n in &mut moved.notes {
            n.start_s += later_s;
            n.end_s += later_s;
        }
        let (here, there) = (Histogram::new(&list, Some(440.0)), Histogram::new(&moved, Some(440.0)));
        let slow: Vec<_> = notes.iter().map(|n| (n.0, slower * n.1)).collect();
        let slow = Histogram::new(&line(&slow), Some(440.0));
        for class in 0..12 {
            prop_assert!((share(&here, class) - share(&there, class)).abs() < 1e-9);
            prop_assert!((share(&here, class) - share(&slow, class)).abs() < 1e-9);
        }
    }
}
