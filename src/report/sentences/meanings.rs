//! How the meanings of several questions relate, with as few sentences as say it: what can be the same comes first, what
//! has nothing to do with each other last and together.

use super::item::{Asked, Marked, marked};
use super::phrasing::{capitalised, either};
use super::relations::pair_sentence;
use crate::modes::{Pair, Relation, relation};
use crate::report::words::{phrase, word};

/// Two meanings and how they relate.
struct Compared<'a> {
    a: &'a Marked<'a>,
    b: &'a Marked<'a>,
    pair: Pair,
}

/// How the meanings of different questions relate; of a single question how its own do.
pub fn meaning_sentences(asked: &[Asked]) -> Vec<String> {
    let meanings = marked(asked);
    let is_compared = |a: &Marked, b: &Marked| a.question != b.question || asked.len() == 1;
    let mut compared = Vec::new();
    for (k, a) in meanings.iter().enumerate() {
        for b in meanings[k + 1..].iter().filter(|b| is_compared(a, b)) {
            let pair = relation(&a.version, &b.version);
            compared.push(Compared { a, b, pair });
        }
    }
    compared.sort_by_key(|one| rank(one.pair.relation));
    let (unrelated, related): (Vec<_>, Vec<_>) = compared
        .iter()
        .partition(|one| one.pair.relation == Relation::Unrelated);
    let mut sentences = vec![summary(asked, &related)];
    let is_told = |one: &&&Compared| asked.len() == 1 || one.pair.relation != Relation::Same;
    sentences.extend(related.iter().filter(is_told).map(|one| sentence(one)));
    sentences.extend(unrelated_sentence(&meanings, &unrelated));
    sentences
}

/// What can be the same is told first.
fn rank(relation: Relation) -> usize {
    match relation {
        Relation::Same => 0,
        Relation::SameNotesOtherCentre => 1,
        Relation::SameRootOtherMode => 2,
        Relation::Transposed | Relation::OtherModeTransposed => 3,
        Relation::Contains | Relation::ContainedIn => 4,
        Relation::Unrelated => 5,
    }
}

/// Whether the questions can mean the same scale.
fn summary(asked: &[Asked], related: &[&Compared]) -> String {
    if let [one] = asked {
        let count = one.meanings.len().to_string();
        let values = [("name", one.input.trim()), ("count", &count)];
        return phrase("meanings.differ", &values);
    }
    let same: Vec<String> = related
        .iter()
        .filter(|one| one.pair.relation == Relation::Same)
        .map(|one| {
            phrase(
                "meanings.is",
                &[("one", &one.a.mark), ("other", &one.b.mark)],
            )
        })
        .collect();
    match same.is_empty() {
        true => word("meanings.never").to_string(),
        false => phrase("meanings.same_where", &[("readings", &either(&same))]),
    }
}

fn sentence(one: &Compared) -> String {
    pair_sentence(
        &one.a.version,
        &one.b.version,
        one.pair,
        (&one.a.mark, &one.b.mark),
    )
}

/// All pairs of different families in one sentence, by the first of each pair.
fn unrelated_sentence(meanings: &[Marked], unrelated: &[&Compared]) -> Option<String> {
    let with = |first: &Marked| {
        let others: Vec<String> = unrelated
            .iter()
            .filter(|one| one.a.mark == first.mark)
            .map(|one| one.b.mark.clone())
            .collect();
        let values = [("first", first.mark.as_str()), ("last", &either(&others))];
        (!others.is_empty()).then(|| phrase("list.and", &values))
    };
    let told: Vec<String> = meanings.iter().filter_map(with).collect();
    (!told.is_empty()).then(|| {
        capitalised(&phrase(
            "meanings.unrelated",
            &[("pairs", &told.join("; "))],
        ))
    })
}
