//! What a student is told: one or two sentences, spoken to the student, that say what to do. A source that means
//! something else by the name adds one.

use super::instead::sounded_sentence;
use super::phrasing::{capitalised, clock, listed, minutes};
use super::spelling::{degree_name, names_of, with_octave};
use crate::modes::{Notation, Scale, Version, parse_note};
use crate::report::words::{counted, phrase, phrase_of, said, word};
use crate::review::playing::Silence;
use crate::review::{Assignment, Judgement, LimitMissed, Review, altered_degree};
use crate::units::PitchClassSet;

/// Wrong notes that a sentence names at the most.
const MOST_SLIPS: usize = 4;
/// A drift over the whole line is told from so many cents on; a degree that lies so many cents off in the mean of so many
/// notes, and so many degrees at the most. Engineering judgement: just thirds lie 14 cents from the grid.
const DRIFT_TOLD_CENTS: f64 = 25.0;
const DEGREE_TOLD_CENTS: f64 = 22.0;
const NOTES_TOLD: usize = 3;
const DEGREES_TOLD: usize = 2;
/// Sources that a sentence names at the most.
const MOST_SOURCES: usize = 2;
/// Up to this many semitones a transposition is told upward, beyond it downward.
const HALF_OCTAVE: usize = 6;

/// Which passage was judged.
pub fn passage_sentence((start_s, end_s): (f64, f64)) -> String {
    said!("told.part", from = minutes(start_s), to = minutes(end_s))
}

/// The explanation of a review.
pub fn explanation(assignment: &Assignment, review: &Review) -> String {
    let (Some(heard), None) = (&review.heard, review.silence) else {
        return silence(review.silence).to_string();
    };
    let name = asked_name(assignment, &review.scale);
    let first = match (review.misplaced.first(), &review.sounded) {
        (Some(_), _) => misplaced_sentence(review, &name),
        (None, Some(sounded)) => sounded_sentence(review, &name, sounded),
        (None, None) => verdict_sentence(review, &name, heard),
    };
    let sentences = [
        Some(first),
        right_by(assignment, review).or_else(|| meant(assignment, review)),
        details(review, heard),
        intonation(review, heard),
    ];
    sentences
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ")
}

fn silence(why: Option<Silence>) -> &'static str {
    word(match why {
        Some(Silence::FewNotes) => "told.few_notes",
        Some(Silence::NoScale) => "told.no_scale",
        _ => "told.no_notes",
    })
}

/// The asked scale as the teacher called it, so that the student finds it again; the label where it was written as notes,
/// steps or degrees.
fn asked_name(assignment: &Assignment, asked: &Scale) -> String {
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

/// Which degrees of a scale off the twelve notes were played elsewhere.
fn misplaced_sentence(review: &Review, name: &str) -> String {
    let told = review.misplaced.iter().map(|m| {
        let degree = degree_name(&review.asked, m.class);
        let values = [
            ("degree", degree.degree),
            ("band", m.band.to_string()),
            ("played", format!("{:.0}", m.cents)),
        ];
        phrase_of("told.misplaced_degree", &values)
    });
    let degrees: Vec<String> = told.collect();
    let values = [
        ("name", name.to_string()),
        ("home", review.scale.root_name()),
        ("degrees", listed(&degrees)),
        ("notes", review.scale.note_names().join(" ")),
    ];
    phrase_of("told.misplaced", &values)
}

/// The notes of a version in the cents of the scale that was asked, where that lies off the twelve notes.
pub fn notes_of(review: &Review, version: &Version) -> Vec<String> {
    if review.scale.version().is_some() {
        return version.note_names();
    }
    let moved = match review.judgement {
        Judgement::Transposed => version.centre().above(review.asked.centre()) as i64,
        _ => 0,
    };
    let names = version.notes().into_iter().map(|note| {
        let own = note.pitch_class().up(-moved);
        review.scale.name_as(note, own)
    });
    names.collect()
}

/// What was played, told beside the `name` of what was asked.
fn verdict_sentence(review: &Review, name: &str, heard: &Version) -> String {
    let asked = &review.asked;
    let key = match review.judgement {
        Judgement::AsAssigned | Judgement::Unusable => "told.as_asked",
        Judgement::SameRootOtherMode => "told.other_mode",
        Judgement::SameNotesOtherCentre => "told.other_centre",
        Judgement::Transposed => "told.transposed",
        Judgement::MissingDegree => "told.missing",
        Judgement::AlteredDegree => "told.altered",
        Judgement::Other => other_key(asked, heard),
    };
    let heard_notes = notes_of(review, heard).join(" ");
    let heard_name = match review.scale.version() {
        Some(_) => heard.to_string(),
        None if review.judgement == Judgement::Transposed => {
            let own = review.scale.root_cents();
            review.scale.from_root(heard.root(), own).label()
        }
        None => heard_notes.clone(),
    };
    let values = [
        ("name", name.to_string()),
        ("notes", review.scale.note_names().join(" ")),
        ("home", review.scale.root_name()),
        ("heard", heard_name),
        ("heard_notes", heard_notes),
        ("heard_home", heard.root().to_string()),
        ("distance", distance(asked, heard)),
        ("difference", difference(asked, heard)),
        ("altered", capitalised(&altered(asked, heard))),
        ("missing", missing(asked, heard)),
    ];
    phrase_of(key, &values)
}

/// Another scale: of what is at home elsewhere that is said first, of notes of the asked one that they are.
fn other_key(asked: &Version, heard: &Version) -> &'static str {
    match heard.set().is_subset(asked.set()) {
        _ if asked.centre() == heard.centre() => "told.other",
        true => "told.part_elsewhere",
        false => "told.other_home",
    }
}

