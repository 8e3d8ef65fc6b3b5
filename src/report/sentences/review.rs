//! What a student is told: one or two sentences, spoken to the student, that say what to do. A source that means
//! something else by the name adds one.

use super::phrasing::{capitalised, clock, counted, listed, minutes};
use super::spelling::{degree_name, names_of, with_octave};
use crate::modes::{Notation, Version, parse_note};
use crate::review::playing::Silence;
use crate::review::{Assignment, Judgement, LimitMissed, Review, altered_degree};
use crate::units::PitchClassSet;

/// Wrong notes that a sentence names at the most.
const MOST_SLIPS: usize = 4;
/// Sources that a sentence names at the most.
const MOST_SOURCES: usize = 2;
/// Up to this many semitones a transposition is told upward, beyond it downward.
const HALF_OCTAVE: usize = 6;

/// Which passage was judged.
pub fn passage_sentence((start_s, end_s): (f64, f64)) -> String {
    format!(
        "Judged by what is played from {} to {}.",
        minutes(start_s),
        minutes(end_s)
    )
}

/// The explanation of a review.
pub fn explanation(assignment: &Assignment, review: &Review) -> String {
    let (Some(heard), None) = (&review.heard, review.silence) else {
        return silence(review.silence).to_string();
    };
    let name = asked_name(assignment, &review.asked);
    let first = verdict_sentence(review.judgement, &name, &review.asked, heard);
    let sentences = [
        Some(first),
        right_by(assignment, review),
        details(review, heard),
    ];
    sentences
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ")
}

fn silence(why: Option<Silence>) -> &'static str {
    match why {
        Some(Silence::FewNotes) => {
            "There are too few notes in this recording to hear a scale. Please play the whole scale, one note after another, and record it again."
        }
        Some(Silence::NoScale) => {
            "I hear no scale: it sounds like someone speaking. Please check that the right file was sent, or record the line again without talking."
        }
        _ => {
            "I hear no notes in this recording. Please check that the right file was sent and that the microphone was on."
        }
    }
}

/// The asked scale as the teacher called it, so that the student finds it again; the label where it was written as notes,
/// steps or degrees.
fn asked_name(assignment: &Assignment, asked: &Version) -> String {
    let text = assignment.text.as_str();
    let is_note = |word: &str| {
        [Notation::International, Notation::German]
            .into_iter()
            .any(|notation| parse_note(word, notation).is_some())
    };
    let is_word = |word: &str| word.starts_with(char::is_alphabetic) && !is_note(word);
    let is_named = !text.contains([':', '(', '[']) && text.split_whitespace().any(is_word);
    if is_named {
        text.to_string()
    } else {
        asked.label()
    }
}

/// What was played, told beside the `name` of what was asked.
fn verdict_sentence(kind: Judgement, name: &str, asked: &Version, heard: &Version) -> String {
    let notes = |v: &Version| v.note_names().join(" ");
    let home = asked.root();
    match kind {
        Judgement::AsAssigned | Judgement::Unusable => {
            format!("You played {name} ({}), as asked.", notes(heard))
        }
        Judgement::SameRootOtherMode => format!(
            "{name} was asked: you started from {home} but played another mode of the family, {heard} ({}): {}.",
            notes(heard),
            difference(asked, heard)
        ),
        Judgement::SameNotesOtherCentre => format!(
            "Your notes are those of {name}, but the line is at home on {} ({heard}): begin, rest and end on {home}.",
            heard.root()
        ),
        Judgement::Transposed => format!(
            "You played the scale of {name} from another note: {heard} ({}). Start on {home}, {}.",
            notes(heard),
            distance(asked, heard)
        ),
        Judgement::MissingDegree => {
            let left_out = asked
                .set()
                .from_centre(asked.centre())
                .filter(|c| !heard.set().contains(*c));
            let names: Vec<String> = left_out
                .map(|c| degree_name(asked, c))
                .map(|d| format!("{} (degree {})", d.name, d.degree))
                .collect();
            format!(
                "You left out {} of {name}: play all of {}.",
                listed(&names),
                notes(asked)
            )
        }
        Judgement::AlteredDegree => format!(
            "{}: {name} is {}.",
            capitalised(&altered(asked, heard)),
            notes(asked)
        ),
        Judgement::Other => format!(
            "{name} ({}) was asked, but this sounds like {heard} ({}): {}.",
            notes(asked),
            notes(heard),
            difference(asked, heard)
        ),
    }
}

