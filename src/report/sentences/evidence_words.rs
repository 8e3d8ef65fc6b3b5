//! The features by which the scale stage judges a centre, in a musician's words.

use Side::*;

use super::reasons::Matter::{self, *};
use crate::scale::Evidence;

/// What it speaks for where a note has more of a feature than the others have.
#[derive(Clone, Copy, PartialEq)]
enum Side {
    /// That the note is the centre; less of it speaks against that.
    For,
    /// The other way round.
    Against,
    /// Either, as the line may be.
    Either,
}

/// A feature's name, its matter and its side, and what it says where a note has more or less of it than the others. `{}`
/// is the note, `{5}` and `{4}` the notes a fifth and a fourth above it. What has no words is not told.
type Words = (&'static str, Matter, Side, &'static str, &'static str);

/// What each feature of the scale stage says, by its name there. Those that are the same for all notes say nothing.
#[rustfmt::skip]
const WORDS: [Words; 79] = [
    ("last note", Ending, For, "the line ends on {}", "the line does not end on {}"),
    ("last note, long", Ending, For, "the line ends on {} and stays there", "the line does not come to rest on {} at its end"),
    ("last note, in the lower half", Ending, For, "the line ends low, on {}", "the line does not end low, on {}"),
    ("last note but one", Ending, Either, "", ""),
    ("last note but two", Ending, Either, "", ""),
    ("share of the last quarter", Ending, For, "the last quarter of the line dwells on {}", "the last quarter of the line hardly touches {}"),
    ("phrase ends", Resting, For, "phrases end on {}", "phrases seldom end on {}"),
    ("phrase ends, by length", Resting, For, "phrases come to rest on {}", "phrases seldom come to rest on {}"),
    ("the two phrase ends before the last", Resting, For, "the phrases before the last end on {}", "the phrases before the last end elsewhere than on {}"),
    ("end at the longest rests", Resting, For, "the longest rests come after {}", "the longest rests come after other notes than {}"),
    ("first note", Beginning, For, "the line begins on {}", "the line does not begin on {}"),
    ("first long note", Beginning, For, "{} is the first long note", "{} is not the first long note"),
    ("second note", Beginning, Either, "", ""),
    ("phrase starts", Beginning, For, "phrases begin on {}", "phrases seldom begin on {}"),
    ("share of the first quarter", Beginning, For, "the first quarter of the line dwells on {}", "the first quarter of the line hardly touches {}"),
    ("share of time", Time, For, "{} sounds for much of the time", "{} sounds for little of the time"),
    ("share of time against the strongest", Time, For, "{} sounds longest in all", "other notes sound longer than {}"),
    ("share of notes", Time, Either, "{} is played often", ""),
    ("most time", Time, For, "{} sounds longest in all", "{} does not sound longest"),
    ("most notes", Time, For, "{} is played most often", "{} is not played most often"),
    ("absent", Time, Against, "{} is not played", ""),
    ("share of long notes", Time, For, "{} has many of the long notes", "{} has few of the long notes"),
    ("longest note", Time, For, "{} is the longest note", "{} is not the longest note"),
    ("mean length", Time, For, "{} is held longer than most notes", "{} is held no longer than other notes"),
    ("lowest note", Height, For, "{} is the lowest note", "{} is not the lowest note"),
    ("a fourth above the lowest note", Height, Either, "{} lies a fourth above the lowest note", ""),
    ("highest note", Height, Against, "{} is the highest note", "{} is not the highest note"),
    ("turning points below", Height, For, "the line turns back up at {}", "the line seldom turns back up at {}"),
    ("turning points above", Height, Against, "the line turns back down at {}", "the line seldom turns back down at {}"),
    ("mean height", Height, Against, "{} lies high in the line", "{} lies low in the line"),
    ("height above the lowest note", Height, Against, "{} lies well above the lowest note", "{} lies close above the lowest note"),
    ("octave leap", Height, Either, "the line leaps by an octave to {}", ""),
    ("octaves in which it sounds", Height, Either, "{} sounds in several octaves", ""),
    ("time of the fifth above", Fifths, For, "{5}, a fifth above {}, sounds for much of the time", "{5}, a fifth above {}, sounds for little of the time"),
    ("time of the fourth above", Fifths, Either, "{4}, a fourth above {}, sounds for much of the time", ""),
    ("fifth above is there", Fifths, For, "{5}, a fifth above {}, is played", "{5}, a fifth above {}, is not played"),
    ("fourth above is there", Fifths, Either, "{4}, a fourth above {}, is played", ""),
    ("fifth below it falls in", Fifths, For, "{5} leads by a fifth down (or a fourth up) to {}", "{5} seldom leads by a fifth to {}"),
    ("fourth below it rises in", Fifths, Either, "{4} leads by a fourth down (or a fifth up) to {}", ""),
    ("reached by step from below", Motion, Either, "", ""),
    ("reached by step from above", Motion, Either, "", ""),
    ("left by step", Motion, Either, "", ""),
    ("left by leap", Motion, Either, "", ""),
    ("reached by leap", Motion, Either, "", ""),
    ("repeated", Motion, Either, "{} is repeated", ""),
    // Counted in steps of the scale: parts of the matters above, never a reason of their own.
    ("last note a step above", Ending, Either, "", ""),
    ("last note two steps above", Ending, Either, "", ""),
    ("last note three steps above", Ending, Either, "", ""),
    ("last note four steps above", Ending, Either, "", ""),
    ("last note a step below", Ending, Either, "", ""),
    ("last note two steps below", Ending, Either, "", ""),
    ("time of the note a step above", Time, Either, "", ""),
    ("time of the note two steps above", Time, Either, "", ""),
    ("time of the note three steps above", Time, Either, "", ""),
    ("time of the note four steps above", Time, Either, "", ""),
    ("time of the note a step below", Time, Either, "", ""),
    ("earlier phrase ends a step above", Resting, Either, "", ""),
    ("earlier phrase ends two steps above", Resting, Either, "", ""),
    ("earlier phrase ends four steps above", Resting, Either, "", ""),
    ("earlier phrase ends a step below", Resting, Either, "", ""),
    ("first note two steps above", Beginning, Either, "", ""),
    ("first note four steps above", Beginning, Either, "", ""),
    ("first note three steps below", Beginning, Either, "", ""),
    ("lowest note a step below", Height, Either, "", ""),
    ("lowest note two steps below", Height, Either, "", ""),
    ("lowest note three steps below", Height, Either, "", ""),
    ("reached by scale step from above", Motion, Either, "", ""),
    ("reached by scale step from below", Motion, Either, "", ""),
    ("left by scale step", Motion, Either, "", ""),
    ("reached by scale leap", Motion, Either, "", ""),
    ("share of the last notes", Ending, For, "the last notes dwell on {}", "the last notes hardly touch {}"),
    ("share of the later notes", Ending, For, "the later notes dwell on {}", "the later notes hardly touch {}"),
    // What the readers make of a matter adds to its weight; the features above say it in words.
    ("end, as read", Ending, Either, "", ""),
    ("phrase ends, as read", Resting, Either, "", ""),
    ("beginning, as read", Beginning, Either, "", ""),
    ("lengths, as read", Time, Either, "", ""),
    ("height, as read", Height, Either, "", ""),
    ("motion, as read", Motion, Either, "", ""),
    ("drone", Drone, For, "{} is held beneath the line", "{} is not held beneath the line"),
];

const TIME_ABOVE: &str = "time of the note ";
const NOT_PLAYED: &str = "{n} is not played";
/// Features of the notes that lie some semitones above, by what stands before and behind the number; `{n}` is that note.
const ABOVE: [(&str, &str, &str, &str); 4] = [
    (
        TIME_ABOVE,
        " semitones above",
        "{n} sounds for much of the time",
        "{n} sounds for little of the time",
    ),
    (
        "the note ",
        " semitones above is there",
        "{n} is played",
        NOT_PLAYED,
    ),
    (
        "reached from ",
        " semitones above",
        "{n} leads to {}",
        "{n} seldom leads to {}",
    ),
    (
        "left for ",
        " semitones above",
        "{} leads to {n}",
        "{} seldom leads to {n}",
    ),
];

/// What a feature has to reach for its words to be true of a line, where that is more than the mean note has. The first
/// counts in thirds of an octave's worth of notes: from here on it sounds in two or more. Engineering judgement, as is the next one.
const MUCH_FROM: [(&str, f64); 9] = [
    ("octaves in which it sounds", 0.5),
    ("share of time against the strongest", 1.0),
    ("share of time", 0.2),
    ("time of the fifth above", 0.2),
    ("time of the fourth above", 0.2),
    ("share of the first quarter", 0.4),
    ("share of the last quarter", 0.4),
    ("share of the last notes", 0.4),
    ("share of the later notes", 0.3),
];
/// The same for the time of any note of the scale.
const MUCH_TIME: f64 = 0.2;
/// Features of which a note that is not played has none, which other features say better.
const OF_PLAYED: [&str; 3] = [
    "share of time",
    "time of the fifth above",
    "time of the fourth above",
];

/// What a piece of evidence is about, and what it says.
pub struct Said {
    pub matter: Matter,
    /// With `{}` for the note, and `{n}` for another. `None` where it is not told: features overlap, and what one takes
    /// back of another's weight is no reason that a musician would give.
    pub words: Option<String>,
    /// Semitones from the note up to the other.
    pub up: i64,
}

/// How much of a feature a note has.
#[derive(Clone, Copy, PartialEq)]
enum Amount {
    /// So much that it can be said.
    Much,
    /// No less than the mean note, and not much.
    Middling,
    /// Less than the mean note.
    Little,
    None,
}

fn amount(e: &Evidence, much_from: f64) -> Amount {
    match e.value {
        v if v > e.usual && v >= much_from => Amount::Much,
        v if v > e.usual => Amount::Middling,
        0.0 => Amount::None,
        _ => Amount::Little,
    }
}

/// Puts a piece of evidence into words.
pub fn said(e: &Evidence) -> Said {
    let named = MUCH_FROM.iter().find(|m| m.0 == e.what);
    let amount = amount(e, named.map_or(0.0, |m| m.1));
    match WORDS.iter().find(|w| w.0 == e.what) {
        Some(&(_, matter, side, much, little)) => {
            let is_for = e.weight > 0.0;
            let makes_sense = match side {
                For => (amount == Amount::Much) == is_for,
                Against => (amount == Amount::Much) != is_for,
                Either => true,
            };
            let words = match amount {
                Amount::Much => much,
                Amount::Middling => "",
                Amount::None if OF_PLAYED.contains(&e.what.as_str()) => "",
                Amount::Little | Amount::None => little,
            };
            Said {
                matter,
                words: (makes_sense && !words.is_empty())
                    .then(|| words.replace("{5}", "{n}").replace("{4}", "{n}")),
                up: if much.starts_with("{4}") { 5 } else { 7 },
            }
        }
        None => of_scale(e),
    }
}

/// What a feature of the notes above says; one without words keeps its name.
fn of_scale(e: &Evidence) -> Said {
    let found = ABOVE.iter().find_map(|&(before, behind, much, little)| {
        let number = e.what.strip_prefix(before)?.strip_suffix(behind)?;
        Some((before, number.parse().ok()?, much, little))
    });
    let Some((before, up, much, little)) = found else {
        return Said {
            matter: Scale,
            words: Some(format!("{} of {{}}", e.what)),
            up: 0,
        };
    };
    let is_time = before == TIME_ABOVE;
    let words = match amount(e, if is_time { MUCH_TIME } else { 0.0 }) {
        Amount::Much => Some(much),
        Amount::Middling => None,
        Amount::None if is_time => Some(NOT_PLAYED),
        Amount::Little | Amount::None => Some(little),
    };
    Said {
        matter: Scale,
        words: words.map(str::to_string),
        up,
    }
}
