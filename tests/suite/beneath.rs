//! What sounds beneath a line (drones, chords of an accompaniment, mains hum) against lines and tones that are made from their
//! formulas. Onsets and pitches may be off as in `pitch`.

use crate::pitch::{RATE_HZ, assert_line, hz, line, notes, track};
use crate::support::synth::Voice;

use whichmode::notes::{Note, transcribe};
use whichmode::pitch::held::HeldTone;

/// Hum 30 dB beneath a line is heard in its pauses alone. Mains power has 50 or 60 Hz (IEC 60038); no note lies there.
#[test]
fn hum_in_the_pauses_is_no_note() {
    for mains_hz in [50.0, 60.0] {
        let mut sound = vec![0.0; (0.4 * RATE_HZ) as usize];
        for midi in [62.0, 64.0, 65.0, 67.0, 69.0, 65.0, 62.0] {
            sound.extend(Voice::harmonic(RATE_HZ).steady(0.4, hz(midi)));
            sound.extend(vec![0.0; (0.3 * RATE_HZ) as usize]);
        }
        let hum = Voice::harmonic(RATE_HZ).steady(sound.len() as f64 / RATE_HZ + 0.1, mains_hz);
        let hummed: Vec<f32> = sound.iter().zip(&hum).map(|(x, h)| x + 0.03 * h).collect();
        let list = notes(RATE_HZ, &hummed);
        let heard: Vec<f64> = list.notes.iter().map(|n| n.midi.round()).collect();
        assert_eq!(
            heard,
            [62.0, 64.0, 65.0, 67.0, 69.0, 65.0, 62.0],
            "{mains_hz} Hz"
        );
    }
}

/// Hum 10 dB beneath a line, with all multiples of mains power (IEC 60038, here .1 % off) up to the 24th as a rectifier's buzz has
/// them, leaves each note where and what it is; a bass's G, 49 Hz, is no hum.
#[test]
fn loud_hum_is_taken_out_of_the_sound() {
    let pitches = [31.0, 55.0, 57.0, 58.0, 60.0, 62.0, 58.0, 55.0].repeat(3);
    let sound = line(&Voice::harmonic(RATE_HZ), &pitches, 0.5, 0.6);
    let buzz = |mains_hz: f64| {
        let at = move |k: usize, n: u32| {
            let turns = f64::from(n) * 1.001 * mains_hz * k as f64 / RATE_HZ;
            (std::f64::consts::TAU * turns + f64::from(n * n)).sin() / f64::from(n).sqrt()
        };
        (0..sound.len()).map(move |k| (1..=24).map(|n| at(k, n)).sum::<f64>() as f32)
    };
    let power = |samples: &[f32]| samples.iter().map(|x| x * x).sum::<f32>();
    for mains_hz in [50.0, 60.0] {
        let hum: Vec<f32> = buzz(mains_hz).collect();
        let gain = (0.1 * power(&sound) / power(&hum)).sqrt();
        let hummed: Vec<f32> = sound.iter().zip(&hum).map(|(x, h)| x + gain * h).collect();
        assert_line(&notes(RATE_HZ, &hummed), &pitches, 0.5);
    }
}

/// Hum that comes back after two minutes of digital silence (a paused recording) is taken out again: mains power keeps its
/// frequency (IEC 60038).
#[test]
fn hum_keeps_its_frequency_through_silence() {
    let pitches = [55.0, 57.0, 58.0, 60.0, 62.0, 58.0, 55.0].repeat(3);
    let sound = line(&Voice::harmonic(RATE_HZ), &pitches, 0.5, 0.6);
    let buzz = |k: usize| {
        let tone = |n: u32| (std::f64::consts::TAU * f64::from(50 * n) * k as f64 / RATE_HZ).sin();
        (1..=8).map(tone).sum::<f64>() as f32
    };
    let hummed: Vec<f32> = (0..sound.len())
        .map(|k| sound[k] + 0.05 * buzz(k))
        .collect();
    let silence = vec![0.0; (120.0 * RATE_HZ) as usize];
    let list = notes(RATE_HZ, &[hummed.as_slice(), &silence, &hummed].concat());
    let heard: Vec<f64> = list.notes.iter().map(|n| n.midi.round()).collect();
    // Where hum sets in some seconds hold both, and less is taken out of them.
    let (before, after) = heard.split_at(pitches.len());
    assert_eq!(before, pitches);
    assert!(after.ends_with(&pitches[7..]), "{after:?}");
}

