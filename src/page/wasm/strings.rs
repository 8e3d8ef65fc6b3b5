//! Which strings an instrument should have, as the page asks for them.

use serde::{Deserialize, Serialize};
use whichmode::error::{Error, Result};
use whichmode::modes::{Notation, parse_note};
use whichmode::tuning::{
    DEFAULT_TOLERANCE_CENTS, Intention, Reference, Scheme, Temperament, find, known_sets,
    parse_notes, usual_strings,
};

/// The wish: a named set or notes, and how they are tempered.
#[derive(Deserialize)]
pub struct Wanted {
    /// A named set, or notes with octaves.
    strings: String,
    /// Hertz; without it the A4 that suits the strings best.
    a4_hz: Option<f64>,
    /// A named temperament; equal if empty.
    #[serde(default)]
    temperament: String,
    /// Whether the strings may be plucked in any order.
    #[serde(default)]
    any_order: bool,
}

/// A named set as the page lists it.
#[derive(Serialize)]
pub struct Named {
    name: String,
    instrument: String,
    strings: String,
}

/// All sets that have a name.
pub fn sets() -> Vec<Named> {
    known_sets()
        .into_iter()
        .map(|set| Named {
            name: set.name,
            instrument: set.instrument,
            strings: set.strings,
        })
        .collect()
}

impl Wanted {
    /// What the tuning stage is told.
    pub fn intention(&self) -> Result<Intention> {
        let sets = known_sets();
        let named = find(&sets, &self.strings);
        let strings = parse_notes(named.map_or(&self.strings, |set| &set.strings))?;
        let own = named.and_then(|set| set.centre.as_deref());
        let own = own.and_then(|text| parse_note(text, Notation::International));
        let first = strings.first().map(|s| s.note);
        let centre = own
            .or(first)
            .ok_or_else(|| Error::Text("name the strings, such as \"E2 A2 D3 G3 B3 E4\"".into()))?;
        let temperament = match self.temperament.as_str() {
            "" => "equal",
            name => name,
        };
        Ok(Intention {
            scheme: Scheme::Tempered {
                temperament: Temperament::parse(temperament)?,
                root: centre,
            },
            reference: self.a4_hz.map_or(Reference::Best, Reference::A4),
            any_order: self.any_order,
            tolerance_cents: DEFAULT_TOLERANCE_CENTS,
            centre,
            usual: named.and_then(|set| usual_strings(&sets, &set.instrument)),
            strings,
        })
    }
}
