//! Tones that no knock announces and bodies that are no strings, against exact synthesis: bars and tines after Fletcher
//! and Rossing, The Physics of Musical Instruments, 1998 (1 : 2.756 : 5.404; 1 : 6.267 : 17.55), sustained tones with
//! harmonics, sines.

use approx::assert_abs_diff_eq;
use whichmode::tuning::BellPartial;
use whichmode::units::cents_between;

use crate::support::pluck::{RATE_HZ, Recording, equal, raised};

/// Ratio, amplitude, decay in nepers a second.
type Partials<'a> = &'a [(f64, f64, f64)];

/// A scale of tones, each 1.2 s after the last, ringing on for `ring_s`.
fn assert_heard(midi: &[i32], of: Partials, ring_s: f64) {
    let hz: Vec<f64> = midi.iter().map(|&m| raised(equal(m), 17.0)).collect();
    let mut sound = Recording::silent(2.0 + 1.2 * hz.len() as f64 + ring_s, RATE_HZ);
    for (i, &hz) in hz.iter().enumerate() {
        sound.tone(0.4 + 1.2 * i as f64, hz, 1.1 + ring_s, of);
    }
    let heard = sound.heard(777);
    assert_eq!(heard.len(), hz.len(), "{of:?}: {heard:?}");
    for (pluck, &hz) in heard.iter().zip(&hz) {
        assert_abs_diff_eq!(cents_between(hz, pluck.hz), 0.0, epsilon = 1.0);
    }
}

#[test]
fn sines_are_heard_however_long_they_ring() {
    for decay in [3.0, 0.7, 0.3, 0.17] {
        assert_heard(&[60, 64, 67, 72], &[(1.0, 1.0, decay)], 0.0);
        assert_heard(&[60, 64, 67, 72], &[(1.0, 1.0, decay)], 1.5);
    }
}

#[test]
fn sustained_tones_are_heard() {
    let bowed: Vec<(f64, f64, f64)> = (1..15)
        .map(|n| (f64::from(n), 1.0 / f64::from(n), 0.0))
        .collect();
    assert_heard(&[55, 62, 69, 76], &bowed, 0.0);
    assert_heard(&[67, 69, 72, 74], &[(1.0, 1.0, 0.0), (2.0, 0.3, 0.0)], 0.0);
}

#[test]
fn bars_are_heard_at_their_lowest_partial() {
    let bar = [(1.0, 1.0, 0.5), (2.756, 0.8, 1.5), (5.404, 0.3, 1.0)];
    assert_heard(&[72, 74, 76, 77], &bar, 0.5);
    let mut sound = Recording::silent(2.5, RATE_HZ);
    sound.tone(0.4, 523.0, 2.0, &bar);
    let overtones = &sound.heard(1024)[0].overtones;
    assert_abs_diff_eq!(overtones[0] / 523.0, 2.756, epsilon = 0.01);
    assert_abs_diff_eq!(overtones[1] / 523.0, 5.404, epsilon = 0.01);
}

#[test]
fn strings_have_no_foreign_overtones() {
    let mut sound = Recording::silent(2.0, RATE_HZ);
    sound.pluck(0.4, 110.0, 1.5, crate::support::pluck::Body::String(2e-4));
    assert!(sound.heard(1024)[0].overtones.is_empty());
}

#[test]
fn an_octave_that_hums_along_is_not_the_pitch() {
    // The octave below, 30 dB down, as harps have it.
    assert_heard(
        &[79],
        &[(0.5, 0.03, 2.5), (1.0, 1.0, 2.5), (2.0, 0.4, 4.0)],
        0.0,
    );
}

#[test]
fn a_soundboard_far_below_is_not_the_pitch() {
    // A harp's shortest strings: a mode of the soundboard 23 dB down.
    let sounds = [(0.32, 0.07, 2.5), (1.0, 1.0, 2.5), (2.0, 0.05, 4.0)];
    assert_heard(&[93], &sounds, 0.0);
}

#[test]
fn a_bell_is_heard_at_its_strike_note() {
    // The partials of a tuned bell, hum and prime out of tune as founders leave them; the strike note is an octave below the
    // nominal (Fletcher and Rossing 1998, chapter 21).
    let bell = [
        (0.51, 0.5, 0.2),
        (0.985, 0.7, 0.3),
        (1.2, 0.9, 0.4),
        (1.5, 0.2, 0.6),
        (2.0, 1.0, 0.7),
        (3.0, 0.5, 1.2),
    ];
    assert_heard(&[60, 64, 67], &bell, 0.0);
    let mut sound = Recording::silent(2.5, RATE_HZ);
    sound.tone(0.4, 300.0, 2.0, &bell);
    let told = &sound.heard(1024)[0].bell;
    let near = |name, ratio: f64| {
        let hz = told.iter().find(|p| p.0 == name).expect("the partial").1;
        assert_abs_diff_eq!(hz / 300.0, ratio, epsilon = 0.002);
    };
    near(BellPartial::Hum, 0.51);
    near(BellPartial::Tierce, 1.2);
    near(BellPartial::Nominal, 2.0);
}

#[test]
fn a_tone_with_vibrato_is_read_at_its_middle_and_as_uncertain_as_it_sways() {
    let mut sound = Recording::silent(3.0, RATE_HZ);
    let (middle_hz, depth_cents, turns_per_s) = (880.0, 25.0, 5.5);
    let mut phase = 0.0;
    for (i, out) in sound.samples.iter_mut().enumerate().skip(17_640) {
        let t = i as f64 / RATE_HZ;
        let sway = depth_cents * (2.0 * std::f64::consts::PI * turns_per_s * t).sin();
        phase += 2.0 * std::f64::consts::PI * raised(middle_hz, sway) / RATE_HZ;
        *out += (0.2 * phase.sin() + 0.05 * (2.0 * phase).sin()) as f32;
    }
    let heard = sound.heard(1024);
    assert_eq!(heard.len(), 1, "{heard:?}");
    let off = cents_between(middle_hz, heard[0].hz);
    assert!(off.abs() < 2.0 * heard[0].sigma_cents, "{heard:?}");
    assert!(off.abs() < 15.0 && heard[0].sigma_cents > 5.0, "{heard:?}");
}

#[test]
fn plucks_are_told_early() {
    let mut sound = Recording::silent(5.0, RATE_HZ);
    let starts = [0.5, 1.0, 2.2];
    for (start_s, hz) in starts.into_iter().zip([220.0, 330.0, 440.0]) {
        sound.tone(start_s, hz, 2.0, &[(1.0, 1.0, 1.0), (2.0, 0.5, 2.0)]);
    }
    let mut listener = whichmode::tuning::PluckListener::new(RATE_HZ);
    let mut told = Vec::new();
    for (i, block) in sound.samples.chunks(441).enumerate() {
        listener.push(block);
        let now = (i + 1) as f64 * 0.01;
        told.extend(listener.early().into_iter().map(|p| (now, p)));
    }
    assert_eq!(told.len(), 3, "{told:?}");
    for ((now, pluck), start_s) in told.iter().zip(starts) {
        assert!(now - start_s <= 0.7, "told {:.2} s late", now - start_s);
        let hz = if start_s < 0.8 {
            220.0
        } else if start_s < 2.0 {
            330.0
        } else {
            440.0
        };
        assert_abs_diff_eq!(cents_between(hz, pluck.hz), 0.0, epsilon = 2.0);
    }
}