fn altered(asked: &Version, heard: &Version) -> String {
    match altered_degree(asked.set(), heard.set()) {
        Some((wanted, played)) => {
            let degree = degree_name(asked, wanted);
            format!(
                "you played {} where {} (degree {}) belongs",
                heard.name_of(played),
                degree.name,
                degree.degree
            )
        }
        None => difference(asked, heard),
    }
}

/// "play E and B in place of Eb and Bb", or the degree where it is one only.
fn difference(asked: &Version, heard: &Version) -> String {
    let less = |a: PitchClassSet, b: PitchClassSet| -> PitchClassSet {
        a.iter().filter(|&c| !b.contains(c)).collect()
    };
    let wanted = less(asked.set(), heard.set());
    let extra = less(heard.set(), asked.set());
    if asked.centre() == heard.centre() && altered_degree(asked.set(), heard.set()).is_some() {
        return altered(asked, heard);
    }
    let (wanted, extra) = (
        listed(&names_of(wanted, asked)),
        listed(&names_of(extra, heard)),
    );
    match (wanted.is_empty(), extra.is_empty()) {
        (true, true) => format!("make {} the home note", asked.root()),
        (true, false) => format!("leave out {extra}"),
        (false, true) if wanted.contains(" and ") => format!("{wanted} are lacking"),
        (false, true) => format!("{wanted} is lacking"),
        (false, false) => format!("play {wanted} and leave out {extra}"),
    }
}

fn distance(asked: &Version, heard: &Version) -> String {
    let up = asked.centre().above(heard.centre());
    if up <= HALF_OCTAVE {
        format!("{} higher", counted(up, "semitone"))
    } else {
        format!("{} lower", counted(12 - up, "semitone"))
    }
}

/// That another source is on the student's side.
fn right_by(assignment: &Assignment, review: &Review) -> Option<String> {
    let first = review.right_by.first()?;
    let sources: Vec<String> = review
        .right_by
        .iter()
        .take(MOST_SOURCES)
        .map(|r| r.source.clone())
        .collect();
    let sources = listed(&sources);
    let name = &first.name;
    if !assignment.is_disputed() {
        return Some(format!(
            "By another source it would be right: {sources} calls what you played {name}."
        ));
    }
    Some(format!(
        "Sources differ on {name}; yours is that of {sources}."
    ))
}

/// Wrong notes, and what else was asked.
fn details(review: &Review, heard: &Version) -> Option<String> {
    let limits: Vec<String> = review
        .limits_missed
        .iter()
        .map(|l| limit_text(l, &review.asked))
        .collect();
    let limits = (!limits.is_empty()).then(|| capitalised(&listed(&limits)));
    match (review.slips.is_empty(), limits) {
        (true, None) => None,
        (true, Some(limits)) => Some(format!("{limits}.")),
        (false, None) => Some(slip_sentence(review, heard)),
        (false, Some(limits)) => Some(format!("{} {limits}.", slip_sentence(review, heard))),
    }
}

/// A limit that was not kept, as a sentence without its full stop.
pub fn limit_text(limit: &LimitMissed, asked: &Version) -> String {
    match limit {
        LimitMissed::Intonation { class, cents } => {
            let side = if *cents > 0.0 { "sharp" } else { "flat" };
            format!(
                "{} is {:.0} cents {side}",
                asked.name_of(*class),
                cents.abs()
            )
        }
        LimitMissed::Direction { upward } => {
            let way = if *upward { "upward" } else { "downward" };
            format!("not every step of the scale is played {way}")
        }
        LimitMissed::Octaves { semitones, asked } => {
            format!(
                "the line spans {semitones} semitones, {} are asked",
                12 * i64::from(*asked)
            )
        }
    }
}

fn slip_sentence(review: &Review, heard: &Version) -> String {
    let told: Vec<String> = review
        .slips
        .iter()
        .take(MOST_SLIPS)
        .map(|n| format!("{} at {}", with_octave(n, heard), clock(n.start_s)))
        .collect();
    let more = review.slips.len().saturating_sub(MOST_SLIPS);
    let rest = if more > 0 {
        format!(", and {more} more")
    } else {
        String::new()
    };
    let verb = if review.slips.len() == 1 {
        "Watch one note outside it"
    } else {
        "Watch these notes outside it"
    };
    format!("{verb}: {}{rest}.", listed(&told))
}
