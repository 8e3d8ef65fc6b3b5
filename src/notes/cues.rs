//! What each frame of a pitch track tells about notes: where its pitch lies, how sure and how still it is, and whether
//! the sound rises or dips there.

use std::cell::{OnceCell, RefCell};
use std::cmp::Ordering;
use std::collections::VecDeque;
use std::ops::Range;

use super::frame_midi;
use crate::pitch::{PitchFrame, PitchTrack};

/// Frames to either side over which a swing is averaged: a vibrato of 5 to 6 Hz takes about 18.
const SWING_REACH: usize = 9;
/// Fewer frames to either side than this are no swing.
const LEAST_SWING: usize = 7;
/// A swing moves by less than this from frame to centre, in semitones, …
const SWING_STEP: f64 = 0.5;
/// … and spans less than this in all.
const SWING_SPAN: f64 = 2.2;
/// The pitch stands still where four frames span no more than about this, in semitones.
const STILL_SPAN: f64 = 0.12;
/// Frames before and after between which a dip of the level lies.
const DIP_REACH: usize = 20;
/// Frames after which a dip of confidence must be over.
const DIP_AFTER: usize = 14;
/// Frames before a new note in which its dip lies.
const DIP_BEFORE: usize = 5;
/// Rise of the level at an onset that strikes the same pitch again, in decibels. Set by hand: a tremor of
/// the breath of 3 dB to either side stays below it.
const STRUCK_DB: f64 = 4.0;
/// Onset strength that tells a new stroke without such a rise. Set by hand.
const STRUCK_ONSET: f32 = 6.0;
/// A stroke raises the level at least this much, in decibels: the end of a bend does not.
const LEAST_STRUCK_DB: f64 = 1.0;
/// Semitones within two frames from which a change of pitch begins to be a jump, and by how many more it surely is one.
const JUMP_FROM: f64 = 0.3;
const JUMP_RANGE: f64 = 0.6;
/// Frames on both sides of a step in which the pitch is held, and how far it may spread there, in semitones.
const STEP_FRAMES: usize = 7;
const STEP_SPAN: f64 = 0.3;
/// Semitones from which a change between held pitches begins to be a step, by how many more it surely is one, and the most:
/// what leaps farther needs no such help. Chosen by hand with `LEAP_STEP`.
const STEP_FROM: f64 = 0.4;
const STEP_RANGE: f64 = 0.3;
const MOST_STEP: f64 = 1.6;
/// Median stillness from which a recording begins to be calm, and by how much more it surely is: of 67 recordings of
/// singers 95 % lie below .69, of 240 of sampled instruments three quarters above .8.
const CALM_FROM: f64 = 0.75;
const CALM_RANGE: f64 = 0.1;
/// The same for the stillness of the smoothed pitch: noise shakes single frames of a tone that stands. 95 % of the singers lie
/// below .76, three quarters of the sampled instruments above .87, in noise of 10 dB half of them. Chosen on a pitch corpus
/// (seed 5), where singers stay as they are.
const SMOOTH_CALM_FROM: f64 = 0.8;
const SMOOTH_CALM_RANGE: f64 = 0.05;
/// From so far beneath the loud frames on, in decibels, the quiet ones are those of the playing, and by so much more they
/// surely are the rests and consonants of a voice: in noise they are the noise's own, and what rings or is played over chords
/// is seldom so quiet.
const QUIET_FROM_DB: f64 = 22.0;
const QUIET_RANGE_DB: f64 = 8.0;
/// Levels below this count as this, full scale 1.
const LEAST_LEVEL: f32 = 1e-7;
/// The level and the confidence that the recording's own are compared with, as parts of the voiced frames.
const LOUD_PART: f64 = 0.9;
const SURE_PART: f64 = 0.7;
/// The part of all frames that are quiet.
const QUIET_PART: f64 = 0.05;
/// Recordings in which the tracker is hardly ever sure are not excused further than to this.
const LEAST_SURE: f32 = 0.3;

