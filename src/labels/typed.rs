//! Names as people type them: with a word before or after that says what kind of name it is.

/// Such words, with the traditions that they point to; none where they only say "scale".
const KINDS: [(&str, &[&str]); 24] = [
    ("scale", &[]),
    ("mode", &[]),
    ("Tonleiter", &[]),
    ("gamme", &[]),
    ("scala", &[]),
    ("escala", &[]),
    ("maqam", &["Arab maqam"]),
    ("maqaam", &["Arab maqam"]),
    ("makam", &["Turkish makam"]),
    ("raga", &["Hindustani", "Carnatic"]),
    ("raag", &["Hindustani", "Carnatic"]),
    ("rag", &["Hindustani", "Carnatic"]),
    ("ragam", &["Carnatic"]),
    ("thaat", &["Hindustani"]),
    ("that", &["Hindustani"]),
    ("melakarta", &["Carnatic"]),
    ("mela", &["Carnatic"]),
    ("dastgah", &["Persian dastgah"]),
    ("avaz", &["Persian dastgah"]),
    ("dromos", &["Greek dromoi"]),
    ("qenet", &["Ethiopia"]),
    ("kignit", &["Ethiopia"]),
    ("koto", &["Japan"]),
    ("steiger", &["Jewish music"]),
];

/// A name without the word that says its kind.
pub struct KindOfName<'a> {
    /// The name alone.
    pub bare: &'a str,
    /// Where it is used; any where empty.
    pub traditions: &'static [&'static str],
}

/// The name without the word of its kind; `None` if it has no such word, or no other.
pub fn kind_of_name(name: &str) -> Option<KindOfName<'_>> {
    let name = name.trim();
    let (first, after) = name.split_once(char::is_whitespace)?;
    let (before, last) = name.rsplit_once(char::is_whitespace)?;
    let (bare, traditions) = traditions_of(first)
        .map(|traditions| (after, traditions))
        .or_else(|| Some((before, traditions_of(last)?)))?;
    Some(KindOfName {
        bare: bare.trim(),
        traditions,
    })
}

fn traditions_of(word: &str) -> Option<&'static [&'static str]> {
    let found = KINDS
        .iter()
        .find(|(kind, _)| kind.eq_ignore_ascii_case(word));
    found.map(|&(_, traditions)| traditions)
}
