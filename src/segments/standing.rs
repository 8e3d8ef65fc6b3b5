//! Talk beside notes that stand still, as those of strings, keys and winds do: where they stand, a voice is told from them
//! by how little of its pitch stands, how much of it glides, how its level changes and how short its notes are.
//!
//! The four are joined by a logistic regression (D. Cox, "The regression analysis of binary sequences", 1958), fitted on
//! frames of 280 made lessons of seeds 1, 3, 4 and 21.

use std::ops::Range;

use crate::notes::Note;
use crate::notes::steadiness::Rest;
use crate::pitch::movement::{moved, stands};
use crate::pitch::{FRAME_S, PitchFrame, PitchTrack};

/// Frames to either side over which a voice is judged.
const ABOUT: usize = 25;
/// It glides where it moves by so much from so many frames before to as many after, in semitones.
const GLIDES_BY: Range<f32> = 0.25..2.5;
const GLIDE_REACH: usize = 4;
/// A note as long as this, in seconds, speaks for neither; one shorter than this counts as this.
const EVEN_LENGTH_S: f64 = 0.2;
const SHORTEST_S: f64 = 0.02;
/// Levels below this part of the loudest frame's count as this: what is 40 dB below is silent. Full scale is 1.
const LEAST_PART: f32 = 0.01;
const LEAST_LEVEL: f32 = 1e-7;

/// What the four say for playing: a pitch that glides, one that stands, ten decibels of standard deviation of the level, the
/// natural logarithm of the notes' length. The constant is lower than the fit's by .7, which keeps more borders within .3 s.
const GLIDES: f64 = -6.4;
const STANDS: f64 = 12.5;
const UNEVEN: f64 = -6.2;
const LONG: f64 = 2.6;
const CONSTANT: f64 = 2.14;
/// A frame says no more than this, …
const MOST: f64 = 4.0;
/// … and of that this part: frames lean on their neighbours. Chosen on the same lessons.
const WORTH: f64 = 0.05;

/// A recording's held notes stand from this part of their frames on, and surely from the second. Of 67 recordings of
/// singers all lie below .73, of 280 made lessons three in four above .85.
const STAND_FROM: f64 = 0.75;
const STAND_SURELY: f64 = 0.85;

/// What is known of a frame.
#[derive(Debug, Clone, Copy, Default)]
struct Seen {
    has_pitch: bool,
    stands: Option<bool>,
    glides: Option<bool>,
    level_db: f64,
    length: f64,
}

/// Sums over the frames about one.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    frames: f64,
    voiced: f64,
    stand: [f64; 2],
    glide: [f64; 2],
    level: [f64; 2],
    length: f64,
}

impl Sums {
    fn add(&mut self, seen: Seen, sign: f64) {
        self.frames += sign;
        self.voiced += sign * f64::from(u8::from(seen.has_pitch));
        for (sum, is_so) in [
            (&mut self.stand, seen.stands),
            (&mut self.glide, seen.glides),
        ] {
            sum[0] += sign * f64::from(u8::from(is_so == Some(true)));
            sum[1] += sign * f64::from(u8::from(is_so.is_some()));
        }
        self.level[0] += sign * seen.level_db;
        self.level[1] += sign * seen.level_db.powi(2);
        self.length += sign * seen.length;
    }

    /// What they say for playing against talk; nothing where there is no pitch.
    fn for_playing(&self) -> f64 {
        let part = |of: f64, all: f64| if all > 0.5 { of / all } else { 0.0 };
        let mean = self.level[0] / self.frames;
        let deviation_db = (self.level[1] / self.frames - mean.powi(2)).max(0.0).sqrt();
        let score = CONSTANT
            + GLIDES * part(self.glide[0], self.glide[1])
            + STANDS * part(self.stand[0], self.stand[1])
            + UNEVEN * deviation_db / 10.0
            + LONG * part(self.length, self.voiced);
        let voiced = (2.0 * self.voiced / self.frames).min(1.0);
        WORTH * voiced * score.clamp(-MOST, MOST)
    }
}

/// 0 to 1: whether the notes that are held stand.
pub fn standing(track: &PitchTrack, rests: &[Rest]) -> f64 {
    let held = (0..rests.len()).filter(|&k| rests[k] == Rest::Held);
    let (mut stand, mut all) = (0, 0);
    for stands in held.filter_map(|k| stands(&track.frames, k)) {
        stand += usize::from(stands);
        all += 1;
    }
    let part = f64::from(stand as u32) / f64::from(all.max(1) as u32);
    ((part - STAND_FROM) / (STAND_SURELY - STAND_FROM)).clamp(0.0, 1.0)
}

/// What each frame says for playing against talk, as a natural logarithm.
pub fn for_playing(track: &PitchTrack, notes: &[Note]) -> Vec<f32> {
    let count = track.frames.len();
    let mut lengths = vec![0.0f32; count];
    let place = |s: f64| (((s - track.start_s) / FRAME_S).max(0.0) as usize).min(count);
    for note in notes {
        let length = ((note.end_s - note.start_s).max(SHORTEST_S) / EVEN_LENGTH_S).ln();
        let own = place(note.start_s)..place(note.end_s);
        lengths[own].fill(length as f32);
    }
    let loudest = track.frames.iter().map(|f| f.level).fold(0.0, f32::max);
    let least = (LEAST_PART * loudest).max(LEAST_LEVEL);
    let seen = |k: usize| Seen {
        level_db: 20.0 * f64::from(track.frames[k].level.max(least)).log10(),
        ..see(&track.frames, f64::from(lengths[k]), k)
    };
    let mut sums = Sums::default();
    (0..ABOUT.min(count)).for_each(|k| sums.add(seen(k), 1.0));
    let of = |k: usize| {
        if k + ABOUT < count {
            sums.add(seen(k + ABOUT), 1.0);
        }
        if k > ABOUT {
            sums.add(seen(k - ABOUT - 1), -1.0);
        }
        sums.for_playing() as f32
    };
    (0..count).map(of).collect()
}

fn see(frames: &[PitchFrame], length: f64, k: usize) -> Seen {
    let has_pitch = frames[k].f0_hz > 0.0;
    Seen {
        has_pitch,
        stands: stands(frames, k),
        glides: moved(frames, k, GLIDE_REACH).map(|by| GLIDES_BY.contains(&by)),
        length: if has_pitch { length } else { 0.0 },
        ..Seen::default()
    }
}