/// One frame.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Cue {
    /// Fractional MIDI number at A4 = 440 Hz; `None` where no pitch was heard.
    pub midi: Option<f64>,
    /// The middle about which the pitch swings, where it does.
    pub middle: Option<f64>,
    /// Confidence against that of the recording's surer frames, about 0 to 1.
    pub sureness: f64,
    /// 0 to 1: how still the pitch stands.
    pub stillness: f64,
    /// The same of the pitch without single frames that stick out.
    pub smooth_stillness: f64,
    /// Decibels below the recording's loud frames; 0 for louder ones.
    pub below_db: f64,
    /// Depth of a dip of the level between louder frames, in decibels.
    pub dip_db: f64,
    /// The deepest such dip of the last frames.
    pub recent_dip_db: f64,
    /// How far the sureness had dropped in the last frames, 0 to 1.
    pub doubt: f64,
    /// Rise of the level over a tenth of a second, in decibels.
    pub rise_db: f64,
    /// Rise of the level within two frames, in decibels.
    pub sudden_rise_db: f64,
    /// The strongest onset here or in a neighbouring frame.
    pub onset: f64,
    /// Whether an onset here strikes a string or an attack anew.
    pub is_struck: bool,
    /// 0 where the pitch glides or stands, 1 where it jumps.
    pub abruptness: f64,
    /// 0 to 1: whether the pitch is held, steps here by a semitone or so, and is held again, as in a slur.
    pub step: f64,
}

/// Frames to either side that a cue depends on.
const ABOUT: usize = DIP_REACH + DIP_BEFORE;
/// Frames whose cues are found at once, and such blocks that stay at hand: five minutes.
const BLOCK: usize = 2_048;
const BLOCKS_KEPT: usize = 16;
/// Values of which a median is taken at the most; of more every second, fourth, eighth one counts.
const MOST_RANKED: usize = 1 << 20;

/// The cues of a track, found where they are asked for, so that a long track takes no more memory than a short one.
pub struct Cues<'a> {
    frames: &'a [PitchFrame],
    loud_db: f64,
    sure: f64,
    /// The latest blocks, each by its number.
    blocks: RefCell<VecDeque<(usize, Vec<Cue>)>>,
    calm: OnceCell<f64>,
    still: OnceCell<f64>,
    quiet_db: OnceCell<f64>,
}

impl<'a> Cues<'a> {
    /// The cues of a track.
    pub fn new(track: &'a PitchTrack) -> Self {
        let frames = &track.frames;
        let sure = part_of_voiced(frames, SURE_PART, |f| f.confidence);
        Self {
            frames,
            loud_db: part_of_voiced(frames, LOUD_PART, |f| f.level).map_or(0.0, decibels),
            sure: f64::from(sure.unwrap_or(1.0).max(LEAST_SURE)),
            blocks: RefCell::default(),
            calm: OnceCell::new(),
            still: OnceCell::new(),
            quiet_db: OnceCell::new(),
        }
    }

    /// Whether the quiet frames are too loud for the level to tell of notes.
    pub fn is_in_noise(&self) -> bool {
        self.quiet_db() <= QUIET_FROM_DB
    }

    /// How far the quietest twentieth of the frames lies beneath the loud ones, in decibels.
    fn quiet_db(&self) -> f64 {
        *self.quiet_db.get_or_init(|| {
            let levels = self.frames.iter().map(|f| f.level);
            let quiet = ranked(levels, f32::total_cmp, QUIET_PART);
            self.loud_db - quiet.map_or(0.0, decibels)
        })
    }

    /// How many frames there are.
    pub fn count(&self) -> usize {
        self.frames.len()
    }

