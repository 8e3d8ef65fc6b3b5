//! How fast the stages are, on one core, in CPU seconds: `cargo bench`.
//!
//! The sound is made here, three minutes of plucked tones at 44.1 kHz, so that every run hears the same; the note lists are
//! random walks over random scales of seven degrees.

use std::hint::black_box;

use whichmode::answer::{Options, identify_notes, identify_samples};
use whichmode::notes::{Note, NoteList, transcribe};
use whichmode::pitch::{PitchTrack, Tracker};
use whichmode_transforms::Planner32;

const RATE_HZ: f64 = 44_100.0;
const LENGTH_S: f64 = 180.0;
/// Seconds from one tone to the next.
const TONE_S: f64 = 0.3;
/// Rounds of which the fastest counts: other work on the machine only slows.
const ROUNDS: usize = 5;
/// Note lists, and notes in each.
const LISTS: usize = 500;
const LIST_NOTES: usize = 36;

/// Numbers in place of chance: a linear congruential generator (D. E. Knuth, "The Art of Computer Programming", vol. 2).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % end
    }
}

/// Keys of a walk over a scale, as MIDI numbers.
fn walk(numbers: &mut Numbers, length: usize) -> Vec<f64> {
    let mut offsets = vec![0];
    while offsets.len() < 7 {
        let offset = 1 + numbers.below(11);
        if !offsets.contains(&offset) {
            offsets.push(offset);
        }
    }
    offsets.sort_unstable();
    let (root, mut at) = (48 + numbers.below(12), 7);
    let key = |at: usize| (root + 12 * (at / 7) + offsets[at % 7]) as f64;
    let step = |_| {
        at = (at + 14 + numbers.below(5) - 2).clamp(14, 28) - 14;
        key(at)
    };
    (0..length).map(step).collect()
}

fn tones() -> Vec<f32> {
    let keys = walk(&mut Numbers(1), (LENGTH_S / TONE_S) as usize);
    let mut samples = Vec::with_capacity((LENGTH_S * RATE_HZ) as usize);
    for key in keys {
        let hz = 440.0 * ((key - 69.0) / 12.0).exp2();
        let tone = |k: usize| {
            let t = k as f64 / RATE_HZ;
            let partial =
                |n: i32| (std::f64::consts::TAU * hz * f64::from(n) * t).sin() / f64::from(n);
            (0.2 * (-3.0 * t).exp() * (1..=8).map(partial).sum::<f64>()) as f32
        };
        samples.extend((0..(TONE_S * RATE_HZ) as usize).map(tone));
    }
    samples
}

fn lists() -> Vec<NoteList> {
    let mut numbers = Numbers(2);
    let list = |_| {
        let keys = walk(&mut numbers, LIST_NOTES);
        let note = |(k, midi): (usize, f64)| Note {
            start_s: 0.4 * k as f64,
            end_s: 0.4 * k as f64 + 0.38,
            midi,
            confidence: 1.0,
            ornament: None,
        };
        NoteList::from_notes(keys.into_iter().enumerate().map(note).collect())
    };
    (0..LISTS).map(list).collect()
}

/// CPU seconds of this process so far, as Linux tells them; elsewhere the time that passed.
fn spent_s() -> f64 {
    let ticks = |stat: String| {
        let after = stat.rsplit(')').next()?.split_whitespace();
        let both = after.skip(11).take(2).map(|n| n.parse::<f64>().ok());
        both.sum::<Option<f64>>()
    };
    let told = std::fs::read_to_string("/proc/self/stat")
        .ok()
        .and_then(ticks);
    told.map_or_else(elapsed_s, |ticks| ticks / 100.0)
}

fn elapsed_s() -> f64 {
    static BEGUN: std::sync::LazyLock<std::time::Instant> =
        std::sync::LazyLock::new(std::time::Instant::now);
    BEGUN.elapsed().as_secs_f64()
}

/// The fewest CPU seconds of some rounds.
fn fastest<T>(mut work: impl FnMut() -> T) -> f64 {
    let round = |_| {
        let begun = spent_s();
        black_box(work());
        spent_s() - begun
    };
    (0..ROUNDS).map(round).fold(f64::MAX, f64::min)
}

/// The transforms that the pitch of so many frames takes at the least: one forward for each of the four windows, one back
/// for each of the three that the correlation uses, all of 1,024 samples.
fn transforms(frames: usize) {
    let mut planner = Planner32::new();
    let (forward, inverse) = (planner.forward(1_024), planner.inverse(1_024));
    let (mut samples, mut bins) = (forward.make_input_vec(), forward.make_output_vec());
    let mut scratch = forward.make_scratch_vec();
    scratch.resize(
        scratch.len().max(inverse.get_scratch_len()),
        Default::default(),
    );
    for _ in 0..frames {
        for window in 0..4 {
            samples.fill(0.5);
            let there = forward.get_scratch_len();
            forward
                .process_with_scratch(&mut samples, &mut bins, &mut scratch[..there])
                .expect("the lengths fit");
            if window < 3 {
                bins[0].im = 0.0;
                bins[512].im = 0.0;
                let back = inverse.get_scratch_len();
                inverse
                    .process_with_scratch(&mut bins, &mut samples, &mut scratch[..back])
                    .expect("the lengths fit");
            }
        }
        black_box(&samples);
    }
}

fn track(samples: &[f32]) -> PitchTrack {
    let mut tracker = Tracker::new(RATE_HZ);
    samples.chunks(2_048).for_each(|block| tracker.push(block));
    tracker.finish()
}

fn main() {
    let samples = tones();
    let options = Options::default();
    let frames = (LENGTH_S * 100.0) as usize;
    let bare_s = fastest(|| transforms(frames));
    let pitch_s = fastest(|| track(&samples));
    let heard = track(&samples);
    let notes_s = fastest(|| transcribe(&heard));
    let whole_s = fastest(|| identify_samples(&samples, RATE_HZ, &options));
    let lists = lists();
    let lists_s = fastest(|| {
        lists
            .iter()
            .map(|list| identify_notes(list, &options).is_ok())
            .all(|ok| ok)
    });
    println!(
        "transforms of the pitch, bare   {:7.0} x real time",
        LENGTH_S / bare_s
    );
    println!(
        "pitch                           {:7.0} x real time, {:.1} x the bare transforms",
        LENGTH_S / pitch_s,
        pitch_s / bare_s
    );
    println!(
        "notes from the pitch            {:7.0} x real time",
        LENGTH_S / notes_s
    );
    println!(
        "samples to answer               {:7.0} x real time",
        LENGTH_S / whole_s
    );
    println!(
        "note lists to answers           {:7.0} a second",
        LISTS as f64 / lists_s
    );
}
