//! Listening material: what `render` makes is heard again as what it was made of, is as loud as EBU R 128 says, and joins
//! its notes without clicks.

use ebur128::{EbuR128, Mode};
use rayon::prelude::*;
use whichmode::histogram::Histogram;
use whichmode::labels::Book;
use whichmode::modes::{Notation, Version};
use whichmode::notes::{NoteList, transcribe};
use whichmode::pitch::Tracker;
use whichmode::render::line::Layout;
use whichmode::render::named::{Arrangement, scales};
use whichmode::render::{Instrument, Line, Scale, sound};
use whichmode::scale::{ScaleOptions, infer};
use whichmode::tuning::Temperament;
use whichmode::units::{STANDARD_A4_HZ, cents_between, hz_from_midi};

const INSTRUMENTS: [Instrument; 4] = [
    Instrument::Plucked,
    Instrument::Bowed,
    Instrument::Blown,
    Instrument::Pure,
];
/// A fixed sample of the label book, one or two of each size and kind, each plucked and on another instrument; the whole book is heard by the program
/// `round_trip`.
const SAMPLE: [&str; 8] = [
    "D Dorian kumoi",
    "F# Phrygian hirajoshi",
    "Bb Lydian dominant",
    "C Locrian",
    "G major pentatonic",
    "E octatonic 1-2",
    "A melodic minor / A Aeolian",
    "D Phrygian kumoi / D Phrygian hirajoshi",
];

fn read(texts: &[&str], arrangement: Arrangement) -> Vec<Scale> {
    let texts: Vec<String> = texts.iter().map(|t| t.to_string()).collect();
    let book = Book::own().expect("the book is read");
    scales(&texts, arrangement, &book, Notation::International).expect("the scales are read")
}

fn rendered(scale: &Scale, instrument: Instrument, layout: &Layout) -> Vec<f32> {
    sound::samples(&Line::of(scale, layout), instrument, STANDARD_A4_HZ).expect("it is rendered")
}

fn heard(samples: &[f32]) -> NoteList {
    let mut tracker = Tracker::new(f64::from(sound::RATE_HZ));
    tracker.push(samples);
    transcribe(&tracker.finish())
}

/// What is wrong with the answer about a sound; `None` if it is the scale.
fn mistake(scale: &Scale, list: &NoteList) -> Option<String> {
    let estimate = infer(list, &Histogram::new(list, None), &ScaleOptions::default());
    let set =
        |tones: &[whichmode::render::Tone]| tones.iter().map(|t| t.name.pitch_class()).collect();
    let right_set = match estimate.two_forms {
        Some(forms) => forms.rising == set(&scale.rising) && forms.falling == set(&scale.falling),
        None => !scale.has_two_forms() && estimate.set == set(&scale.rising),
    };
    let right = right_set && estimate.centre == Some(scale.root.pitch_class());
    (!right).then(|| {
        format!(
            "{}: heard {:?} from {:?}",
            scale.title, estimate.set, estimate.centre
        )
    })
}

