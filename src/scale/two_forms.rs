//! Lines that rise with other degrees than they fall with, such as melodic minor and the in scale.
//!
//! For each pitch class the small steps that reach or cross it are counted by direction: played or passed over. Whether
//! one rate explains both directions or each has its own is a comparison of two beta-binomial models (Jeffreys, "Theory
//! of Probability", 1961). A degree that is played only upward must have a partner, a semitone or a tone away, that is
//! played only downward: a scale that simply lacks a degree one way is not called two forms.

use crate::histogram::PlacedNote;
use crate::scale::estimate::TwoForms;
use crate::units::{PitchClass, PitchClassSet};

/// Parameter of the beta prior on each rate: rates near 0 and 1 are expected. Engineering judgement.
const RATE_PRIOR: f64 = 0.25;
/// Steps up to this many semitones tell which degrees are passed over; wider ones are leaps.
const STEP_MAX: i64 = 4;
/// Log odds against two forms before any evidence: one line in twenty or so. Engineering judgement.
const PRIOR_LOG_ODDS: f64 = -3.0;
/// Each direction must have reached or crossed the degrees in question this often in all.
const MIN_CHANCES: f64 = 1.0;
/// A degree belongs to a direction if it is played in at least this part of its chances there...
const PLAYED: f64 = 0.67;
/// ...and to none if it is played in no more than this part.
const PASSED: f64 = 0.2;

/// Played and passed over, by direction.
#[derive(Debug, Clone, Copy, Default)]
struct Chances {
    up_played: f64,
    up_passed: f64,
    down_played: f64,
    down_passed: f64,
}

impl Chances {
    fn up_rate(&self) -> f64 {
        self.up_played / (self.up_played + self.up_passed).max(1e-9)
    }

    fn down_rate(&self) -> f64 {
        self.down_played / (self.down_played + self.down_passed).max(1e-9)
    }

    fn seen_both_ways(&self) -> bool {
        self.up_played + self.up_passed >= MIN_CHANCES
            && self.down_played + self.down_passed >= MIN_CHANCES
    }

    fn only_up(&self) -> bool {
        self.seen_both_ways() && self.up_rate() >= PLAYED && self.down_rate() <= PASSED
    }

    fn only_down(&self) -> bool {
        self.seen_both_ways() && self.down_rate() >= PLAYED && self.up_rate() <= PASSED
    }

    /// How much likelier a rate for each direction is than one rate for both.
    fn log_odds(&self) -> f64 {
        let a = RATE_PRIOR;
        let part = |played: f64, passed: f64| log_beta(played + a, passed + a) - log_beta(a, a);
        part(self.up_played, self.up_passed) + part(self.down_played, self.down_passed)
            - part(
                self.up_played + self.down_played,
                self.up_passed + self.down_passed,
            )
    }
}

/// Two forms where the evidence for them is strong.
pub fn find(notes: &[PlacedNote], set: PitchClassSet) -> Option<TwoForms> {
    let chances = count(notes, set);
    let only = |f: fn(&Chances) -> bool| -> PitchClassSet {
        set.iter().filter(|c| f(&chances[c.index()])).collect()
    };
    let (up, down) = (only(Chances::only_up), only(Chances::only_down));
    let (up, down) = partners(up, down);
    if up.is_empty() {
        return None;
    }
    let log_odds = PRIOR_LOG_ODDS
        + up.iter()
            .chain(down.iter())
            .map(|c| chances[c.index()].log_odds())
            .sum::<f64>();
    let less = |from: PitchClassSet, take: PitchClassSet| {
        from.iter().filter(|&c| !take.contains(c)).collect()
    };
    (log_odds > 0.0).then_some(TwoForms {
        rising: less(set, down),
        falling: less(set, up),
        log_odds,
    })
}

/// Pairs each rising degree with the falling one a semitone or a tone away; what finds no partner is left out. A partner
/// below goes before one above: scales of two forms rise with the raised degree and fall with the lowered one, as
/// melodic minor, the in scale and Verdi's scala enigmatica do.
fn partners(up: PitchClassSet, down: PitchClassSet) -> (PitchClassSet, PitchClassSet) {
    let (mut ups, mut downs) = (PitchClassSet::default(), PitchClassSet::default());
    for distance in [-1, 1, -2, 2] {
        for c in up.iter().filter(|&c| !ups.contains(c)).collect::<Vec<_>>() {
            let other = c.up(distance);
            if down.contains(other) && !downs.contains(other) {
                (ups, downs) = (ups.with(c), downs.with(other));
            }
        }
    }
    (ups, downs)
}

/// Counts, for each class of the set, the steps that reach it from one side and go on, and those that cross it.
fn count(notes: &[PlacedNote], set: PitchClassSet) -> [Chances; 12] {
    let mut chances = [Chances::default(); 12];
    let keys = line(notes, set);
    for w in keys.windows(2) {
        let step = w[1] - w[0];
        if step.abs() > STEP_MAX {
            continue;
        }
        for key in w[0].min(w[1]) + 1..w[0].max(w[1]) {
            let c = &mut chances[PitchClass::new(key).index()];
            if step > 0 {
                c.up_passed += 1.0
            } else {
                c.down_passed += 1.0
            }
        }
    }
    for w in keys.windows(3) {
        let (into, out) = (w[1] - w[0], w[2] - w[1]);
        let c = &mut chances[PitchClass::new(w[1]).index()];
        match (into.signum(), out.signum()) {
            (1, 1) => c.up_played += 1.0,
            (-1, -1) => c.down_played += 1.0,
            // A turn belongs to the direction in which it is left: a leading note turns back up, a sixth back down.
            (_, 1) => c.up_played += TURN_WEIGHT,
            (_, _) => c.down_played += TURN_WEIGHT,
        }
    }
    chances
}

/// What a turning note counts in the direction in which it is left. Engineering judgement.
const TURN_WEIGHT: f64 = 0.3;

/// The keys of the line within the set, repeated notes taken as one.
fn line(notes: &[PlacedNote], set: PitchClassSet) -> Vec<i64> {
    let mut keys: Vec<i64> = notes
        .iter()
        .filter(|n| set.contains(n.class))
        .map(|n| n.key)
        .collect();
    keys.dedup();
    keys
}

fn log_beta(a: f64, b: f64) -> f64 {
    log_gamma(a) + log_gamma(b) - log_gamma(a + b)
}

/// Logarithm of the gamma function for positive numbers: Stirling's series after shifting the argument above 7
/// (Abramowitz and Stegun, "Handbook of Mathematical Functions", 1964, 6.1.41).
fn log_gamma(x: f64) -> f64 {
    let (mut x, mut shift) = (x, 0.0);
    while x < 7.0 {
        shift -= x.ln();
        x += 1.0;
    }
    let r = 1.0 / x;
    let series = r * (1.0 / 12.0 - r * r * (1.0 / 360.0 - r * r / 1260.0));
    shift + (x - 0.5) * x.ln() - x + 0.5 * std::f64::consts::TAU.ln() + series
}
