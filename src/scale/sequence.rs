//! A line note by note, as the convolution over it takes it: how long each note is, what follows it, where it lies in the
//! compass and how the line moves there in scale steps; and, as seen from a candidate, which degree it is.

use crate::histogram::PlacedNote;
use crate::network::{Rows, features};
use crate::scale::line::Line;
use crate::scale::steps::ScaleSteps;
use crate::units::PitchClass;

/// Of a longer line so many notes are read, the last ones: what lies before says no more, and the work stays bounded.
pub const MOST_NOTES: usize = 192;
/// Ways in which a line moves: down or up by two steps or one, not at all, by more up or down, not known.
const MOVES: usize = 8;
/// Notes after which what is counted from the end or from the beginning has fallen to 1/e. Engineering judgement.
const FROM_END: [f64; 3] = [2.0, 6.0, 20.0];
const FROM_START: [f64; 2] = [3.0, 12.0];
/// Lengths are told in median notes up to this, and rests up to half of it.
const LONGEST: f64 = 4.0;

features! {
    /// What is told of a note by itself.
    pub enum NoteFeature {
        LogLength = "length (log)",
        Length = "length",
        Rest = "rest after it",
        PhraseEnd = "closes a phrase",
        Last = "last note",
        Within2OfEnd = "within 2 notes of the end",
        Within6OfEnd = "within 6 notes of the end",
        Within20OfEnd = "within 20 notes of the end",
        First = "first note",
        Within3OfStart = "within 3 notes of the start",
        Within12OfStart = "within 12 notes of the start",
        Height = "height",
        Lowest = "lowest note",
        Highest = "highest note",
        ReachedDownTwo = "reached by two steps down",
        ReachedDownOne = "reached by a step down",
        ReachedSame = "reached by repetition",
        ReachedUpOne = "reached by a step up",
        ReachedUpTwo = "reached by two steps up",
        ReachedUpMore = "reached by more steps up",
        ReachedDownMore = "reached by more steps down",
        ReachedUnknown = "reached from nothing known",
        LeftDownTwo = "left by two steps down",
        LeftDownOne = "left by a step down",
        LeftSame = "left by repetition",
        LeftUpOne = "left by a step up",
        LeftUpTwo = "left by two steps up",
        LeftUpMore = "left by more steps up",
        LeftDownMore = "left by more steps down",
        LeftUnknown = "left for nothing known",
    }
}

features! {
    /// What the features of a note are about.
    pub enum Topic {
        Lengths = "lengths, as read",
        PhraseEnds = "phrase ends, as read",
        End = "end, as read",
        Beginning = "beginning, as read",
        Height = "height, as read",
        Motion = "motion, as read",
    }
}

impl NoteFeature {
    /// What it is about.
    pub fn topic(self) -> Topic {
        use NoteFeature::*;
        match self {
            LogLength | Length => Topic::Lengths,
            Rest | PhraseEnd => Topic::PhraseEnds,
            Last | Within2OfEnd | Within6OfEnd | Within20OfEnd => Topic::End,
            First | Within3OfStart | Within12OfStart => Topic::Beginning,
            Height | Lowest | Highest => Topic::Height,
            _ => Topic::Motion,
        }
    }
}

/// In what the interval from a candidate to a note is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Intervals {
    /// In scale steps up and down; and whether the note is the candidate, its fifth or its fourth.
    Steps,
    /// In semitones up, which ties the network to the scales that it was fitted on.
    Semitones,
}

/// Steps above and below a candidate that are told apart.
const STEPS_UP: usize = 5;
const STEPS_DOWN: usize = 3;

impl Intervals {
    /// What tells the interval from a candidate to a note, one flag each, in their order.
    pub fn flags(self) -> &'static [&'static str] {
        match self {
            Intervals::Steps => &[
                "0 steps up",
                "1 step up",
                "2 steps up",
                "3 steps up",
                "4 steps up",
                "1 step down",
                "2 steps down",
                "3 steps down",
                "fifth",
                "fourth",
                "unison",
            ],
            Intervals::Semitones => &["0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11"],
        }
    }
}

/// A line, ready to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct NoteSequence {
    /// One row of [`NoteFeature`]s a note.
    pub features: Rows,
    /// The part of the sounding time of each note.
    pub share: Vec<f32>,
    /// The classes that sound.
    pub sounding: Vec<PitchClass>,
    /// The class of each note.
    pub classes: Vec<PitchClass>,
    scale: ScaleSteps,
}

