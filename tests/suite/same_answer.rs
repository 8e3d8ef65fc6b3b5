//! The same answer for the same sound: run after run, whatever else the processor does, and at any sampling rate.

use std::process::Command;

use serde_json::Value;
use whichmode::answer::{Options, identify_samples};

use crate::support::phrases::folder;

/// Three usual rates, in hertz.
const RATES_HZ: [f64; 3] = [44_100.0, 48_000.0, 96_000.0];
/// What the pitches at these rates may differ by, in cents; 0.32 was measured, 0.1 is wished for.
const SAME_CENTS: f64 = 0.5;

fn printed(args: &[&str]) -> String {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin("whichmode"));
    let output = command.current_dir(folder()).args(args).output().unwrap();
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn every_run_prints_the_same() {
    for args in [
        &["identify", "--json", "--why", "kumoi-dorian.flac"][..],
        &["trace", "--stage", "pitch", "kumoi-dorian.flac"],
        &["trace", "--stage", "scale", "--json", "kumoi-dorian.flac"],
    ] {
        let first = printed(args);
        assert!(!first.is_empty());
        assert_eq!(printed(args), first, "{args:?}");
    }
}

#[test]
fn any_number_of_workers_prints_the_same() {
    let files = ["kumoi-dorian.flac", "silence.flac", "kumoi-dorian.flac"];
    let review = |jobs: &str| {
        let asked = [
            "review",
            "--assignment",
            "D Dorian kumoi",
            "--json",
            "--jobs",
            jobs,
        ];
        printed(&[&asked[..], &files].concat())
    };
    let alone = review("1");
    assert_eq!(alone.lines().count(), files.len());
    assert_eq!(review("4"), alone);
}

/// Confidences are printed with three places, as more would tell processors apart.
#[test]
fn confidences_have_three_places() {
    let row: Value =
        serde_json::from_str(&printed(&["identify", "--json", "kumoi-dorian.flac"])).unwrap();
    let mut confidences = vec![&row["set_confidence"], &row["centre"]["confidence"]];
    let alternatives = row["alternatives"].as_array().unwrap().iter();
    confidences.extend(alternatives.map(|a| &a["confidence"]));
    for confidence in confidences {
        let x = confidence.as_f64().unwrap();
        assert!((x * 1000.0 - (x * 1000.0).round()).abs() < 1e-9, "{x}");
    }
}

/// A line of plucked tones with six harmonics, each off the grid by another amount, computed at the rate.
fn line(rate_hz: f64) -> (Vec<f64>, Vec<f32>) {
    let keys = [
        62.0, 64.0, 65.0, 69.0, 71.0, 74.0, 71.0, 69.0, 65.0, 64.0, 62.0,
    ];
    let cents = [3.0, -7.0, 12.0, -2.0, 5.0, 0.0, -9.0, 4.0, 8.0, -5.0, 1.0];
    let midi: Vec<f64> = keys.iter().zip(cents).map(|(k, c)| k + c / 100.0).collect();
    let mut samples = vec![0.0; (6.5 * rate_hz) as usize];
    for (k, midi) in midi.iter().enumerate() {
        let hz = 440.0 * ((midi - 69.0) / 12.0).exp2();
        let begin = 0.3 + 0.5 * k as f64;
        for (i, out) in samples.iter_mut().enumerate() {
            let t = i as f64 / rate_hz - begin;
            if (0.0..0.45).contains(&t) {
                let gate = (t / 0.005).min(1.0) * ((0.45 - t) / 0.03).min(1.0);
                let wave = |n: i32| {
                    let n = f64::from(n);
                    (2.0 * std::f64::consts::PI * n * hz * t).sin() / (n * n)
                };
                *out += (0.3 * gate * (-2.0 * t).exp() * (1..=6).map(wave).sum::<f64>()) as f32;
            }
        }
    }
    (midi, samples)
}

#[test]
fn the_sampling_rate_moves_no_pitch() {
    let heard: Vec<Vec<f64>> = RATES_HZ
        .iter()
        .map(|&rate_hz| {
            let (midi, samples) = line(rate_hz);
            let answer = identify_samples(&samples, rate_hz, &Options::default()).unwrap();
            let notes: Vec<f64> = answer.notes.notes.iter().map(|n| n.midi).collect();
            assert_eq!(notes.len(), midi.len(), "{rate_hz} Hz");
            notes
        })
        .collect();
    for other in &heard[1..] {
        for (a, b) in heard[0].iter().zip(other) {
            assert!(100.0 * (a - b).abs() < SAME_CENTS, "{a} against {b}");
        }
    }
}
