//! Which pluck was which string.
//!
//! Method: the most likely path through plucks and strings by dynamic programming (Bellman, Dynamic Programming, 1957).
//! Each pluck is the next string, the same string once more, a later string (those between were left out) or none (a
//! knock, a word). Costs are negative logarithms of probabilities. Without an order, plucks and strings are both
//! sorted by pitch first, which for distances on a line gives the best one-to-one assignment.

use crate::tuning::hearing::Pluck;
use crate::units::cents_between;

// The rates and spreads below are assumptions, close to those by which the development corpus is made; no recordings of
// players stand behind them.

/// Leaving a string out: one in seventy.
const MISSING: f64 = 4.2;
/// A steady pluck that is no string's: one in four hundred.
const NO_STRING: f64 = 6.0;
/// A string is plucked again: one time in eight.
const AGAIN: f64 = 0.12;
/// How strings lie about their targets: most within this many cents …
const NEAR_CENTS: f64 = 12.0;
/// … some anywhere within this many …
const FAR_CENTS: f64 = 100.0;
/// … a few further, thinning out over this many …
const STRAY_CENTS: f64 = 80.0;
/// … and a few an octave away.
const OCTAVE_SPREAD_CENTS: f64 = 40.0;
const SHARES: [f64; 4] = [0.85, 0.10, 0.04, 0.01];
/// Plucks of one string lie within this many cents, unless it was tuned in between.
const SAME_CENTS: f64 = 0.5;
const SAME_SHARE: f64 = 0.7;
const RETUNED_CENTS: f64 = 50.0;
/// With this much distance in cents, a pluck that was left over is taken for a missing string in another octave.
const OCTAVE_REACH_CENTS: f64 = 100.0;

/// For each string the plucks that are its own, in order of time.
#[derive(Debug, Clone)]
pub struct Assignment {
    pub of_string: Vec<Vec<usize>>,
    /// Negative logarithm of the probability.
    pub cost: f64,
}

/// The best assignment of plucks to strings with these targets, in the order given.
pub fn in_order(targets_hz: &[f64], plucks: &[Pluck]) -> Assignment {
    let pitches: Vec<f64> = plucks.iter().map(|p| p.hz).collect();
    best_path(targets_hz, &pitches)
}

/// The best assignment whatever the order of the plucks.
pub fn in_any_order(targets_hz: &[f64], plucks: &[Pluck]) -> Assignment {
    let string_order = sorted_by(targets_hz);
    let pitches: Vec<f64> = plucks.iter().map(|p| p.hz).collect();
    let pluck_order = sorted_by(&pitches);
    let pick =
        |values: &[f64], order: &[usize]| order.iter().map(|&i| values[i]).collect::<Vec<_>>();
    let sorted = best_path(
        &pick(targets_hz, &string_order),
        &pick(&pitches, &pluck_order),
    );
    let mut of_string = vec![Vec::new(); targets_hz.len()];
    for (i, own) in sorted.of_string.into_iter().enumerate() {
        let mut own: Vec<usize> = own.into_iter().map(|k| pluck_order[k]).collect();
        own.sort_unstable();
        of_string[string_order[i]] = own;
    }
    unisons_by_time(targets_hz, &mut of_string);
    fill_from_other_octaves(targets_hz, &pitches, &mut of_string);
    Assignment {
        of_string,
        cost: sorted.cost,
    }
}

fn sorted_by(values: &[f64]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|&a, &b| values[a].total_cmp(&values[b]));
    order
}

/// Strings with one target were plucked in the order in which they are listed.
fn unisons_by_time(targets_hz: &[f64], of_string: &mut [Vec<usize>]) {
    for i in 0..targets_hz.len() {
        for k in i + 1..targets_hz.len() {
            let unison = cents_between(targets_hz[i], targets_hz[k]).abs() < 1.0;
            let later = of_string[k]
                .first()
                .is_some_and(|second| of_string[i].first().is_none_or(|first| second < first));
            if unison && later {
                of_string.swap(i, k);
            }
        }
    }
}

/// Gives plucks that no string took to missing strings an octave or more away.
fn fill_from_other_octaves(targets_hz: &[f64], pitches: &[f64], of_string: &mut [Vec<usize>]) {
    for (k, &pitch) in pitches.iter().enumerate() {
        if of_string.iter().flatten().any(|&taken| taken == k) {
            continue;
        }
        let off = |i: usize| {
            let cents = cents_between(targets_hz[i], pitch);
            (cents + 600.0).rem_euclid(1200.0) - 600.0
        };
        let free = (0..of_string.len()).filter(|&i| of_string[i].is_empty());
        let best = free.min_by(|&a, &b| off(a).abs().total_cmp(&off(b).abs()));
        if let Some(i) = best.filter(|&i| off(i).abs() < OCTAVE_REACH_CENTS) {
            of_string[i].push(k);
        }
    }
}

/// The best way to get to having heard some plucks, the last on one string.
#[derive(Clone, Copy)]
struct Cell {
    cost: f64,
    /// The pluck that was that string's last.
    last: usize,
    /// What that pluck's distance from the target cost.
    fit: f64,
}

