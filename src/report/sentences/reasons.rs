//! Why a note is taken for the centre, in a musician's words.
//!
//! The scale stage scores many features that overlap; what they say of one matter, such as where the line ends, is
//! added up here and told by the feature that weighs most.

use super::evidence_words::{MATTERS, Matter, Said, said};
use crate::report::words::{filled, phrase, word};
use crate::scale::centre::best;
use crate::scale::{Evidence, ScaleEstimate, Verdict};
use crate::units::PitchClass;

/// Matters that weigh less than this are not told, in log odds.
const LEAST_WEIGHT: f64 = 0.1;

/// The confidence of a centre that was given; an inferred one never reaches it.
const GIVEN: f64 = 1.0;
/// Reasons that a sentence names for a note at the most.
const MOST_TOLD: usize = 3;

/// A piece of evidence and what it says.
type Part<'a> = (&'a Evidence, Said);

/// What one matter says for or against a note.
#[derive(Debug, Clone, PartialEq)]
pub struct Reason {
    /// The note that it is about.
    pub class: PitchClass,
    /// What it is about.
    pub matter: Matter,
    /// The feature that weighs most, as measured.
    pub value: f64,
    /// What the matter adds to the score of the note, in log odds.
    pub weight: f64,
    words: &'static str,
    other: PitchClass,
}

impl Reason {
    /// In plain words: `note` stands for the note, `name` names another.
    pub fn told(&self, note: &str, name: impl Fn(PitchClass) -> String) -> String {
        filled(self.words, &[("note", note), ("other", &name(self.other))])
    }

    /// One matter of one note, told by the feature that weighs most of those that agree with the whole.
    fn new(class: PitchClass, matter: Matter, parts: &[&Part]) -> Option<Self> {
        let weight: f64 = parts.iter().map(|p| p.0.weight).sum();
        let told = parts
            .iter()
            .filter(|p| p.0.weight * weight > 0.0 && p.1.words.is_some());
        let (evidence, said) =
            *told.max_by(|a, b| a.0.weight.abs().total_cmp(&b.0.weight.abs()))?;
        (weight.abs() >= LEAST_WEIGHT).then(|| Self {
            class,
            matter,
            value: evidence.value,
            weight,
            words: said.words.unwrap_or_default(),
            other: class.up(said.up),
        })
    }
}

/// What speaks for and against each note of the evidence, the note that comes first there before the next; the
/// weightiest first.
pub fn reasons(evidence: &[Evidence]) -> Vec<Reason> {
    let parts: Vec<Part> = evidence.iter().map(|e| (e, said(e))).collect();
    let mut classes: Vec<PitchClass> = evidence.iter().map(|e| e.class).collect();
    classes.dedup();
    let reason = |class, matter| {
        let own = |p: &&Part| p.0.class == class && p.1.matter == matter;
        Reason::new(class, matter, &parts.iter().filter(own).collect::<Vec<_>>())
    };
    let of = |class| {
        let mut own: Vec<Reason> = MATTERS.iter().filter_map(|&m| reason(class, m)).collect();
        own.sort_by(|a, b| b.weight.abs().total_cmp(&a.weight.abs()));
        own
    };
    classes.into_iter().flat_map(of).collect()
}

/// Sentences that name what speaks for the centre and for the next likely one, and what decides where they are close.
pub fn decided_by(estimate: &ScaleEstimate, name: impl Fn(PitchClass) -> String) -> String {
    let Some(home) = estimate.centre else {
        return String::new();
    };
    if estimate.centre_confidence == GIVEN {
        return phrase("decided.given", &[("note", &name(home))]);
    }
    let reasons = reasons(&estimate.evidence);
    let next = reasons.iter().map(|r| r.class).find(|c| *c != home);
    let mut sentences = vec![speaks_for(home, "decided.for", &reasons, &name)];
    sentences.extend(next.map(|n| speaks_for(n, "decided.for_next", &reasons, &name)));
    if estimate.verdict == Verdict::Ambiguous {
        sentences.extend(next.and_then(|n| question(home, n, &reasons, &name)));
        sentences.extend(disagreement(estimate, &name));
    }
    sentences.retain(|s| !s.is_empty());
    sentences.join(" ")
}

/// "For D: the line ends on it; it sounds longest in all."
fn speaks_for(
    class: PitchClass,
    key: &'static str,
    reasons: &[Reason],
    name: &impl Fn(PitchClass) -> String,
) -> String {
    let told: Vec<String> = reasons
        .iter()
        .filter(|r| r.class == class && r.weight > 0.0)
        .take(MOST_TOLD)
        .map(|r| r.told(word("evidence.it"), name))
        .collect();
    if told.is_empty() {
        return String::new();
    }
    phrase(
        key,
        &[("note", &name(class)), ("reasons", &told.join("; "))],
    )
}

/// What would make one of two close centres the centre, and what the other; both have to have something of their own.
fn question(
    home: PitchClass,
    next: PitchClass,
    reasons: &[Reason],
    name: &impl Fn(PitchClass) -> String,
) -> Option<String> {
    let weight = |class: PitchClass, matter: Matter| {
        let own = |r: &&Reason| r.class == class && r.matter == matter;
        reasons.iter().find(own).map_or(0.0, |r| r.weight)
    };
    let strongest = |class: PitchClass, other: PitchClass| {
        let lead =
            |r: &&Reason| r.class == class && r.weight > 0.0 && r.weight > weight(other, r.matter);
        Some(reasons.iter().find(lead)?.told(&name(class), name))
    };
    let (one, other) = (strongest(home, next)?, strongest(next, home)?);
    Some(phrase(
        "decided.question",
        &[("one", &one), ("other", &other)],
    ))
}

/// Where the answer depends on what is assumed of the music: which assumption favours which centre.
fn disagreement(estimate: &ScaleEstimate, name: &impl Fn(PitchClass) -> String) -> Option<String> {
    let (free, usual) = (best(&estimate.neutral), best(&estimate.common_practice));
    (free != usual).then(|| {
        phrase(
            "decided.disagreement",
            &[("free", &name(free)), ("usual", &name(usual))],
        )
    })
}
