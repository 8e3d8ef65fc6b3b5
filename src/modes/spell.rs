//! Which degree each note of a shape is written as: one letter a degree, from the parent mode on the same root where
//! there is one, else by the least alteration.

use super::degree::Degree;
use super::fit::chosen_mode;
use super::parents::Mode;
use super::shape::Shape;

/// How unusual a degree is by its alteration, for numbers 1 to 7 and alterations -2 to 2: b2, b3, #4, b5, b6, b7 are
/// everyday, #2 and #5 less so, double signs are a last resort. Set by hand, from common practice.
const COST: [[u32; 5]; 7] = [
    [90, 60, 0, 60, 90],
    [30, 3, 0, 5, 30],
    [30, 3, 0, 30, 60],
    [60, 12, 0, 3, 30],
    [30, 3, 0, 5, 30],
    [30, 3, 0, 14, 30],
    [30, 3, 0, 60, 90],
];
/// What it costs to give two notes the same letter.
const REPEATED_LETTER: u32 = 10;
/// What a degree costs that the other notes make unlikely: #5 without a major third, #4 in a minor scale that has 4 and 5
/// too, where the tritone is the blue fifth. From common practice; the figure was set by hand.
const OUT_OF_PLACE: u32 = 20;

/// Sets up to this size are spelled by a parent only if it is diatonic: the others' rarer degrees don't explain two notes.
const SMALL: usize = 4;
/// From this size letters repeat too often for a mode to guide the spelling.
const LARGE: usize = 9;

/// Whether no mode guides the spelling, so that a double accidental has no reason.
pub fn is_free(shape: Shape) -> bool {
    shape.len() <= SMALL || (shape.len() < 7 && chosen_mode(shape).is_none())
}

/// One degree a note, the centre first.
pub fn degrees(shape: Shape) -> Vec<Degree> {
    if shape.len() >= LARGE {
        return shape.offsets().into_iter().map(Degree::plain).collect();
    }
    let free = least_altered(shape);
    match chosen_mode(shape).filter(|mode| shape.len() > SMALL || mode.parent == "diatonic") {
        Some(mode) => fewer_doubles(of_mode(mode, shape), free),
        None => free,
    }
}

fn of_mode(mode: &Mode, shape: Shape) -> Vec<Degree> {
    mode.degrees()
        .into_iter()
        .filter(|degree| shape.contains(degree.offset()))
        .collect()
}

/// The mode's spelling, unless another that gives each note its own letter too needs fewer double accidentals.
fn fewer_doubles(of_mode: Vec<Degree>, free: Vec<Degree>) -> Vec<Degree> {
    let doubles = |degrees: &[Degree]| {
        degrees
            .iter()
            .filter(|degree| degree.alteration.abs() > 1)
            .count()
    };
    let repeats = free.windows(2).any(|pair| pair[0].number == pair[1].number);
    if !repeats && doubles(&of_mode) > doubles(&free) {
        free
    } else {
        of_mode
    }
}

/// The cheapest way to give ascending notes degrees whose numbers don't fall (dynamic programming over notes and numbers).
fn least_altered(shape: Shape) -> Vec<Degree> {
    let mut paths: Vec<(u32, Vec<Degree>)> = vec![(
        0,
        vec![Degree {
            number: 1,
            alteration: 0,
        }],
    )];
    for offset in shape.offsets().into_iter().skip(1) {
        paths = (1..=7)
            .filter_map(|number| best_with(&paths, Degree::at(number, offset), shape))
            .collect();
    }
    paths
        .into_iter()
        .min_by_key(|(cost, _)| *cost)
        .map(|(_, degrees)| degrees)
        .unwrap_or_default()
}

/// The cheapest of the paths so far, with one more degree at its end.
fn best_with(
    paths: &[(u32, Vec<Degree>)],
    next: Degree,
    shape: Shape,
) -> Option<(u32, Vec<Degree>)> {
    let own = cost_of(next, shape)?;
    let with_next = |(cost, degrees): &(u32, Vec<Degree>)| {
        let last = degrees.last()?;
        let repeated = if last.number == next.number {
            REPEATED_LETTER
        } else {
            0
        };
        (last.number <= next.number).then(|| cost + own + repeated)
    };
    let (cost, best) = paths
        .iter()
        .filter_map(|path| Some((with_next(path)?, path)))
        .min_by_key(|(cost, _)| *cost)?;
    let mut degrees = best.1.clone();
    degrees.push(next);
    Some((cost, degrees))
}

/// What a degree costs among the notes of the shape; `None` beyond double signs.
fn cost_of(degree: Degree, shape: Shape) -> Option<u32> {
    let usual =
        *COST[usize::from(degree.number - 1)].get(usize::try_from(degree.alteration + 2).ok()?)?;
    let has = |offset| shape.contains(offset);
    let out_of_place = match (degree.number, degree.alteration) {
        (5, 1) => !has(4),
        (4, 1) => has_blue_fifth(has),
        _ => false,
    };
    Some(usual + if out_of_place { OUT_OF_PLACE } else { 0 })
}

/// Whether a tritone among these offsets is the blue fifth: in a minor scale with its fourth and fifth.
pub fn has_blue_fifth(has: impl Fn(u8) -> bool) -> bool {
    has(3) && has(5) && has(7) && !has(4)
}
