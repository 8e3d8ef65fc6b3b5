//! Small parts of sentences: lists, ordinals, counts, times.

/// Several things in a sentence: "a, b and c".
pub fn listed(words: &[String]) -> String {
    match words.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, others)) => format!("{} and {last}", others.join(", ")),
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
        "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth",
        "tenth", "eleventh", "twelfth",
    ];
    WORDS[number.clamp(1, WORDS.len()) - 1]
}

/// "1 semitone", "2 semitones".
pub fn counted(number: usize, thing: &str) -> String {
    let plural = if number == 1 { "" } else { "s" };
    format!("{number} {thing}{plural}")
}

/// A time as a player's clock shows it: 3.2 s, 1:04.7.
pub fn clock(s: f64) -> String {
    if s < 60.0 {
        format!("{s:.1} s")
    } else {
        format!("{}:{:04.1}", (s / 60.0) as u64, s % 60.0)
    }
}
