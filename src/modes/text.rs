//! How typed text is levelled before it is compared: case, spaces, hyphens, macrons and unicode accidentals don't matter.

/// Letters with marks as they occur in transliterated names, with the plain letter.
const PLAIN_LETTERS: [(&str, char); 12] = [
    ("āáàâäãå", 'a'),
    ("ēéèêë", 'e'),
    ("īíìîïı", 'i'),
    ("ōóòôöõ", 'o'),
    ("ūúùûü", 'u'),
    ("çćč", 'c'),
    ("şšśṣ", 's'),
    ("ğġ", 'g'),
    ("ṭţ", 't'),
    ("ḍ", 'd'),
    ("ṇñṅ", 'n'),
    ("ḥ", 'h'),
];

/// A name or label without case, spaces, hyphens, apostrophes and marks on letters: two spellings of one name are alike.
pub fn key(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars().flat_map(char::to_lowercase) {
        match letter {
            '♭' => out.push('b'),
            '♯' => out.push('#'),
            '♮' => out.push_str("natural"),
            '–' | '—' | '-' | '_' | '\'' | '’' | '`' | '"' | '.' => {}
            _ if letter.is_whitespace() || is_combining_mark(letter) => {}
            _ => out.push(plain(letter)),
        }
    }
    out
}

fn plain(letter: char) -> char {
    if letter.is_ascii() {
        return letter;
    }
    PLAIN_LETTERS
        .iter()
        .find(|(marked, _)| marked.contains(letter))
        .map_or(letter, |&(_, plain)| plain)
}

/// Unicode's combining diacritical marks, as in decomposed text.
fn is_combining_mark(letter: char) -> bool {
    ('\u{300}'..='\u{36f}').contains(&letter)
}
