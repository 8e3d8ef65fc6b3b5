//! What pages, reports, letters, warnings and errors say, from one table: another language is another table of the same
//! keys.
//!
//! **Takes** a key and the values of its places. **Gives** the text. The table is [`ENGLISH`] unless another was chosen
//! before the first word. In a text `{name}` stands for the value of that name; a key that ends in `.one` is for one
//! thing, its like in `.many` for several. Every stage may use it, as it may use [`crate::units`].
//!
//! Not in it: what only the command says (its help, its options, the rows of its pages in the terminal, the label books and
//! files of its user), names (of scales, sources, instruments and codings), and what the system or a decoder says of a
//! file, which an error sets in brackets.

use std::collections::BTreeMap;
use std::sync::OnceLock;

/// The English table, JSON: one object of texts by key.
pub const ENGLISH: &str = include_str!("en.json");

type Table = BTreeMap<String, String>;

static WORDS: OnceLock<Table> = OnceLock::new();

fn words() -> &'static Table {
    WORDS.get_or_init(|| serde_json::from_str(ENGLISH).unwrap_or_default())
}

/// Has all that is said from now on taken from another table, as JSON.
///
/// # Errors
/// A sentence where it is no table of texts, or something was said already.
pub fn choose(table: &str) -> Result<(), String> {
    let table = serde_json::from_str(table)
        .map_err(|e| format!("the table of words can't be read: {e}"))?;
    WORDS
        .set(table)
        .map_err(|_| "the table of words is chosen before anything is said".into())
}

/// The text of a key; the key itself where the table lacks it.
pub fn word(key: &'static str) -> &'static str {
    words().get(key).map_or(key, String::as_str)
}

/// The text of a key with its places filled in: `{name}` by the value of that name.
pub fn phrase(key: &'static str, values: &[(&str, &str)]) -> String {
    filled(word(key), values)
}

/// The same with values that were made for it.
pub fn phrase_of(key: &'static str, values: &[(&str, String)]) -> String {
    let values: Vec<(&str, &str)> = values.iter().map(|(k, v)| (*k, v.as_str())).collect();
    phrase(key, &values)
}

/// The text of a key with its places filled in by whatever can be displayed: `said!("told.sharp", note = n, cents = 12)`.
macro_rules! said {
    ($key:expr $(, $name:ident = $value:expr)* $(,)?) => {
        $crate::words::phrase_of($key, &[$((stringify!($name), $value.to_string())),*])
    };
}
pub(crate) use said;

/// A text with its places filled in, each once, so that braces in a value stay as they are.
pub fn filled(text: &str, values: &[(&str, &str)]) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        out.push_str(before);
        let named = after
            .split_once('}')
            .and_then(|(name, left)| Some((values.iter().find(|v| v.0 == name)?.1, left)));
        rest = match named {
            Some((value, left)) => {
                out.push_str(value);
                left
            }
            None => {
                out.push('{');
                after
            }
        };
    }
    out + rest
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

/// A number with its sign, a true minus; what rounds to nothing has none.
pub fn signed(x: f64, places: usize) -> String {
    let text = format!("{:.places$}", x.abs());
    match (text.bytes().any(|b| (b'1'..=b'9').contains(&b)), x < 0.0) {
        (false, _) => text,
        (true, true) => format!("\u{2212}{text}"),
        (true, false) => format!("+{text}"),
    }
}

/// The most that an inference is told to be sure; shares of time may be whole.
const MOST_SURE: f64 = 0.99;

/// A probability as whole percent; what was inferred is never told as certain.
pub fn sure(x: f64) -> String {
    percent(x.min(MOST_SURE))
}

/// A part of a whole as whole percent, its sign not parted from it; what is there at all is never nothing.
pub fn percent(x: f64) -> String {
    match (100.0 * x).round() {
        0.0 if x > 0.0 => word("share.under").replace(" %", "\u{a0}%"),
        whole => format!("{whole:.0}\u{a0}%"),
    }
}
