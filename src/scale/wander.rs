//! A line under one scale, over a tuning that wanders: how likely it is, which degree each note was meant for, and where
//! the tuning went.
//!
//! Singers have [`habits`](super::habits): a degree that always lies low. So the notes of a degree err together, and its place
//! is estimated with the scale. The tuning is a hidden Markov model (L. Rabiner, "A tutorial on hidden Markov
//! models and selected applications in speech recognition", Proceedings of the IEEE, 1989): the state is the tuning on a
//! coarse grid, which moves a little from note to note and seldom jumps; a note scatters about a degree of the scale or, seldom, lies anywhere in the octave.

use crate::notes::Note;
use crate::scale::densities::{
    Densities, OCTAVE_CENTS, STEP_CENTS, STEPS, States, tuning_of, within_octave,
};
use crate::scale::habits::{Habits, Sums};

/// The tuning begins within so many cents of the recording's own: beyond half a semitone the scale has other names.
const BEGINS_WITHIN_CENTS: f32 = 50.0;
/// How the tuning of people who sing moves. Chosen by a random search on 250 labelled melodies with a singer's mistakes put in
/// (`tests/fit/make_singers.py`, seed 1, split `fit`), among about equals by what does well on singing from scores. The
/// constants below came from an earlier search of the same kind.
pub const SUNG: Walk = Walk {
    cents: 10.0,
    jump: 0.01,
    has_habits: true,
};
/// The same for people who place each note well: they keep their tuning too.
pub const SUNG_WELL: Walk = Walk {
    has_habits: true,
    ..CALM
};
/// A tuning that follows single notes less, so that their own scatter is left to see: half of what fits singers best.
/// Long lines, such as performances, are heard with it.
pub const CALM: Walk = Walk {
    cents: 5.0,
    jump: 0.0,
    has_habits: false,
};
/// A note of this many seconds has one cent of spread more, a shorter one more in proportion.
const UNCERTAIN_CENTS_S: f32 = 0.8;
const SHORTEST_S: f64 = 0.03;
/// How likely a note is to belong to no degree: any note, a very short one, one that was heard badly.
const STRAY: f32 = 0.01;
const STRAY_SHORT: f32 = 0.6;
const STRAY_UNSURE: f32 = 0.03;
const STRAY_MOST: f32 = 0.6;
/// A note is very short below this part of the median note.
const SHORT_PART: f64 = 0.3;
/// A note longer than so many median notes says no more of how often its degree is used.
const LONG_PART: f64 = 2.0;
/// Notes that each degree has been seen with beforehand, so that none counts as never used.
const SEEN_BEFORE: f32 = 8.0;
/// A degree that no note seems meant for was still meant by one with this probability.
const UNPLAYED: f32 = 1e-3;
/// A note that was hardly meant for a class says nothing of where that lies.
const LEAST_PART: f32 = 1e-6;

/// How often a note is meant for each pitch class: 0 outside the scale, all together 1.
pub type Parts = [f32; 12];

/// How a scale is used in a line.
pub struct Use {
    /// How often each class is meant.
    parts: Parts,
    /// Where its degrees lie.
    habits: Habits,
    /// Natural logarithm of how likely each of its degrees was meant by a note at all.
    played: f64,
}

/// A line as the model sees it.
pub struct Line {
    /// Cents above C of the recording's own grid.
    cents: Vec<f32>,
    /// What the spread of each note is wider by than the line's, squared.
    uncertain: Vec<f32>,
    /// How likely each note is to belong to no degree.
    stray: Vec<f32>,
    /// What each note counts for how often its degree is used.
    weight: Vec<f32>,
}

/// How a tuning moves from note to note.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Walk {
    /// Standard deviation of a step in cents.
    cents: f32,
    /// How often it begins anew anywhere instead, as singers do after a breath.
    jump: f32,
    /// Whether degrees have places of their own.
    pub has_habits: bool,
}

/// A line where its notes scatter so many cents about their degrees.
pub struct Spread<'a> {
    line: &'a Line,
    walk: Walk,
    /// The square of the cents by which each note scatters.
    variance: Vec<f32>,
    densities: Densities,
}