    /// What frame `k` tells.
    pub fn get(&self, k: usize) -> Cue {
        let number = k / BLOCK;
        let mut blocks = self.blocks.borrow_mut();
        if let Some((_, block)) = blocks.iter().rev().find(|b| b.0 == number) {
            return block[k % BLOCK];
        }
        if blocks.len() == BLOCKS_KEPT {
            blocks.pop_front();
        }
        let block = self.block(number);
        let cue = block[k % BLOCK];
        blocks.push_back((number, block));
        cue
    }

    /// All of them in order.
    pub fn iter(&self) -> impl Iterator<Item = Cue> + '_ {
        (0..self.count()).map(|k| self.get(k))
    }

    fn block(&self, number: usize) -> Vec<Cue> {
        let first = number * BLOCK;
        let end = (first + BLOCK).min(self.count());
        let from = first.saturating_sub(ABOUT);
        let about = &self.frames[from..(end + ABOUT).min(self.count())];
        cues(about, self.loud_db, self.sure, first - from..end - from)
    }

    /// 0 to 1: whether the pitch mostly stands, as that of strings, keys and winds does, or moves as a voice's; also where it
    /// trembles in noise or under the bow.
    pub fn calm(&self) -> f64 {
        *self.calm.get_or_init(|| {
            let smooth = self.median_of_sure(|c| c.smooth_stillness);
            let calm = ((smooth - SMOOTH_CALM_FROM) / SMOOTH_CALM_RANGE).clamp(0.0, 1.0);
            calm.max(self.still())
        })
    }

    /// The same by the pitch as it is, frame by frame: of what trembles it tells less.
    pub fn still(&self) -> f64 {
        *self.still.get_or_init(|| {
            let median = self.median_of_sure(|c| c.stillness);
            ((median - CALM_FROM) / CALM_RANGE).clamp(0.0, 1.0)
        })
    }

    /// 0 to 1: whether the pitch moves as that of a voice which rests between its notes: what is unsure then is rather a consonant
    /// or a breath than a note that another one covers.
    pub fn loose(&self) -> f64 {
        let rests = (self.quiet_db() - QUIET_FROM_DB) / QUIET_RANGE_DB;
        (1.0 - self.calm()) * rests.clamp(0.0, 1.0)
    }

    /// The median of the surer frames, 0 if there are none.
    fn median_of_sure(&self, value: fn(&Cue) -> f64) -> f64 {
        let sure = self.iter().filter(|c| c.midi.is_some() && c.sureness > 0.5);
        median(sure.map(|c| value(&c))).unwrap_or(0.0)
    }
}

/// The pitches that count of some frames: the middle of a swing in place of its turns.
pub fn counted(frames: &[PitchFrame], range: Range<usize>) -> Vec<Option<f64>> {
    let from = range.start.saturating_sub(SWING_REACH);
    let about = &frames[from..(range.end + SWING_REACH).min(frames.len())];
    let midi: Vec<Option<f64>> = about.iter().map(frame_midi).collect();
    (range.start - from..range.end - from)
        .map(|k| swing_middle(&midi, k).or(midi[k]))
        .collect()
}

/// The cues of some of these frames.
fn cues(frames: &[PitchFrame], loud_db: f64, sure: f64, range: Range<usize>) -> Vec<Cue> {
    let midi: Vec<Option<f64>> = frames.iter().map(frame_midi).collect();
    let smooth = smoothed(&midi);
    let db: Vec<f64> = frames.iter().map(|f| decibels(f.level)).collect();
    let sureness: Vec<f64> = frames
        .iter()
        .map(|f| {
            if f.f0_hz > 0.0 {
                f64::from(f.confidence) / sure
            } else {
                0.0
            }
        })
        .collect();
    let dips: Vec<f64> = (0..frames.len()).map(|k| dip(&db, k)).collect();
    range
        .map(|k| Cue {
            midi: midi[k],
            middle: swing_middle(&midi, k),
            sureness: sureness[k],
            stillness: stillness(&midi, k),
            smooth_stillness: stillness(&smooth, k),
            below_db: (loud_db - db[k]).max(0.0),
            dip_db: dips[k],
            recent_dip_db: highest(&dips[k.saturating_sub(DIP_BEFORE)..=k]),
            doubt: doubt(&sureness, k),
            rise_db: rise(&db[k.saturating_sub(6)..=k], &db[k..(k + 4).min(db.len())]),
            sudden_rise_db: sudden_rise(&db, k),
            onset: onset_about(frames, k),
            is_struck: is_struck(frames[k].onset, sudden_rise(&db, k)),
            abruptness: abruptness(&midi, k),
            step: step(&midi, k),
        })
        .collect()
}

