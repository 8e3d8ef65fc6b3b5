//! The modes' names in German, French, Italian and Spanish (common practice, from memory).

use super::text::key;

/// Each mode with its other names, levelled as [`key`] does it.
const MODES: [(&str, &[&str]); 7] = [
    ("Ionian", &["ionisch", "ionien", "ionico", "jonico"]),
    ("Dorian", &["dorisch", "dorien", "dorico"]),
    ("Phrygian", &["phrygisch", "phrygien", "frigio"]),
    ("Lydian", &["lydisch", "lydien", "lidio"]),
    (
        "Mixolydian",
        &["mixolydisch", "mixolydien", "misolidio", "mixolidio"],
    ),
    ("Aeolian", &["aolisch", "aeolisch", "eolien", "eolio"]),
    ("Locrian", &["lokrisch", "locrien", "locrio"]),
];

/// The English name of a mode that is given in another language.
pub fn english_mode(name: &str) -> Option<&'static str> {
    let key = key(name);
    let found = MODES
        .iter()
        .find(|(_, others)| others.contains(&key.as_str()));
    found.map(|&(english, _)| english)
}
