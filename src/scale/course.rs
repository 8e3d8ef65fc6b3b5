//! A line as a reader meets it, note by note: how long each note is, what follows it, where it lies in the compass and how
//! the line moves there in scale steps; and, from the standpoint of a candidate, which degree it is.

use ndarray::{Array2, s};

use crate::histogram::PlacedNote;
use crate::scale::line::Line;
use crate::scale::steps::ScaleSteps;
use crate::units::PitchClass;

/// Of a longer line so many notes are read, the last ones: what lies before says no more, and the work stays bounded.
pub const MOST_NOTES: usize = 192;
/// Numbers that tell of one note by itself.
pub const OWN: usize = numbers_of(&TOPICS);
/// Ways in which a line moves: down or up by two steps or one, not at all, by more up or down, not known.
const MOVES: usize = 8;
/// Notes after which what is counted from the end or from the beginning has fallen to 1/e. Engineering judgement.
const FROM_END: [f64; 3] = [2.0, 6.0, 20.0];
const FROM_START: [f64; 2] = [3.0, 12.0];
/// Lengths are told in median notes up to this, and rests up to half of it.
const LONGEST: f64 = 4.0;

/// What the numbers that tell of a note are about, and how many of them, in their order.
pub const TOPICS: [(&str, usize); 6] = [
    ("lengths, as read", 2),
    ("phrase ends, as read", 2),
    ("end, as read", 1 + FROM_END.len()),
    ("beginning, as read", 1 + FROM_START.len()),
    ("height, as read", 3),
    ("motion, as read", 2 * MOVES),
];

const fn numbers_of(topics: &[(&str, usize)]) -> usize {
    match topics {
        [] => 0,
        [first, rest @ ..] => first.1 + numbers_of(rest),
    }
}

/// How the notes of a line stand to a candidate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standpoint {
    /// In scale steps above and below it, and whether a note is the candidate, its fifth or its fourth.
    Steps,
    /// In semitones above it, which ties the reader to the scales that it was fitted on.
    Semitones,
}

/// Steps above and below a candidate that are told apart.
const STEPS_UP: usize = 5;
const STEPS_DOWN: usize = 3;

impl Standpoint {
    /// How many flags tell how a note stands to a candidate.
    pub fn flags(self) -> usize {
        match self {
            Standpoint::Steps => STEPS_UP + STEPS_DOWN + 3,
            Standpoint::Semitones => 12,
        }
    }
}

/// A line, ready to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// One row of [`OWN`] numbers a note.
    pub own: Array2<f32>,
    /// The part of the sounding time of each note.
    pub share: Vec<f32>,
    /// The classes that sound.
    pub sounding: Vec<PitchClass>,
    classes: Vec<PitchClass>,
    scale: ScaleSteps,
}

impl Course {
    /// The course of a line; `None` if it has no note.
    pub fn new(notes: &[PlacedNote]) -> Option<Self> {
        if notes.is_empty() {
            return None;
        }
        let line = Line::new(notes);
        let scale = ScaleSteps::new(&line.share);
        let read = line.len().saturating_sub(MOST_NOTES)..line.len();
        let mut own = Array2::zeros((read.len(), OWN));
        for (mut row, i) in own.rows_mut().into_iter().zip(read.clone()) {
            let numbers = own_numbers(&line, &scale, i);
            row.iter_mut()
                .zip(numbers)
                .for_each(|(at, x)| *at = x as f32);
        }
        let total: f64 = line.length.iter().sum();
        Some(Self {
            own,
            share: read
                .clone()
                .map(|i| (line.length[i] / total) as f32)
                .collect(),
            sounding: PitchClass::all()
                .filter(|c| line.count[c.index()] > 0.0)
                .collect(),
            classes: read.map(|i| line.class(i)).collect(),
            scale,
        })
    }

    /// The same line where the numbers on one of [`TOPICS`] are those of its mean note.
    pub fn without(&self, topic: usize) -> Self {
        let from: usize = TOPICS[..topic].iter().map(|t| t.1).sum();
        let mut course = self.clone();
        for mut column in course
            .own
            .slice_mut(s![.., from..from + TOPICS[topic].1])
            .columns_mut()
        {
            let mean = column.mean().unwrap_or(0.0);
            column.fill(mean);
        }
        course
    }

    /// How many notes are read.
    pub fn notes(&self) -> usize {
        self.classes.len()
    }

    /// Calls `set` with the number of each flag that note `i` raises from the standpoint of a candidate.
    pub fn each_flag(
        &self,
        standpoint: Standpoint,
        i: usize,
        candidate: PitchClass,
        mut set: impl FnMut(usize),
    ) {
        let class = self.classes[i];
        let semitones = (class.index() + 12 - candidate.index()) % 12;
        if standpoint == Standpoint::Semitones {
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

/// What is known of note `i` by itself.
fn own_numbers(line: &Line, scale: &ScaleSteps, i: usize) -> Vec<f64> {
    let flag = |b: bool| f64::from(u8::from(b));
    let key = line.notes[i].key;
    let median = line.median.max(f64::MIN_POSITIVE);
    let length = line.length[i] / median;
    let range = (line.highest - line.lowest).max(1) as f64;
    let last = line.len() - 1;
    let mut numbers = vec![
        length.clamp(1.0 / LONGEST, 2.0 * LONGEST).log2(),
        length.min(LONGEST) / 2.0,
        (line.rest[i] / median).clamp(0.0, LONGEST / 2.0),
        flag(line.end[i]),
        flag(i == last),
    ];
    numbers.extend(FROM_END.map(|far| (-((last - i) as f64) / far).exp()));
    numbers.push(flag(i == 0));
    numbers.extend(FROM_START.map(|far| (-(i as f64) / far).exp()));
    numbers.push((key - line.lowest) as f64 / range - 0.5);
    numbers.extend([key == line.lowest, key == line.highest].map(flag));
    let height = |k: usize| scale.height(line.notes[k].key);
    let moved = |to: usize| Some(height(to)? - height(to - 1)?);
    numbers.extend(move_flags((i > 0).then(|| moved(i)).flatten()));
    numbers.extend(move_flags((i < last).then(|| moved(i + 1)).flatten()));
    debug_assert_eq!(numbers.len(), OWN);
    numbers
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