#[test]
fn what_is_rendered_is_heard_again() {
    let others = INSTRUMENTS[1..].iter().cycle();
    let trials: Vec<(Scale, Instrument)> = read(&SAMPLE, Arrangement::AsWritten)
        .into_iter()
        .zip(others)
        .flat_map(|(scale, &other)| [(scale.clone(), Instrument::Plucked), (scale, other)])
        .collect();
    let wrong: Vec<String> = trials
        .par_iter()
        .filter_map(|(scale, instrument)| {
            let list = heard(&rendered(scale, *instrument, &Layout::default()));
            mistake(scale, &list).map(|m| format!("{instrument:?} {m}"))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// EBU R 128 (2023): −23 LUFS, here ± 1; the peak stays 6 dB below full scale.
#[test]
fn loudness_and_peak_are_those_of_r_128() {
    for instrument in INSTRUMENTS {
        for (octave, drone) in [(3, true), (5, false)] {
            let layout = Layout {
                octave,
                drone,
                ..Layout::default()
            };
            let samples = rendered(
                &read(&["G Mixolydian"], Arrangement::AsWritten)[0],
                instrument,
                &layout,
            );
            let mut meter =
                EbuR128::new(1, sound::RATE_HZ, Mode::I | Mode::TRUE_PEAK).expect("a meter");
            meter
                .add_frames_f32(&samples)
                .expect("samples are measured");
            let loudness = meter.loudness_global().expect("a loudness");
            let peak_db = 20.0 * meter.true_peak(0).expect("a peak").log10();
            assert!(
                (loudness + 23.0).abs() <= 1.0,
                "{instrument:?} octave {octave}: {loudness} LUFS"
            );
            assert!(
                peak_db <= -6.0,
                "{instrument:?} octave {octave}: {peak_db} dBTP"
            );
        }
    }
}

/// A click is a step from sample to sample that the tone around it does not have.
#[test]
fn notes_join_without_clicks() {
    const NEAR_S: f64 = 0.002;
    const AROUND_S: f64 = 0.1;
    let scale = &read(&["C Lydian"], Arrangement::AsWritten)[0];
    let layout = Layout::default();
    let line = Line::of(scale, &layout);
    for instrument in INSTRUMENTS {
        let samples = rendered(scale, instrument, &layout);
        let begin_s = samples.len() as f64 / f64::from(sound::RATE_HZ) - 1.0 - line.length_s;
        let steepest = |from_s: f64, to_s: f64| {
            let at = |s: f64| (s * f64::from(sound::RATE_HZ)) as usize;
            let part = &samples[at(from_s)..at(to_s)];
            part.windows(2)
                .map(|w| (w[1] - w[0]).abs())
                .fold(0.0f32, f32::max)
        };
        for note in &line.notes[1..] {
            let at = begin_s + note.start_s;
            let join = steepest(at - NEAR_S, at + NEAR_S);
            let tone =
                steepest(at + NEAR_S, at + AROUND_S).max(steepest(at - AROUND_S, at - NEAR_S));
            assert!(
                join <= tone,
                "{instrument:?} at {at:.3} s: a step of {join}, the tone has {tone}"
            );
        }
        assert!(samples[0].abs() < 1e-4 && samples[samples.len() - 1].abs() < 1e-4);
    }
}

/// The frequencies of the just scale on A are 9/8, 5/4, 4/3, 3/2, 5/3 and 15/8 of its root (Ellis in Helmholtz, On the
/// Sensations of Tone, 2nd English edition, 1885).
#[test]
fn a_temperament_moves_the_tones() {
    let just = read(&["A Ionian"], Arrangement::AsWritten)[0]
        .tempered(&Temperament::Just)
        .expect("it is tempered");
    let line = Line::of(
        &just,
        &Layout {
            drone: false,
            ..Layout::default()
        },
    );
    let ratios = [
        1.0,
        9.0 / 8.0,
        5.0 / 4.0,
        4.0 / 3.0,
        3.0 / 2.0,
        5.0 / 3.0,
        15.0 / 8.0,
        2.0,
    ];
    let samples = sound::samples(&line, Instrument::Bowed, 415.0).expect("it is rendered");
    let list = heard(&samples);
    for (k, ratio) in ratios.into_iter().enumerate() {
        let heard_hz = hz_from_midi(list.notes[k].midi, STANDARD_A4_HZ);
        let off = cents_between(415.0 * ratio, heard_hz);
        assert!(
            off.abs() < 2.0,
            "note {k}: {off} cents from {ratio} of A4 = 415 Hz"
        );
    }
}

/// On one root the notes differ, on common notes the centres (what `relate` says of the family; common practice).
#[test]
fn several_scales_lie_to_each_other_as_asked() {
    let texts = ["D Dorian kumoi", "E Phrygian kumoi"];
    let titles = |arrangement| -> Vec<String> {
        read(&texts, arrangement)
            .into_iter()
            .map(|s| s.title)
            .collect()
    };
    assert_eq!(
        titles(Arrangement::SameRoot),
        ["D Dorian kumoi", "D Phrygian kumoi"]
    );
    assert_eq!(titles(Arrangement::AsWritten), texts);
    let moved = read(
        &["D Dorian kumoi", "D Phrygian kumoi"],
        Arrangement::CommonNotes,
    );
    assert_eq!(moved[1].version, Some(version("E F A B D")));
}

fn version(notes: &str) -> Version {
    whichmode::modes::parse(notes, &Default::default()).expect("notes are read")
}
