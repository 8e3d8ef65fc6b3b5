//! Small parts of sentences: lists, ordinals, counts, times.

use crate::report::words::{phrase, word};

/// Several things in a sentence: "a, b and c".
pub fn listed(words: &[String]) -> String {
    joined(words, "list.and")
}

/// One of several things in a sentence: "a, b or c".
pub fn either(words: &[String]) -> String {
    joined(words, "list.or")
}

fn joined(words: &[String], last_two: &'static str) -> String {
    let comma =
        |first: String, next: &String| phrase("list.comma", &[("first", &first), ("next", next)]);
    match words.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, [first, others @ ..])) => {
            let before = others.iter().fold(first.clone(), comma);
            phrase(last_two, &[("first", &before), ("last", last)])
        }
    }
}

/// The text with a capital at its start.
pub fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}

/// "first", "second" and so on up to the twelfth.
pub fn ordinal(number: usize) -> &'static str {
    const WORDS: [&str; 12] = [
        "ordinal.1",
        "ordinal.2",
        "ordinal.3",
        "ordinal.4",
        "ordinal.5",
        "ordinal.6",
        "ordinal.7",
        "ordinal.8",
        "ordinal.9",
        "ordinal.10",
        "ordinal.11",
        "ordinal.12",
    ];
    word(WORDS[number.clamp(1, WORDS.len()) - 1])
}

/// "1 semitone", "2 semitones".
pub fn counted(number: usize, thing: &str) -> String {
    let plural = if number == 1 { "" } else { "s" };
    format!("{number} {thing}{plural}")
}

/// A time as a player's clock shows it: "3.2 s", from a minute on "1:05".
pub fn clock(s: f64) -> String {
    let tenths = (10.0 * s.max(0.0)).round();
    if tenths < 600.0 {
        return format!("{:.1} s", tenths / 10.0);
    }
    let seconds = s.round() as u64;
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

/// A time as minutes and seconds: "0:05", "12:40".
pub fn minutes(s: f64) -> String {
    let seconds = s.max(0.0).round() as u64;
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

/// A share or a probability: "37 %"; what is there but rounds to nothing is "under 1 %".
pub fn percent(x: f64) -> String {
    let percent = 100.0 * x.max(0.0);
    match percent.round() {
        0.0 if percent > 0.0 => word("share.under").to_string(),
        whole => format!("{:.0} %", whole.abs()),
    }
}

/// The most that an inferred answer is called sure.
pub const MOST_SURE: f64 = 0.99;

/// How sure an answer is: what was inferred is never told as certain, what was given beforehand is.
pub fn sureness(x: f64) -> String {
    percent(capped(x))
}

/// The same as a number.
pub fn capped(x: f64) -> f64 {
    if x < 1.0 { x.min(MOST_SURE) } else { x }
}