/// What became of each note.
pub struct Meant {
    /// Probability of each class to be what was meant; less than 1 in all, for notes that belong to none.
    pub classes: Vec<Parts>,
    /// Cents by which the tuning lay above the recording's own.
    pub tuning: Vec<f64>,
    /// How far the notes of each class lie from it.
    away: [Sums; 12],
}

impl Line {
    /// A line; `offset` is the recording's own tuning in semitones above A4 = 440 Hz.
    pub fn new(notes: &[Note], offset: f64) -> Self {
        let mut lengths: Vec<f64> = notes.iter().map(Note::duration_s).collect();
        let middle = lengths.len() / 2;
        let median = lengths
            .select_nth_unstable_by(middle, f64::total_cmp)
            .1
            .max(SHORTEST_S);
        let of = |f: &dyn Fn(&Note) -> f64| notes.iter().map(|n| f(n) as f32).collect::<Vec<f32>>();
        let stray = |n: &Note| {
            let short = (-n.duration_s() / (SHORT_PART * median)).exp() as f32;
            let unsure = 1.0 - n.confidence as f32;
            f64::from((STRAY + STRAY_SHORT * short + STRAY_UNSURE * unsure).min(STRAY_MOST))
        };
        Self {
            cents: of(&|n| (100.0 * (n.midi - offset)).rem_euclid(f64::from(OCTAVE_CENTS))),
            uncertain: of(&|n| {
                (f64::from(UNCERTAIN_CENTS_S) / n.duration_s().max(SHORTEST_S)).powi(2)
            }),
            stray: of(&stray),
            weight: of(&|n| (n.duration_s() / median).min(LONG_PART)),
        }
    }

    /// The line where its notes scatter by `spread_cents` about their degrees and its tuning moves as `walk` says.
    pub fn spread(&self, spread_cents: f32, walk: Walk) -> Spread<'_> {
        let wider = self.uncertain.iter();
        let variance: Vec<f32> = wider.map(|u| spread_cents * spread_cents + u).collect();
        Spread {
            densities: Densities::new(&self.cents, &variance, walk.has_habits),
            variance,
            walk,
            line: self,
        }
    }
}

impl Meant {
    /// Natural logarithm of how likely at least one note was meant for a class.
    fn played(&self, class: usize) -> f64 {
        let none: f32 = self.classes.iter().map(|p| 1.0 - p[class]).product();
        f64::from((1.0 - none).max(UNPLAYED)).ln()
    }
}