impl NoteSequence {
    /// The notes of a line; `None` if it has none.
    pub fn new(notes: &[PlacedNote]) -> Option<Self> {
        if notes.is_empty() {
            return None;
        }
        let line = Line::new(notes);
        let scale = ScaleSteps::new(&line.share);
        let read = line.len().saturating_sub(MOST_NOTES)..line.len();
        let mut features = Rows::zeros(read.len(), NoteFeature::COUNT);
        for (row, i) in read.clone().enumerate() {
            let numbers = note_features(&line, &scale, i).map(|x| x as f32);
            features.row_mut(row).copy_from_slice(&numbers);
        }
        let total: f64 = line.length.iter().sum();
        let share = |i: usize| (line.length[i] / total) as f32;
        let sounds = |c: &PitchClass| line.count[c.index()] > 0.0;
        Some(Self {
            features,
            share: read.clone().map(share).collect(),
            sounding: PitchClass::all().filter(sounds).collect(),
            classes: read.map(|i| line.class(i)).collect(),
            scale,
        })
    }

    /// The features where those on a topic are the ones of the mean note.
    pub fn without(&self, topic: Topic) -> Rows {
        let mut features = self.features.clone();
        for feature in NoteFeature::ALL.iter().filter(|f| f.topic() == topic) {
            let column = *feature as usize;
            let rows = 0..self.notes();
            let sum: f32 = rows.clone().map(|i| self.features.row(i)[column]).sum();
            let mean = sum / self.notes() as f32;
            rows.for_each(|i| features.row_mut(i)[column] = mean);
        }
        features
    }

    /// How many notes are read.
    pub fn notes(&self) -> usize {
        self.classes.len()
    }

    /// Calls `set` with the place of each of [`Intervals::flags`] that holds from a candidate to a class.
    pub fn each_flag(
        &self,
        intervals: Intervals,
        class: PitchClass,
        candidate: PitchClass,
        mut set: impl FnMut(usize),
    ) {
        let semitones = (class.index() + 12 - candidate.index()) % 12;
        if intervals == Intervals::Semitones {
            return set(semitones);
        }
        if let Some(up) = self.scale.between(candidate, class) {
            let down = (self.scale.size() - up) % self.scale.size();
            if up < STEPS_UP {
                set(up);
            }
            if (1..=STEPS_DOWN).contains(&down) {
                set(STEPS_UP + down - 1);
            }
        }
        for (k, interval) in [7, 5, 0].into_iter().enumerate() {
            if semitones == interval {
                set(STEPS_UP + STEPS_DOWN + k);
            }
        }
    }
}

/// The features of note `i`.
fn note_features(line: &Line, scale: &ScaleSteps, i: usize) -> [f64; NoteFeature::COUNT] {
    use NoteFeature::*;
    let flag = |b: bool| f64::from(u8::from(b));
    let key = line.notes[i].key;
    let median = line.median.max(f64::MIN_POSITIVE);
    let length = line.length[i] / median;
    let range = (line.highest - line.lowest).max(1) as f64;
    let last = line.len() - 1;
    let from_end = FROM_END.map(|far| (-((last - i) as f64) / far).exp());
    let from_start = FROM_START.map(|far| (-(i as f64) / far).exp());
    let height = |k: usize| scale.height(line.notes[k].key);
    let moved = |to: usize| Some(height(to)? - height(to - 1)?);
    let reached = move_flags((i > 0).then(|| moved(i)).flatten());
    let left = move_flags((i < last).then(|| moved(i + 1)).flatten());
    NoteFeature::placed([
        (LogLength, length.clamp(1.0 / LONGEST, 2.0 * LONGEST).log2()),
        (Length, length.min(LONGEST) / 2.0),
        (Rest, (line.rest[i] / median).clamp(0.0, LONGEST / 2.0)),
        (PhraseEnd, flag(line.end[i])),
        (Last, flag(i == last)),
        (Within2OfEnd, from_end[0]),
        (Within6OfEnd, from_end[1]),
        (Within20OfEnd, from_end[2]),
        (First, flag(i == 0)),
        (Within3OfStart, from_start[0]),
        (Within12OfStart, from_start[1]),
        (Height, (key - line.lowest) as f64 / range - 0.5),
        (Lowest, flag(key == line.lowest)),
        (Highest, flag(key == line.highest)),
        (ReachedDownTwo, reached[0]),
        (ReachedDownOne, reached[1]),
        (ReachedSame, reached[2]),
        (ReachedUpOne, reached[3]),
        (ReachedUpTwo, reached[4]),
        (ReachedUpMore, reached[5]),
        (ReachedDownMore, reached[6]),
        (ReachedUnknown, reached[7]),
        (LeftDownTwo, left[0]),
        (LeftDownOne, left[1]),
        (LeftSame, left[2]),
        (LeftUpOne, left[3]),
        (LeftUpTwo, left[4]),
        (LeftUpMore, left[5]),
        (LeftDownMore, left[6]),
        (LeftUnknown, left[7]),
    ])
}

/// Which of the [`MOVES`] it is.
fn move_flags(steps: Option<i64>) -> [f64; MOVES] {
    let which = match steps {
        Some(s @ -2..=2) => (s + 2) as usize,
        Some(3..) => 5,
        Some(_) => 6,
        None => 7,
    };
    std::array::from_fn(|k| f64::from(u8::from(k == which)))
}
