//! The table of words of a page, checked against the English one.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Texts by key.
pub struct Table(BTreeMap<String, String>);

impl Table {
    fn read(path: &Path) -> Result<Self, String> {
        let text = std::fs::read_to_string(path).map_err(|e| format!("{}: {e}", path.display()))?;
        let texts = serde_json::from_str(&text).map_err(|e| format!("{}: {e}", path.display()))?;
        Ok(Self(texts))
    }

    /// The text of a key; nothing where there is none.
    pub fn get(&self, key: &str) -> &str {
        self.0.get(key).map_or("", String::as_str)
    }

    /// The table as JSON.
    pub fn json(&self) -> Result<String, String> {
        serde_json::to_string(&self.0).map_err(|e| e.to_string())
    }
}

/// Reads a table; it has the keys of the English one, and each text no place that the English one lacks.
pub fn table(english: &Path, chosen: &Path) -> Result<Table, String> {
    let (english, chosen) = (Table::read(english)?, Table::read(chosen)?);
    let keys = |table: &Table| table.0.keys().cloned().collect::<BTreeSet<_>>();
    let (ours, theirs) = (keys(&english), keys(&chosen));
    let lacking: Vec<&str> = ours.difference(&theirs).map(String::as_str).collect();
    if !lacking.is_empty() {
        return Err(format!("the table of words lacks {}", lacking.join(", ")));
    }
    let foreign: Vec<&str> = theirs.difference(&ours).map(String::as_str).collect();
    if !foreign.is_empty() {
        return Err(format!(
            "nobody asks for these words: {}",
            foreign.join(", ")
        ));
    }
    let strays = |key: &&String| !places(chosen.get(key)).is_subset(&places(english.get(key)));
    match ours.iter().find(strays) {
        Some(key) => Err(format!("{key} has a place that the English text lacks")),
        None => Ok(chosen),
    }
}

/// The places of a text: `{name}`.
fn places(text: &str) -> BTreeSet<&str> {
    let parts = text.split('{').skip(1);
    parts.filter_map(|p| Some(p.split_once('}')?.0)).collect()
}
