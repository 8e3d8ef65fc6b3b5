//! A line under one scale, over a tuning that wanders: how likely it is, which degree each note was meant for, and where
//! the tuning went.
//!
//! A hidden Markov model (L. Rabiner, "A tutorial on hidden Markov models and selected applications in speech
//! recognition", Proceedings of the IEEE, 1989): the state is the tuning on a coarse grid, which moves a little from note
//! to note; a note scatters about a degree of the scale or, seldom, lies anywhere in the octave.

use crate::notes::Note;

/// Steps of the tuning in cents, and how many there are: it may wander a little over a semitone to either side.
const STEP_CENTS: f32 = 20.0;
const STEPS: usize = 13;
/// The tuning begins within so many cents of the recording's own: beyond half a semitone the scale has other names.
const BEGINS_WITHIN_CENTS: f32 = 50.0;
/// Standard deviation of what the tuning moves from note to note, in cents. This and the constants below were chosen by
/// a random search on labelled melodies with a singer's mistakes put in.
const WALK_CENTS: f32 = 5.0;
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
/// Cents in an octave, over which stray notes lie evenly.
const OCTAVE_CENTS: f32 = 1200.0;

/// How often a note is meant for each pitch class: 0 outside the scale, all together 1.
pub type Parts = [f32; 12];

type States = [f32; STEPS];

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

/// A line where its notes scatter so many cents about their degrees.
pub struct Spread<'a> {
    line: &'a Line,
    /// Of each note, for each class and tuning: how likely a note of that class lies where it lies.
    density: Vec<[States; 12]>,
}

/// What became of each note.
pub struct Meant {
    /// Probability of each class to be what was meant; less than 1 in all, for notes that belong to none.
    pub classes: Vec<Parts>,
    /// Cents by which the tuning lay above the recording's own.
    pub tuning: Vec<f64>,
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

    /// The line where its notes scatter by `spread_cents` about their degrees.
    pub fn spread(&self, spread_cents: f32) -> Spread<'_> {
        let note = |(&cents, &uncertain): (&f32, &f32)| {
            let sigma = (spread_cents * spread_cents + uncertain).sqrt();
            let height = 1.0 / (sigma * std::f32::consts::TAU.sqrt());
            std::array::from_fn(|class| {
                std::array::from_fn(|state| {
                    let away = cents - tuning_of(state) - 100.0 * class as f32;
                    let z = (away - OCTAVE_CENTS * (away / OCTAVE_CENTS).round()) / sigma;
                    height * (-0.5 * z * z).exp()
                })
            })
        };
        Spread {
            density: self.cents.iter().zip(&self.uncertain).map(note).collect(),
            line: self,
        }
    }
}

impl Spread<'_> {
    /// Natural logarithm of how likely the line is, in which each class is used as often as `parts` says.
    pub fn likelihood(&self, parts: &Parts) -> f64 {
        let emitted = self.emitted(parts);
        self.forward(&emitted).1
    }

    /// How often each class of a scale is used: what an even use of all of them makes of the notes, and what was seen
    /// beforehand.
    pub fn parts(&self, scale: u16) -> Parts {
        let inside = |k: usize| scale >> k & 1 == 1;
        let even: Parts =
            std::array::from_fn(|k| f32::from(u8::from(inside(k))) / scale.count_ones() as f32);
        let meant = self.meant(&even);
        let mut parts = [0f32; 12];
        for k in (0..12).filter(|&k| inside(k)) {
            let notes = meant.classes.iter().zip(&self.line.weight);
            parts[k] = SEEN_BEFORE + notes.map(|(p, w)| w * p[k]).sum::<f32>();
        }
        let total: f32 = parts.iter().sum();
        parts.map(|p| p / total)
    }

    /// What each note was meant for, and where the tuning went.
    pub fn meant(&self, parts: &Parts) -> Meant {
        let emitted = self.emitted(parts);
        let (before, _) = self.forward(&emitted);
        let mut after = [1f32; STEPS];
        let mut classes = vec![[0f32; 12]; before.len()];
        let mut tuning = vec![0f64; before.len()];
        for i in (0..before.len()).rev() {
            let here: States = std::array::from_fn(|s| before[i][s] * after[s]);
            let total: f32 = here.iter().sum();
            let certain = 1.0 - self.line.stray[i];
            // Every state of the note in proportion to what it emits there.
            let ratio: States = std::array::from_fn(|s| here[s] / total * certain / emitted[i][s]);
            for k in (0..12).filter(|&k| parts[k] > 0.0) {
                let sum: f32 = (0..STEPS).map(|s| ratio[s] * self.density[i][k][s]).sum();
                classes[i][k] = parts[k] * sum;
            }
            tuning[i] = (0..STEPS)
                .map(|s| f64::from(here[s] / total * tuning_of(s)))
                .sum();
            let passed: States = std::array::from_fn(|s| emitted[i][s] * after[s]);
            after = normalised(moved(&passed)).0;
        }
        Meant { classes, tuning }
    }

    /// How likely each note is under each tuning.
    fn emitted(&self, parts: &Parts) -> Vec<States> {
        let used: Vec<usize> = (0..12).filter(|&k| parts[k] > 0.0).collect();
        let note = |(density, &stray): (&[States; 12], &f32)| {
            let mut sum = [0f32; STEPS];
            for &k in &used {
                for (s, d) in sum.iter_mut().zip(&density[k]) {
                    *s += parts[k] * d;
                }
            }
            sum.map(|s| (1.0 - stray) * s + stray / OCTAVE_CENTS)
        };
        self.density
            .iter()
            .zip(&self.line.stray)
            .map(note)
            .collect()
    }

    /// Probability of each tuning at each note from the notes so far, and the logarithm of all of them.
    fn forward(&self, emitted: &[States]) -> (Vec<States>, f64) {
        let begin: States =
            std::array::from_fn(|s| f32::from(u8::from(tuning_of(s).abs() <= BEGINS_WITHIN_CENTS)));
        let mut at = normalised(begin).0;
        let mut log = 0.0;
        let mut all = Vec::with_capacity(emitted.len());
        for (i, e) in emitted.iter().enumerate() {
            let from = if i == 0 { at } else { moved(&at) };
            let (now, total) = normalised(std::array::from_fn(|s| from[s] * e[s]));
            log += f64::from(total.ln());
            at = now;
            all.push(at);
        }
        (all, log)
    }
}

/// Cents of a state.
fn tuning_of(state: usize) -> f32 {
    STEP_CENTS * (state as f32 - (STEPS / 2) as f32)
}

/// One step of the random walk.
fn moved(at: &States) -> States {
    const ASIDE: f32 = 0.5 * (WALK_CENTS / STEP_CENTS) * (WALK_CENTS / STEP_CENTS);
    std::array::from_fn(|s| {
        let below = if s > 0 { at[s - 1] } else { 0.0 };
        let above = if s + 1 < STEPS { at[s + 1] } else { 0.0 };
        (1.0 - 2.0 * ASIDE) * at[s] + ASIDE * (below + above)
    })
}

/// The states with the sum 1, and their sum.
fn normalised(states: States) -> (States, f32) {
    let total: f32 = states.iter().sum();
    (states.map(|s| s / total), total)
}