/// "E (degree 2) and B (degree 6)".
fn missing(asked: &Version, heard: &Version) -> String {
    let left_out = less(asked.set(), heard.set()).from_centre(asked.centre());
    let names: Vec<String> = left_out
        .map(|class| {
            let d = degree_name(asked, class);
            phrase("told.degree", &[("note", &d.name), ("degree", &d.degree)])
        })
        .collect();
    listed(&names)
}

fn altered(asked: &Version, heard: &Version) -> String {
    let Some((wanted, played)) = altered_degree(asked.set(), heard.set()) else {
        return difference(asked, heard);
    };
    let degree = degree_name(asked, wanted);
    let played = heard.name_of(played).to_string();
    let values = [
        ("played", played.as_str()),
        ("note", &degree.name),
        ("degree", &degree.degree),
    ];
    phrase("told.in_place_of", &values)
}

/// "play E and B and leave out Eb and Bb", or the degree where it is one only.
fn difference(asked: &Version, heard: &Version) -> String {
    if asked.centre() == heard.centre() && altered_degree(asked.set(), heard.set()).is_some() {
        return altered(asked, heard);
    }
    let wanted = names_of(less(asked.set(), heard.set()), asked);
    let extra = names_of(less(heard.set(), asked.set()), heard);
    changes(&wanted, &extra, &asked.root().to_string())
}

/// "play E and B and leave out Eb and Bb".
pub(super) fn changes(wanted: &[String], extra: &[String], home: &str) -> String {
    let key = match (wanted, extra) {
        ([], []) => "told.make_home",
        ([], _) => "told.leave_out",
        ([_], []) => "told.lacking.one",
        (_, []) => "told.lacking.many",
        _ => "told.play_and_leave_out",
    };
    let (wanted, extra) = (listed(wanted), listed(extra));
    phrase(
        key,
        &[("home", home), ("wanted", &wanted), ("extra", &extra)],
    )
}

/// What is in the one set and not in the other.
fn less(a: PitchClassSet, b: PitchClassSet) -> PitchClassSet {
    a.iter().filter(|&c| !b.contains(c)).collect()
}

fn distance(asked: &Version, heard: &Version) -> String {
    let up = asked.centre().above(heard.centre());
    let (key, semitones) = match up <= HALF_OCTAVE {
        true => ("told.higher", up),
        false => ("told.lower", 12 - up),
    };
    let semitones = counted("semitones.one", "semitones.many", semitones);
    phrase(key, &[("semitones", &semitones)])
}