/// A line 21 cents sharp has its B on 250 Hz, the fifth multiple of mains power (IEC 60038). Hum beneath takes nothing from it.
#[test]
fn a_note_of_the_line_is_no_hum() {
    let pitches = [55.0, 57.0, 59.0, 60.0, 59.0, 62.0, 59.0, 57.0].map(|m| m + 0.21);
    let sound = line(&Voice::harmonic(RATE_HZ), &pitches, 0.4, 0.5);
    let mut track = track(RATE_HZ, &sound);
    track.held = vec![HeldTone {
        hz: 50.0,
        share: 1.0,
    }];
    let heard = transcribe(&track);
    assert_line(&heard, &pitches, 0.4);
    assert!(!heard.warnings.is_empty());
}

/// A note nearly two octaves beneath all others is less surely one of the line.
#[test]
fn a_note_far_beneath_the_line_counts_for_less() {
    let pitches = [69.0, 71.0, 72.0, 48.0, 71.0, 74.0, 72.0, 69.0];
    let heard = notes(
        RATE_HZ,
        &line(&Voice::harmonic(RATE_HZ), &pitches, 0.4, 0.5),
    );
    assert_line(&heard, &pitches, 0.4);
    let (low, line): (Vec<&Note>, Vec<&Note>) = heard.notes.iter().partition(|n| n.midi < 60.0);
    assert!(
        line.iter().all(|n| n.confidence > 2.0 * low[0].confidence),
        "{heard:?}"
    );
}

/// A drone has fifths and octaves. What chords share, thirds and rows of fourths, is none (common practice, no source).
#[test]
fn notes_that_chords_share_are_no_drone() {
    let pitches = [72.0, 74.0, 76.0, 79.0, 77.0, 74.0, 76.0, 72.0];
    let sound = line(&Voice::harmonic(RATE_HZ), &pitches, 0.4, 0.5);
    let mut track = track(RATE_HZ, &sound);
    let drones: [&[f64]; 4] = [&[43.0], &[48.0, 55.0], &[43.0, 48.0], &[36.0, 43.0, 48.0]];
    let chords: [&[f64]; 3] = [&[48.0, 52.0], &[50.0, 53.0, 57.0], &[43.0, 48.0, 53.0]];
    for (held, is_drone) in drones
        .map(|d| (d, true))
        .into_iter()
        .chain(chords.map(|c| (c, false)))
    {
        let tone = |midi: &f64| HeldTone {
            hz: hz(*midi),
            share: 1.0,
        };
        track.held = held.iter().map(tone).collect();
        let heard = transcribe(&track);
        let told = if is_drone { held.len() } else { 0 };
        assert_eq!(heard.drones.len(), told, "{held:?}: {:?}", heard.drones);
        assert_line(&heard, &pitches, 0.4);
    }
}

/// A tone that is there throughout is a drone beneath the line, but a ringing string where a quarter of the line goes lower.
#[test]
fn a_drone_lies_beneath_the_line() {
    let pitches = [60.0, 62.0, 65.0, 72.0, 74.0, 72.0, 76.0, 74.0];
    let sound = line(&Voice::harmonic(RATE_HZ), &pitches, 0.4, 0.5);
    let mut track = track(RATE_HZ, &sound);
    for (held, drones) in [(48.0, 1), (65.0, 0)] {
        track.held = vec![HeldTone {
            hz: hz(held),
            share: 1.0,
        }];
        let heard = transcribe(&track);
        assert_eq!(heard.drones.len(), drones, "{held}: {:?}", heard.drones);
        assert_line(&heard, &pitches, 0.4);
    }
}