/// The middle value; `None` of none.
pub fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    ranked(values, f64::total_cmp, 0.5)
}

/// The value that a part of the values stays below.
fn ranked<T: Copy>(
    values: impl Iterator<Item = T>,
    order: fn(&T, &T) -> Ordering,
    part: f64,
) -> Option<T> {
    let (mut kept, mut every) = (Vec::new(), 1);
    for (k, value) in values.enumerate() {
        if !k.is_multiple_of(every) {
            continue;
        }
        if kept.len() == MOST_RANKED {
            every *= 2;
            kept = kept.into_iter().step_by(2).collect();
        }
        kept.push(value);
    }
    let place = (part * kept.len() as f64) as usize;
    (!kept.is_empty()).then(|| *kept.select_nth_unstable_by(place, order).1)
}

fn decibels(level: f32) -> f64 {
    20.0 * f64::from(level.max(LEAST_LEVEL)).log10()
}

/// The value that a part of the voiced frames stays below.
fn part_of_voiced(
    frames: &[PitchFrame],
    part: f64,
    value: impl Fn(&PitchFrame) -> f32,
) -> Option<f32> {
    let voiced = frames.iter().filter(|f| f.f0_hz > 0.0);
    ranked(voiced.map(value), f32::total_cmp, part)
}

fn highest(values: &[f64]) -> f64 {
    values.iter().copied().fold(0.0, f64::max)
}

/// How far the level lies below the louder frames on both sides.
fn dip(db: &[f64], k: usize) -> f64 {
    let peak = |part: &[f64]| part.iter().copied().fold(f64::MIN, f64::max);
    let before = peak(&db[k.saturating_sub(DIP_REACH)..=k]);
    let after = peak(&db[k..(k + DIP_REACH + 1).min(db.len())]);
    before.min(after) - db[k]
}

/// How far the sureness lay below both sides in the last frames.
fn doubt(sureness: &[f64], k: usize) -> f64 {
    let lowest = sureness[k.saturating_sub(DIP_BEFORE)..=k]
        .iter()
        .copied()
        .fold(f64::MAX, f64::min);
    let before = highest(&sureness[k.saturating_sub(DIP_REACH)..=k]);
    let after = highest(&sureness[k..(k + DIP_AFTER + 1).min(sureness.len())]);
    (before.min(after).min(1.0) - lowest).max(0.0)
}

/// From the lowest level of some frames to the highest of later ones, in decibels; 0 where there are none.
fn rise(earlier: &[f64], later: &[f64]) -> f64 {
    let low = earlier.iter().copied().fold(f64::MAX, f64::min);
    let high = later.iter().copied().fold(f64::MIN, f64::max);
    if earlier.is_empty() { 0.0 } else { high - low }
}

/// Rise of the level within two frames, in decibels.
fn sudden_rise(db: &[f64], k: usize) -> f64 {
    rise(&db[k.saturating_sub(2)..k], &db[k..(k + 2).min(db.len())])
}

fn onset_about(frames: &[PitchFrame], k: usize) -> f64 {
    frames[k.saturating_sub(1)..(k + 2).min(frames.len())]
        .iter()
        .map(|f| f64::from(f.onset))
        .fold(0.0, f64::max)
}