/// What the newest pluck was taken for on the way to a cell.
#[derive(Clone, Copy)]
enum Step {
    Skipped,
    Again,
    /// The string before it on the path; `None` at the start.
    After(Option<usize>),
}

fn best_path(targets_hz: &[f64], pitches: &[f64]) -> Assignment {
    let strings = targets_hz.len();
    let mut cells: Vec<Option<Cell>> = vec![None; strings];
    let mut steps: Vec<Vec<Step>> = Vec::with_capacity(pitches.len());
    for k in 0..pitches.len() {
        let mut next = cells.clone();
        let mut step = vec![Step::Skipped; strings];
        for i in 0..strings {
            let (cell, how) = best_step(&cells, i, k, targets_hz, pitches);
            next[i] = cell;
            step[i] = how;
        }
        cells = next;
        steps.push(step);
    }
    trace_back(&cells, &steps, strings)
}

/// The best way to take pluck `k` that leaves string `i` as the last one heard.
fn best_step(
    cells: &[Option<Cell>],
    i: usize,
    k: usize,
    targets_hz: &[f64],
    pitches: &[f64],
) -> (Option<Cell>, Step) {
    let pitch = pitches[k];
    let fit = off_target(cents_between(targets_hz[i], pitch));
    let from_start = (
        NO_STRING * k as f64 + MISSING * i as f64 + fit,
        k,
        Step::After(None),
    );
    let skipped = cells[i].map(|c| (c.cost + NO_STRING, c.last, Step::Skipped));
    let again = cells[i].map(|c| {
        let (same, retuned) = plucked_again(cents_between(pitches[c.last], pitch));
        // Where the string was tuned in between, only its last place says where it should be.
        let moved = f64::min(same, retuned + fit - c.fit);
        (c.cost + moved, k, Step::Again)
    });
    let after = (0..i).filter_map(|h| {
        let between = MISSING * (i - h - 1) as f64;
        cells[h].map(|c| (c.cost + between + fit, k, Step::After(Some(h))))
    });
    let best = std::iter::once(from_start)
        .chain(skipped)
        .chain(again)
        .chain(after)
        .min_by(|a, b| a.0.total_cmp(&b.0));
    match best {
        Some((cost, last, how)) => {
            let fit = cells[i].filter(|c| c.last == last).map_or(fit, |c| c.fit);
            (Some(Cell { cost, last, fit }), how)
        }
        None => (None, Step::Skipped),
    }
}

/// From the best end back to the start, which gives each string its plucks.
fn trace_back(cells: &[Option<Cell>], steps: &[Vec<Step>], strings: usize) -> Assignment {
    let mut of_string = vec![Vec::new(); strings];
    let none = NO_STRING * steps.len() as f64 + MISSING * strings as f64;
    let end = |i: usize| cells[i].map(|c| (c.cost + MISSING * (strings - 1 - i) as f64, i));
    let best = (0..strings)
        .filter_map(end)
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((cost, last)) = best.filter(|b| b.0 < none) else {
        return Assignment {
            of_string,
            cost: none,
        };
    };
    let mut string = Some(last);
    for (k, step) in steps.iter().enumerate().rev() {
        let Some(i) = string else { break };
        match step[i] {
            Step::Skipped => {}
            Step::Again => of_string[i].insert(0, k),
            Step::After(before) => {
                of_string[i].insert(0, k);
                string = before;
            }
        }
    }
    Assignment { of_string, cost }
}

/// The cost of a string that far from its target.
fn off_target(cents: f64) -> f64 {
    let octave = gauss(cents.abs() - 1200.0, OCTAVE_SPREAD_CENTS) / 2.0;
    let far = if cents.abs() < FAR_CENTS {
        0.5 / FAR_CENTS
    } else {
        0.0
    };
    let parts = [
        gauss(cents, NEAR_CENTS),
        far,
        laplace(cents, STRAY_CENTS),
        octave,
    ];
    cost(parts.iter().zip(SHARES).map(|(p, share)| p * share).sum())
}

/// The cost of the same string's being plucked again that many cents away: left as it was, and tuned in between.
fn plucked_again(cents: f64) -> (f64, f64) {
    let same = SAME_SHARE * gauss(cents, SAME_CENTS);
    let retuned = (1.0 - SAME_SHARE) * laplace(cents, RETUNED_CENTS);
    (cost(AGAIN * same), cost(AGAIN * retuned))
}

/// Costs are counted from that of a string dead on its target.
fn cost(density: f64) -> f64 {
    (SHARES[0] * gauss(0.0, NEAR_CENTS) / density.max(f64::MIN_POSITIVE)).ln()
}

fn gauss(x: f64, sigma: f64) -> f64 {
    (-0.5 * (x / sigma).powi(2)).exp() / (sigma * (2.0 * std::f64::consts::PI).sqrt())
}

fn laplace(x: f64, scale: f64) -> f64 {
    (-x.abs() / scale).exp() / (2.0 * scale)
}