/// That another source is on the student's side.
fn right_by(assignment: &Assignment, review: &Review) -> Option<String> {
    let first = review.right_by.first()?;
    let sources: Vec<String> = review
        .right_by
        .iter()
        .filter(|r| r.name == first.name)
        .take(MOST_SOURCES)
        .map(|r| r.source.clone())
        .collect();
    let key = match assignment.is_disputed() {
        true => "told.sources_differ",
        false => "told.right_by",
    };
    let values = [
        ("name", first.name.as_str()),
        ("sources", &listed(&sources)),
    ];
    Some(phrase(key, &values))
}

/// Whose meaning of a name it is that the verdict is about, where sources use the name differently.
fn meant(assignment: &Assignment, review: &Review) -> Option<String> {
    let own = assignment.meanings.iter().find(|m| m.scale == review.scale);
    let sources: Vec<String> = own
        .filter(|_| assignment.is_disputed())?
        .sources
        .iter()
        .take(MOST_SOURCES)
        .cloned()
        .collect();
    let values = [
        ("name", asked_name(assignment, &review.scale)),
        ("notes", review.scale.note_names().join(" ")),
        ("sources", listed(&sources)),
    ];
    Some(phrase_of("told.meant", &values))
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

/// How well in tune a line was that is otherwise as asked, where that is worth a word.
fn intonation(review: &Review, heard: &Version) -> Option<String> {
    if review.judgement != Judgement::AsAssigned {
        return None;
    }
    let drift = (review.drift_cents.abs() >= DRIFT_TOLD_CENTS).then(|| {
        let key = match review.drift_cents < 0.0 {
            true => "told.sinks",
            false => "told.rises",
        };
        said!(key, cents = to_five(review.drift_cents))
    });
    let mut off: Vec<(f64, String)> = review
        .intonation
        .iter()
        .filter(|d| d.count >= NOTES_TOLD)
        .filter_map(|d| Some((d.mean_cents?, degree_name(heard, d.class))))
        .filter(|(cents, _)| cents.abs() >= DEGREE_TOLD_CENTS)
        .map(|(cents, d)| {
            let key = match cents < 0.0 {
                true => "told.low",
                false => "told.high",
            };
            (cents, said!(key, note = d.name, cents = to_five(cents)))
        })
        .collect();
    off.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
    let told: Vec<String> = drift
        .into_iter()
        .chain(off.into_iter().take(DEGREES_TOLD).map(|(_, told)| told))
        .collect();
    (!told.is_empty()).then(|| format!("{}.", capitalised(&listed(&told))))
}

/// Cents without their sign, to the nearest five: a singer's mean is no surer.
fn to_five(cents: f64) -> i64 {
    5 * (cents.abs() / 5.0).round() as i64
}

/// A limit that was not kept, as a sentence without its full stop.
pub fn limit_text(limit: &LimitMissed, asked: &Version) -> String {
    match limit {
        LimitMissed::Intonation { class, cents } => {
            let key = if *cents > 0.0 {
                "told.sharp"
            } else {
                "told.flat"
            };
            let (note, cents) = (
                asked.name_of(*class).to_string(),
                format!("{:.0}", cents.abs()),
            );
            phrase(key, &[("note", &note), ("cents", &cents)])
        }
        LimitMissed::Direction { upward: true } => word("told.not_upward").to_string(),
        LimitMissed::Direction { upward: false } => word("told.not_downward").to_string(),
        LimitMissed::Octaves { semitones, asked } => {
            let asked = (12 * i64::from(*asked)).to_string();
            let values = [("semitones", semitones.to_string()), ("asked", asked)];
            phrase_of("told.span", &values)
        }
    }
}

fn slip_sentence(review: &Review, heard: &Version) -> String {
    let told: Vec<String> = review
        .slips
        .iter()
        .take(MOST_SLIPS)
        .map(|n| {
            let (note, time) = (with_octave(n, heard), clock(n.start_s));
            phrase("told.slip_at", &[("note", &note), ("time", &time)])
        })
        .collect();
    let key = match review.slips.len() {
        1 => "told.slips.one",
        n if n <= MOST_SLIPS => "told.slips.many",
        _ => "told.slips.more",
    };
    let more = review.slips.len().saturating_sub(MOST_SLIPS).to_string();
    phrase(key, &[("notes", &listed(&told)), ("count", &more)])
}