/// Whether an onset with such a rise of the level strikes anew.
fn is_struck(onset: f32, rise_db: f64) -> bool {
    onset > 0.0 && (rise_db > STRUCK_DB || rise_db > LEAST_STRUCK_DB && onset > STRUCK_ONSET)
}

/// How far the pitch jumps from the frame before to this one or the next.
fn abruptness(midi: &[Option<f64>], k: usize) -> f64 {
    let Some(before) = k.checked_sub(1).and_then(|b| midi[b]) else {
        return 0.0;
    };
    let Some(&after) = midi.get(k + 1) else {
        return 0.0;
    };
    let here = midi[k].map_or(1.0, |m| (m - before).abs());
    let next = after.map_or(0.0, |m| (m - before).abs());
    ((here.max(next) - JUMP_FROM) / JUMP_RANGE).clamp(0.0, 1.0)
}

/// How far the pitch steps at this frame from one held pitch to another.
fn step(midi: &[Option<f64>], k: usize) -> f64 {
    let held = |part: Option<&[Option<f64>]>| {
        let part = part?;
        let sum: f64 = part.iter().flatten().sum();
        (span(part)? <= STEP_SPAN).then(|| sum / part.len() as f64)
    };
    let before = k
        .checked_sub(STEP_FRAMES)
        .and_then(|first| midi.get(first..k));
    let after = midi.get(k + 1..k + 1 + STEP_FRAMES);
    let Some((from, to)) = held(before).zip(held(after)) else {
        return 0.0;
    };
    let by = (from - to).abs();
    if by > MOST_STEP {
        return 0.0;
    }
    ((by - STEP_FROM) / STEP_RANGE).clamp(0.0, 1.0)
}

/// 1 where the pitch does not move over four frames about this one, less the more it moves.
fn stillness(midi: &[Option<f64>], k: usize) -> f64 {
    if midi[k].is_none() {
        return 0.0;
    }
    let runs = (k.saturating_sub(3)..=k).filter_map(|first| midi.get(first..first + 4));
    (-runs.filter_map(span).fold(f64::MAX, f64::min) / STILL_SPAN).exp()
}

/// Each pitch as the middle one of itself and its neighbours.
fn smoothed(midi: &[Option<f64>]) -> Vec<Option<f64>> {
    let about = |k: usize| &midi[k.saturating_sub(1)..(k + 2).min(midi.len())];
    (0..midi.len())
        .map(|k| midi[k].and_then(|_| median(about(k).iter().flatten().copied())))
        .collect()
}

/// How far pitches spread, in semitones; `None` where one is missing.
fn span(values: &[Option<f64>]) -> Option<f64> {
    let (low, high) = values.iter().try_fold((f64::MAX, f64::MIN), |(l, h), v| {
        v.map(|v| (l.min(v), h.max(v)))
    })?;
    Some(high - low)
}

/// The mean over one swing about this frame, where the pitch crosses it there and back.
fn swing_middle(midi: &[Option<f64>], k: usize) -> Option<f64> {
    midi[k]?;
    let steps =
        |pair: &[Option<f64>]| matches!(pair, [Some(a), Some(b)] if (a - b).abs() < SWING_STEP);
    let back = midi[k.saturating_sub(SWING_REACH)..=k]
        .windows(2)
        .rev()
        .take_while(|p| steps(p))
        .count();
    let ahead = midi[k..(k + SWING_REACH + 1).min(midi.len())]
        .windows(2)
        .take_while(|p| steps(p))
        .count();
    let reach = back.min(ahead);
    if reach < LEAST_SWING {
        return None;
    }
    let values = &midi[k - reach..=k + reach];
    let mean = values.iter().flatten().sum::<f64>() / values.len() as f64;
    let crosses =
        |pair: &&[Option<f64>]| matches!(pair, [Some(a), Some(b)] if (a - mean) * (b - mean) < 0.0);
    let crossings = values.windows(2).filter(crosses).count();
    (span(values)? < SWING_SPAN && crossings >= 2).then_some(mean)
}
