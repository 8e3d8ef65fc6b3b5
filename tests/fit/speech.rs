//! Fits the weights of `src/notes/speech.rs` and prints them, with how many of each folder would be taken for speech.
//!
//! `cargo run --release --features fitting --example fit_speech -- SPEECH... -- PLAYED... [-- WATCHED...]`
//!
//! Each is a folder of recordings; the last ones are only looked at. Method: logistic regression by Newton's steps (D. Cox, "The
//! regression analysis of binary sequences", 1958) on whole recordings; singing voices (the first folder of what was played) count
//! more than instruments, as they are nearest to speech. Stretches of 5 s are only looked at.

use std::ops::Range;
use std::path::{Path, PathBuf};

use rayon::prelude::*;
use whichmode::decode::SoundReader;
use whichmode::notes::steadiness::Steadiness;
use whichmode::notes::transcribe;
use whichmode::pitch::{PitchTrack, Tracker};

/// Frames of a stretch, and from one to the next.
const WINDOW: usize = 500;
const STEP: usize = 250;
/// What a folder of voices and one of instruments weigh against one of speech.
const VOICES: f64 = 0.7;
const INSTRUMENTS: f64 = 0.1;
/// Deviations from zero that cost, so that a sign which parts everything gets no infinite weight: of standardised signs.
const RIDGE: f64 = 1.0;
const STEPS: usize = 50;
const SIGNS: usize = 5;
/// The odds from which the shares are told, as natural logarithms.
const TOLD_FROM: [f64; 4] = [1.0, 1.25, 1.5, 2.0];

type Row = [f64; SIGNS + 1];

struct Folder {
    name: String,
    whole: Vec<Row>,
    stretches: Vec<Row>,
}

struct Example {
    row: Row,
    is_speech: f64,
    weight: f64,
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let groups: Vec<Vec<Folder>> = args
        .split(|a| a == "--")
        .map(|names| names.iter().map(|n| heard(Path::new(n))).collect())
        .collect();
    let mut examples = Vec::new();
    for folder in &groups[0] {
        add(&mut examples, folder, 1.0, 1.0 / groups[0].len() as f64);
    }
    for (k, folder) in groups[1].iter().enumerate() {
        add(
            &mut examples,
            folder,
            0.0,
            if k == 0 { VOICES } else { INSTRUMENTS },
        );
    }
    let weights = fit(&examples);
    println!(
        "weights {:.2?}, constant {:.2}",
        &weights[..SIGNS],
        weights[SIGNS]
    );
    groups.iter().flatten().for_each(|f| tell(f, &weights));
}

fn heard(folder: &Path) -> Folder {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let mut files: Vec<PathBuf> = entries.filter_map(|e| Some(e.ok()?.path())).collect();
    files.sort();
    let tracks: Vec<PitchTrack> = files.par_iter().filter_map(|f| track(f)).collect();
    let whole = |t: &PitchTrack| rows(t, std::iter::once(0..t.frames.len()));
    let stretches = |t: &PitchTrack| {
        let starts = (0..t.frames.len().saturating_sub(WINDOW)).step_by(STEP);
        rows(t, starts.map(|k| k..k + WINDOW))
    };
    Folder {
        name: folder.display().to_string(),
        whole: tracks.iter().flat_map(whole).collect(),
        stretches: tracks.iter().flat_map(stretches).collect(),
    }
}

fn track(file: &Path) -> Option<PitchTrack> {
    let mut reader = SoundReader::open(file).ok()?;
    let mut tracker = Tracker::new(reader.rate_hz());
    while let Some(block) = reader.next_block().ok()? {
        tracker.push(block);
    }
    Some(tracker.finish())
}

fn rows(track: &PitchTrack, of: impl Iterator<Item = Range<usize>>) -> Vec<Row> {
    let list = transcribe(track);
    let steadiness = Steadiness::new(track, &list.notes);
    let row = |frames: Range<usize>| {
        let mut row = [1.0; SIGNS + 1];
        row[..SIGNS].copy_from_slice(&steadiness.signs(frames)?.numbers());
        Some(row)
    };
    of.filter_map(row).collect()
}

fn add(examples: &mut Vec<Example>, folder: &Folder, is_speech: f64, weight: f64) {
    let weight = 300.0 * weight / folder.whole.len().max(1) as f64;
    examples.extend(folder.whole.iter().map(|&row| Example {
        row,
        is_speech,
        weight,
    }));
}

/// Weights of the signs and the constant, of signs as they are.
fn fit(examples: &[Example]) -> Row {
    let (mean, deviation) = spread(examples);
    let standard = |row: &Row| -> Row {
        std::array::from_fn(|k| {
            if k < SIGNS {
                (row[k] - mean[k]) / deviation[k]
            } else {
                1.0
            }
        })
    };
    let mut weights = [0.0; SIGNS + 1];
    for _ in 0..STEPS {
        let mut slope = [0.0; SIGNS + 1];
        let mut curve = [[0.0; SIGNS + 1]; SIGNS + 1];
        for k in 0..SIGNS {
            slope[k] -= RIDGE * weights[k];
            curve[k][k] += RIDGE;
        }
        for example in examples {
            let row = standard(&example.row);
            let p = 1.0 / (1.0 + (-dot(&row, &weights)).exp());
            for i in 0..=SIGNS {
                slope[i] += example.weight * (example.is_speech - p) * row[i];
                for j in 0..=SIGNS {
                    curve[i][j] += example.weight * p * (1.0 - p) * row[i] * row[j];
                }
            }
        }
        let step = solved(curve, slope);
        (0..=SIGNS).for_each(|k| weights[k] += step[k]);
    }
    let mut raw = weights;
    for k in 0..SIGNS {
        raw[k] = weights[k] / deviation[k];
        raw[SIGNS] -= raw[k] * mean[k];
    }
    raw
}

fn spread(examples: &[Example]) -> (Row, Row) {
    let all = examples.len() as f64;
    let mean: Row = std::array::from_fn(|k| examples.iter().map(|e| e.row[k]).sum::<f64>() / all);
    let about = |k: usize| {
        examples
            .iter()
            .map(|e| (e.row[k] - mean[k]).powi(2))
            .sum::<f64>()
    };
    (mean, std::array::from_fn(|k| (about(k) / all).sqrt()))
}

fn dot(a: &Row, b: &Row) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// The solution of a small system of equations with a positive definite matrix, by elimination.
fn solved(mut matrix: [Row; SIGNS + 1], mut right: Row) -> Row {
    for k in 0..=SIGNS {
        for i in k + 1..=SIGNS {
            let by = matrix[i][k] / matrix[k][k];
            for j in k..=SIGNS {
                matrix[i][j] -= by * matrix[k][j];
            }
            right[i] -= by * right[k];
        }
    }
    for k in (0..=SIGNS).rev() {
        let known: f64 = (k + 1..=SIGNS).map(|j| matrix[k][j] * right[j]).sum();
        right[k] = (right[k] - known) / matrix[k][k];
    }
    right
}

fn tell(folder: &Folder, weights: &Row) {
    let share = |rows: &[Row], from: f64| {
        let over = rows.iter().filter(|r| dot(r, weights) >= from).count();
        over as f64 / rows.len().max(1) as f64
    };
    let whole = TOLD_FROM.map(|from| share(&folder.whole, from));
    let lowest = folder
        .stretches
        .iter()
        .map(|r| dot(r, weights))
        .fold(f64::INFINITY, f64::min);
    println!(
        "{}: {} recordings, speech from {TOLD_FROM:?}: {whole:.3?}; lowest stretch {lowest:.1}",
        folder.name,
        folder.whole.len()
    );
}
