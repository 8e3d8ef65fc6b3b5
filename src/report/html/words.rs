//! All words that pages and reports add to the library's own sentences, from one table: another language is another
//! table.

use std::collections::BTreeMap;
use std::sync::LazyLock;

/// The table, for the page, which takes its words from it too.
pub const TABLE: &str = include_str!("words.json");

static WORDS: LazyLock<BTreeMap<String, String>> =
    LazyLock::new(|| serde_json::from_str(TABLE).unwrap_or_default());

/// The text of a key; the key itself where the table lacks it.
pub fn word(key: &'static str) -> &'static str {
    WORDS.get(key).map_or(key, String::as_str)
}

/// The text of a key with its places filled in: `{name}` by the value of that name.
pub fn phrase(key: &'static str, values: &[(&str, &str)]) -> String {
    values
        .iter()
        .fold(word(key).to_string(), |text, (name, value)| {
            text.replace(&format!("{{{name}}}"), value)
        })
}

/// One thing or several: the table has the key with `.one` and `.many`.
pub fn counted(one: &'static str, many: &'static str, count: usize) -> String {
    let key = if count == 1 { one } else { many };
    phrase(key, &[("count", &count.to_string())])
}

/// A time as a player's clock shows it: 0:03.2, 1:04.7.
pub fn clock(seconds: f64) -> String {
    let tenths = (10.0 * seconds.max(0.0)).round() as u64;
    format!("{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10)
}

/// A length of time in whole seconds: 0:03, 1:05.
pub fn whole_clock(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    format!("{}:{:02}", whole / 60, whole % 60)
}

/// The most that an inference is told to be sure; shares of time may be whole.
const MOST_SURE: f64 = 0.99;

/// A probability as whole percent; what was inferred is never told as certain.
pub fn sure(x: f64) -> String {
    percent(x.min(MOST_SURE))
}

/// A part of a whole as whole percent, its sign not parted from it.
pub fn percent(x: f64) -> String {
    format!("{:.0}\u{a0}%", 100.0 * x)
}
