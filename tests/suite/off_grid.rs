//! Scales that lie between the notes of the 12-tone grid, as note lists and as sound, and scales that only seem to.
//!
//! Rast (0 200 350 500 700 900 1050 cents) and bayati (0 150 300 500 700 800 1000) are steps of the 24-tone scale of the
//! Cairo congress (Recueil des travaux du Congres de Musique Arabe, 1934, for the congress of 1932; from memory). Five
//! equal parts of the octave stand for slendro (J. Kunst, Music in Java, 3rd ed. 1973, near-equal; from memory). The
//! just scale is G. Zarlino's (Le istitutioni harmoniche, 1558): 9/8 5/4 4/3 3/2 5/3 15/8.

use crate::support::lines;
use crate::support::synth;

use std::sync::LazyLock;

use lines::{D4, line, raised, up_and_down};
use synth::Voice;
use whichmode::labels::Book;
use whichmode::notes::{NoteList, transcribe};
use whichmode::pitch::Tracker;
use whichmode::report::identify::{Identify, Origin};
use whichmode::scale::Verdict;
use whichmode::units::hz_from_midi;
use whichmode::{Options, identify_notes};

const RAST: [f64; 8] = [0.0, 200.0, 350.0, 500.0, 700.0, 900.0, 1050.0, 1200.0];
const BAYATI: [f64; 8] = [0.0, 150.0, 300.0, 500.0, 700.0, 800.0, 1000.0, 1200.0];
const FIVE_EQUAL: [f64; 6] = [0.0, 240.0, 480.0, 720.0, 960.0, 1200.0];
const MAJOR: [f64; 8] = [0.0, 200.0, 400.0, 500.0, 700.0, 900.0, 1100.0, 1200.0];
const KUMOI: [f64; 6] = [0.0, 200.0, 300.0, 700.0, 900.0, 1200.0];

/// How far a degree's cents may be from the written ones.
const WITHIN_CENTS: f64 = 3.0;
/// Samples a second of the synthesized sound.
const RATE_HZ: f64 = 22_050.0;

static BOOK: LazyLock<Book> = LazyLock::new(|| Book::own().unwrap());

fn answer(list: &NoteList) -> Identify {
    let answer = identify_notes(list, &Options::default()).unwrap();
    Identify::new(Origin::Id("invented".to_string()), &answer, &BOOK, false)
}

/// A tune over a scale given in cents, each note a MIDI number and a length in seconds.
fn tune(root: f64, cents: &[f64]) -> Vec<(f64, f64)> {
    let keys: Vec<f64> = cents.iter().map(|c| root + c / 100.0).collect();
    up_and_down(&keys, &keys)
}

/// Plucks a line, each note dying away, and hears it.
fn plucked(notes: &[(f64, f64)]) -> NoteList {
    let voice = Voice::harmonic(RATE_HZ);
    let mut tracker = Tracker::new(RATE_HZ);
    for &(midi, length_s) in notes {
        tracker.push(&voice.plucked(length_s, hz_from_midi(midi, 440.0), 0.4));
    }
    transcribe(&tracker.finish())
}

fn assert_off_grid(what: &str, answer: &Identify, root: f64, cents: &[f64]) {
    assert_eq!(answer.verdict, Verdict::OffGrid, "{what}");
    assert_eq!(answer.version, None, "{what}: it has no 12-tone name");
    assert!(answer.alternatives.iter().all(|a| a.version.is_none()));
    let centre = answer.centre.as_ref().map(|c| c.pitch_class);
    assert_eq!(centre, Some(root.round() as usize % 12), "{what}");
    let heard: Vec<f64> = answer
        .degrees
        .iter()
        .filter_map(|d| d.cents_from_centre)
        .collect();
    assert_eq!(heard.len(), cents.len() - 1, "{what}: {heard:?}");
    for (heard, written) in heard.iter().zip(cents) {
        let off = (heard - written).abs();
        assert!(off <= WITHIN_CENTS, "{what}: {heard} for {written} cents");
    }
}

#[test]
fn quarter_tone_scales_are_off_the_grid() {
    for (name, cents) in [("rast", RAST), ("bayati", BAYATI)] {
        for up in 0..12 {
            for off in [0.0, -0.2, 0.4] {
                let root = D4 + f64::from(up);
                let list = line(&raised(&tune(root, &cents), off));
                let what = format!("{name} from {root}, {off} semitones off");
                assert_off_grid(&what, &answer(&list), root, &cents);
            }
        }
    }
}

