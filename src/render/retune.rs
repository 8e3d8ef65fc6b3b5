//! From one tuning of open strings to another: which strings to change, with the least movement in all.
//!
//! Takes the strings as they are and the scale they should give; gives every best way ([`Retuning`]). A way puts each
//! string on a note of the scale, leaves no string crossing its neighbour, raises none by more than is allowed, and has
//! as many degrees of the scale on the strings as can be; among those it moves the strings the least, summed in cents.
//! Strings an octave apart move alike, as a player retunes them, unless only single strings can reach more degrees.
//!
//! Method: dynamic programming (Bellman 1957) over the strings in order of pitch; its state is the last move and the set
//! of degrees reached.

use std::collections::{BTreeMap, BTreeSet};

use super::scale::{Scale, Tone};
use crate::error::{Error, Result};
use crate::tuning::StringNote;
use crate::units::OCTAVE_CENTS;

/// Ways that are told one by one; of more only the number is given.
pub const MOST_TOLD: usize = 4;
/// A count of ways stops here.
const MOST_COUNTED: u64 = 1_000_000;
/// Moves are compared in hundredths of a cent, so that sums are exact.
const UNITS_A_CENT: f64 = 100.0;
/// The largest move in either direction that can be asked for, in semitones.
const FARTHEST: f64 = 12.0;
/// Degrees of a scale that are told apart at the most.
const MOST_DEGREES: usize = 16;

/// How far strings may be moved, in semitones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// A string is raised by no more.
    pub most_up: f64,
    /// A string is lowered by no more.
    pub most_down: f64,
}

/// One string's change.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// From 0, in the order given.
    pub string: usize,
    /// Cents up, or down where negative.
    pub cents: f64,
    /// The degree that it becomes.
    pub tone: Tone,
}

/// Every best way from one tuning to another.
#[derive(Debug, Clone, PartialEq)]
pub struct Retuning {
    /// Ways with the same total, each with the strings that change; [`MOST_TOLD`] at the most.
    pub ways: Vec<Vec<Change>>,
    /// How many there are.
    pub count: u64,
    /// Cents moved in all.
    pub total_cents: f64,
    /// Degrees of the scale that no string has.
    pub lacking: Vec<Tone>,
}

/// Finds the best ways.
///
/// # Errors
/// [`Error::Text`] where the limits let some string reach no note of the scale.
pub fn retune(strings: &[StringNote], scale: &Scale, limits: Limits) -> Result<Retuning> {
    let tones = scale.all_tones();
    check(&tones, limits)?;
    let alike = best(strings, &tones, scale, limits, true);
    let single = best(strings, &tones, scale, limits, false);
    let chosen = match (alike, single) {
        (Some(alike), Some(single)) if alike.reached() >= single.reached() => alike,
        (_, Some(single)) => single,
        (alike, None) => alike.ok_or_else(|| unreachable(limits))?,
    };
    Ok(chosen.told(&tones))
}

fn check(tones: &[Tone], limits: Limits) -> Result<()> {
    let is_sane = |s: f64| (0.0..=FARTHEST).contains(&s);
    if !is_sane(limits.most_up) || !is_sane(limits.most_down) {
        return Err(Error::Text(format!(
            "--most-up and --most-down take semitones from 0 to {FARTHEST}"
        )));
    }
    if tones.len() > MOST_DEGREES {
        return Err(Error::Text(format!(
            "the scale has {} degrees, and {MOST_DEGREES} are the most that strings are put to",
            tones.len()
        )));
    }
    Ok(())
}

fn unreachable(limits: Limits) -> Error {
    Error::Text(format!(
        "with no string raised by more than {} or lowered by more than {} semitones the strings can't all be put on notes of that scale: allow more with --most-up or --most-down",
        limits.most_up, limits.most_down
    ))
}

/// A move of one or more strings together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Move {
    /// Hundredths of a cent.
    by: i64,
    degree: usize,
}

/// Strings that move together, and where they can go.
struct Unit {
    strings: Vec<usize>,
    moves: Vec<Move>,
}

type State = (Move, u32);

/// What is known of the best ways to a state.
#[derive(Debug, Clone)]
struct Reach {
    cost: i64,
    count: u64,
    before: Vec<State>,
}

/// The best ways in terms of units.
struct Best {
    units: Vec<Unit>,
    ways: Vec<Vec<Move>>,
    count: u64,
    cost: i64,
    degrees: u32,
}

impl Best {
    fn reached(&self) -> u32 {
        self.degrees.count_ones()
    }

    fn told(&self, tones: &[Tone]) -> Retuning {
        let change = |unit: &Unit, m: &Move| -> Vec<Change> {
            let one = |&string: &usize| Change {
                string,
                cents: m.by as f64 / UNITS_A_CENT,
                tone: tones[m.degree],
            };
            unit.strings.iter().map(one).collect()
        };
        let way = |moves: &Vec<Move>| {
            let all = self.units.iter().zip(moves).filter(|(_, m)| m.by != 0);
            let mut changes: Vec<Change> = all.flat_map(|(u, m)| change(u, m)).collect();
            changes.sort_by_key(|c| c.string);
            changes
        };
        let is_lacking = |k: &usize| self.degrees >> k & 1 == 0;
        Retuning {
            ways: self.ways.iter().map(way).collect(),
            count: self.count,
            total_cents: self.cost as f64 / UNITS_A_CENT,
            lacking: (0..tones.len())
                .filter(is_lacking)
                .map(|k| tones[k])
                .collect(),
        }
    }
}