impl Spread<'_> {
    /// Natural logarithm of how likely the line is, with its habits, and that it has every degree.
    pub fn likelihood(&self, used: &Use) -> f64 {
        let emitted = self.emitted(used);
        self.forward(&emitted).1 + used.habits.log_evidence() + used.played
    }

    /// A scale all of whose degrees are used alike, each at its place.
    pub fn evenly(&self, scale: u16) -> Use {
        let inside = |k: usize| f32::from(scale >> k & 1);
        Use {
            parts: std::array::from_fn(|k| inside(k) / scale.count_ones() as f32),
            habits: Habits::default(),
            played: 0.0,
        }
    }

    /// How a scale is used: what an even use of all its degrees makes of the notes, and what was seen
    /// beforehand.
    pub fn used(&self, scale: u16) -> Use {
        let inside = |k: usize| scale >> k & 1 == 1;
        let even = self.evenly(scale);
        let meant = self.meant(&even);
        let mut parts = [0f32; 12];
        for k in (0..12).filter(|&k| inside(k)) {
            let notes = meant.classes.iter().zip(&self.line.weight);
            parts[k] = SEEN_BEFORE + notes.map(|(p, w)| w * p[k]).sum::<f32>();
        }
        let total: f32 = parts.iter().sum();
        let parts = parts.map(|p| p / total);
        if !self.walk.has_habits {
            return Use { parts, ..even };
        }
        Use {
            parts,
            habits: Habits::of(&meant.away),
            played: (0..12)
                .filter(|&k| inside(k))
                .map(|k| meant.played(k))
                .sum(),
        }
    }

    /// What each note was meant for, and where the tuning went.
    pub fn meant(&self, used: &Use) -> Meant {
        let emitted = self.emitted(used);
        let (before, _) = self.forward(&emitted);
        let mut after = [1f32; STEPS];
        let mut meant = Meant {
            classes: vec![[0f32; 12]; before.len()],
            tuning: vec![0f64; before.len()],
            away: Default::default(),
        };
        for i in (0..before.len()).rev() {
            let here: States = std::array::from_fn(|s| before[i][s] * after[s]);
            let total: f32 = here.iter().sum();
            let certain = 1.0 - self.line.stray[i];
            // Every state of the note in proportion to what it emits there.
            let ratio: States = std::array::from_fn(|s| here[s] / total * certain / emitted[i][s]);
            self.share_out(i, &ratio, used, &mut meant);
            meant.tuning[i] = (0..STEPS)
                .map(|s| f64::from(here[s] / total * tuning_of(s)))
                .sum();
            let passed: States = std::array::from_fn(|s| emitted[i][s] * after[s]);
            after = normalised(self.walk.moved(&passed)).0;
        }
        meant
    }

    /// Shares a note out among the classes that it may have been meant for.
    fn share_out(&self, note: usize, ratio: &States, used: &Use, meant: &mut Meant) {
        for k in (0..12).filter(|&k| used.parts[k] > 0.0) {
            let density = self.densities.of(note, k, used.habits.steps[k]);
            let (mut sum, mut tuning) = (0.0, 0.0);
            for (s, (r, d)) in ratio.iter().zip(density).enumerate() {
                sum += r * d;
                tuning += r * d * tuning_of(s);
            }
            let part = used.parts[k] * sum;
            meant.classes[note][k] = part;
            if part > LEAST_PART {
                let away = self.line.cents[note] - tuning / sum - 100.0 * k as f32;
                meant.away[k].add(within_octave(away), part / self.variance[note]);
            }
        }
    }

    /// How likely each note is under each tuning.
    fn emitted(&self, used: &Use) -> Vec<States> {
        let inside: Vec<usize> = (0..12).filter(|&k| used.parts[k] > 0.0).collect();
        let note = |(i, &stray): (usize, &f32)| {
            let mut sum = [0f32; STEPS];
            for &k in &inside {
                let density = self.densities.of(i, k, used.habits.steps[k]);
                for (s, d) in sum.iter_mut().zip(density) {
                    *s += used.parts[k] * d;
                }
            }
            sum.map(|s| (1.0 - stray) * s + stray / OCTAVE_CENTS)
        };
        self.line.stray.iter().enumerate().map(note).collect()
    }

    /// Probability of each tuning at each note from the notes so far, and the logarithm of all of them.
    fn forward(&self, emitted: &[States]) -> (Vec<States>, f64) {
        let begin: States =
            std::array::from_fn(|s| f32::from(u8::from(tuning_of(s).abs() <= BEGINS_WITHIN_CENTS)));
        let mut at = normalised(begin).0;
        let mut log = 0.0;
        let mut all = Vec::with_capacity(emitted.len());
        for (i, e) in emitted.iter().enumerate() {
            let from = if i == 0 { at } else { self.walk.moved(&at) };
            let (now, total) = normalised(std::array::from_fn(|s| from[s] * e[s]));
            log += f64::from(total.ln());
            at = now;
            all.push(at);
        }
        (all, log)
    }
}

impl Walk {
    /// One step, or a jump.
    fn moved(self, at: &States) -> States {
        let aside = 0.5 * (self.cents / STEP_CENTS).powi(2);
        let anywhere = self.jump * at.iter().sum::<f32>() / STEPS as f32;
        std::array::from_fn(|s| {
            let below = if s > 0 { at[s - 1] } else { 0.0 };
            let above = if s + 1 < STEPS { at[s + 1] } else { 0.0 };
            let walked = (1.0 - 2.0 * aside) * at[s] + aside * (below + above);
            (1.0 - self.jump) * walked + anywhere
        })
    }
}

/// The states with the sum 1, and their sum.
fn normalised(states: States) -> (States, f32) {
    let total: f32 = states.iter().sum();
    (states.map(|s| s / total), total)
}