#[test]
fn quarter_tone_scales_are_heard_off_the_grid() {
    for (name, cents) in [("rast", RAST), ("bayati", BAYATI)] {
        let list = plucked(&raised(&tune(D4, &cents), 0.15));
        assert_off_grid(name, &answer(&list), D4, &cents);
    }
}

#[test]
fn five_equal_steps_are_off_the_grid() {
    let answer = answer(&line(&tune(D4, &FIVE_EQUAL)));
    assert_off_grid("five equal steps", &answer, D4, &FIVE_EQUAL);
}

/// The answer says which 12-tone scale comes nearest, and how far from it the degrees lie: 50 cents at the most in a
/// scale of quarter tones.
#[test]
fn the_nearest_reading_is_told_with_its_distance() {
    let answer = answer(&line(&tune(D4, &BAYATI)));
    let grid = answer.grid.as_ref().expect("a distance");
    assert!((grid.worst_cents - 50.0).abs() <= WITHIN_CENTS, "{grid:?}");
    let nearest = grid.nearest.as_ref().expect("a nearest reading");
    assert_eq!(nearest.steps.iter().map(|&s| u32::from(s)).sum::<u32>(), 12);
    assert_eq!(nearest.note_names.len(), BAYATI.len() - 1);
    assert_eq!(nearest.note_names[0], "D");
}

#[test]
fn a_scale_in_equal_temperament_is_on_the_grid() {
    for cents in [&MAJOR[..], &KUMOI] {
        for off in [0.0, -0.3, 0.3, 0.5] {
            let answer = answer(&line(&raised(&tune(D4, cents), off)));
            assert_ne!(answer.verdict, Verdict::OffGrid, "{off} semitones off");
            let grid = answer.grid.as_ref().expect("a distance");
            assert!(grid.worst_cents < 1.0, "{grid:?}");
            assert!(grid.nearest.is_none(), "the version is the reading");
        }
    }
}

/// Thirty cents flat throughout is a matter of the reference, not of the scale.
#[test]
fn sound_that_is_flat_throughout_is_on_the_grid() {
    for cents in [&MAJOR[..], &KUMOI] {
        let answer = answer(&plucked(&raised(&tune(D4, cents), -0.3)));
        assert_eq!(answer.verdict, Verdict::Clear);
        let flat = 1200.0 * (answer.reference_hz.unwrap() / 440.0).log2();
        assert!((flat + 30.0).abs() <= WITHIN_CENTS, "{flat} cents");
    }
}

/// A just third lies 14 cents below the grid: well within what a 12-tone name stands for.
#[test]
fn just_intonation_is_on_the_grid() {
    let ratios = [
        1.0,
        9.0 / 8.0,
        5.0 / 4.0,
        4.0 / 3.0,
        1.5,
        5.0 / 3.0,
        15.0 / 8.0,
        2.0f64,
    ];
    let cents = ratios.map(|r| 1200.0 * r.log2());
    let answer = answer(&line(&tune(D4, &cents)));
    assert_eq!(answer.verdict, Verdict::Clear);
    assert_eq!(answer.pitch_classes, [1, 2, 4, 6, 7, 9, 11]);
}

/// One note that is far out of tune is a slip, not a scale.
#[test]
fn one_sour_note_is_no_scale() {
    let mut notes = tune(D4, &MAJOR);
    let at = notes.len() / 2;
    notes[at].0 += 0.45;
    assert_ne!(answer(&line(&notes)).verdict, Verdict::OffGrid);
}

/// Rast from C and sikah from the E between E flat and E have the same notes: where both are heard much, the line is at home
/// where it ends, on a held note (the finalis of modal music; common practice, no source).
#[test]
fn a_line_between_the_notes_is_at_home_where_it_ends() {
    let middle = [
        0.0, 200.0, 350.0, 500.0, 700.0, 500.0, 350.0, 500.0, 700.0, 900.0, 1050.0, 900.0, 700.0,
        500.0, 350.0, 500.0, 700.0, 500.0, 350.0, 200.0, 350.0, 500.0,
    ];
    let ends: [(&[f64], [usize; 2]); 2] =
        [(&[200.0, 0.0], [0, 0]), (&[700.0, 500.0, 350.0], [3, 4])];
    for (end, homes) in ends {
        let cents = middle.iter().chain(end);
        let mut notes: Vec<(f64, f64)> = cents.map(|c| (60.0 + c / 100.0, 0.4)).collect();
        notes.last_mut().unwrap().1 = 1.6;
        let answer = answer(&line(&notes));
        assert_eq!(answer.verdict, Verdict::OffGrid);
        let home = answer.centre.unwrap().pitch_class;
        assert!(homes.contains(&home), "{home} for {homes:?}");
    }
}