fn best(
    strings: &[StringNote],
    tones: &[Tone],
    scale: &Scale,
    limits: Limits,
    alike: bool,
) -> Option<Best> {
    let mut groups: BTreeMap<i32, Vec<usize>> = BTreeMap::new();
    for (k, string) in strings.iter().enumerate() {
        let key = if alike {
            string.midi.rem_euclid(12)
        } else {
            string.midi
        };
        groups.entry(key).or_default().push(k);
    }
    let root = scale.root.pitch_class().index() as f64 * 100.0;
    let keys: Vec<i32> = groups.keys().copied().collect();
    let units: Vec<Unit> = groups
        .into_iter()
        .map(|(key, strings)| Unit {
            strings,
            moves: moves(f64::from(key) * 100.0 - root, tones, limits),
        })
        .collect();
    let gaps: Vec<i64> = keys
        .windows(2)
        .map(|w| units_of(f64::from(w[1] - w[0]) * 100.0))
        .collect();
    let around = (alike && keys.len() > 1)
        .then(|| units_of(f64::from(keys[0] + 12 - keys[keys.len() - 1]) * 100.0));
    search(units, &gaps, around)
}

fn units_of(cents: f64) -> i64 {
    (cents * UNITS_A_CENT).round() as i64
}

/// Where a string that lies `above` cents over the centre can go.
fn moves(above: f64, tones: &[Tone], limits: Limits) -> Vec<Move> {
    let (down, up) = (
        units_of(-100.0 * limits.most_down),
        units_of(100.0 * limits.most_up),
    );
    let mut found = Vec::new();
    for (degree, tone) in tones.iter().enumerate() {
        let up_to = (tone.cents - above).rem_euclid(OCTAVE_CENTS);
        let ways = [up_to - OCTAVE_CENTS, up_to].map(units_of);
        let allowed = ways.into_iter().filter(|by| (down..=up).contains(by));
        found.extend(allowed.map(|by| Move { by, degree }));
    }
    found
}

/// The best ways over all units; `around` is the gap from the last unit to the first an octave higher, where strings an
/// octave apart move alike. Then each move of the first unit is tried by itself.
fn search(units: Vec<Unit>, gaps: &[i64], around: Option<i64>) -> Option<Best> {
    let first = units.first()?.moves.clone();
    let starts: Vec<Vec<Move>> = match around {
        Some(_) => first.into_iter().map(|m| vec![m]).collect(),
        None => vec![first],
    };
    let mut found: Vec<(i64, u32, u64, Vec<Vec<Move>>)> = Vec::new();
    for start in starts {
        let layers = layers(&units, &start, gaps);
        let closes = |last: &Move| around.is_none_or(|gap| start[0].by + gap >= last.by);
        let ends = layers.last()?.iter().filter(|((last, _), _)| closes(last));
        found.extend(
            ends.map(|(state, reach)| (reach.cost, state.1, reach.count, traced(&layers, *state))),
        );
    }
    let most = found.iter().map(|f| f.1.count_ones()).max()?;
    found.retain(|f| f.1.count_ones() == most);
    let cost = found.iter().map(|f| f.0).min()?;
    found.retain(|f| f.0 == cost);
    let degrees = found.first()?.1;
    let ways: BTreeSet<Vec<Move>> = found.iter().flat_map(|f| f.3.clone()).collect();
    Some(Best {
        units,
        count: found.iter().map(|f| f.2).sum::<u64>().min(MOST_COUNTED),
        ways: ways.into_iter().take(MOST_TOLD).collect(),
        cost,
        degrees,
    })
}

/// For each unit, the states that the units up to it can be in, with the best ways there.
fn layers(units: &[Unit], start: &[Move], gaps: &[i64]) -> Vec<BTreeMap<State, Reach>> {
    let cost = |unit: &Unit, m: &Move| m.by.abs() * unit.strings.len() as i64;
    let first = start.iter().map(|&m| {
        let reach = Reach {
            cost: cost(&units[0], &m),
            count: 1,
            before: Vec::new(),
        };
        ((m, 1 << m.degree), reach)
    });
    let mut layers = vec![first.collect::<BTreeMap<State, Reach>>()];
    for (unit, gap) in units[1..].iter().zip(gaps) {
        let mut next: BTreeMap<State, Reach> = BTreeMap::new();
        for (&state, reach) in &layers[layers.len() - 1] {
            let (last, degrees) = state;
            for &m in unit.moves.iter().filter(|m| m.by + gap >= last.by) {
                let to = (m, degrees | 1 << m.degree);
                join(&mut next, to, state, reach, reach.cost + cost(unit, &m));
            }
        }
        layers.push(next);
    }
    layers
}

/// Notes one more way to a state, if none known is better.
fn join(next: &mut BTreeMap<State, Reach>, to: State, from: State, reach: &Reach, cost: i64) {
    let known = next.entry(to).or_insert(Reach {
        cost: i64::MAX,
        count: 0,
        before: Vec::new(),
    });
    if cost < known.cost {
        *known = Reach {
            cost,
            count: 0,
            before: Vec::new(),
        };
    }
    if cost == known.cost {
        known.count = (known.count + reach.count).min(MOST_COUNTED);
        known.before.push(from);
    }
}

/// Some of the best ways to a state of the last layer.
fn traced(layers: &[BTreeMap<State, Reach>], state: State) -> Vec<Vec<Move>> {
    let Some((last, earlier)) = layers.split_last() else {
        return Vec::new();
    };
    let before = last.get(&state).map_or(&[][..], |r| &r.before);
    if before.is_empty() {
        return vec![vec![state.0]];
    }
    let mut ways = Vec::new();
    for &from in before {
        for mut way in traced(earlier, from) {
            way.push(state.0);
            ways.push(way);
            if ways.len() == MOST_TOLD {
                return ways;
            }
        }
    }
    ways
}
