//! Checking an instrument's strings: which it should have, as the page asks for them, and what was heard of them.

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use whichmode::answer::{plucks_input, wished_strings};
use whichmode::error::{Error, Result};
use whichmode::labels::Book;
use whichmode::modes::{Notation, NoteName, parse_note};
use whichmode::report::html::heard::heard as as_it_is;
use whichmode::report::html::instrument::instrument;
use whichmode::report::tuning::{HeardReport, TuningReport};
use whichmode::tuning::{
    DEFAULT_TOLERANCE_CENTS, Intention, Pluck, Reference, Scheme, StringNote, StringSet,
    Temperament, find, find_by_letters, judge, known_sets, usual_strings, what_is_it,
};
use whichmode::words::word;

use crate::hear::heard;
use crate::{live, progress};

/// Which strings are heard, and of what.
#[derive(Deserialize)]
pub struct Tune {
    name: String,
    rate_hz: Option<f64>,
    #[serde(flatten)]
    strings: Wanted,
}

/// What is meant, if anything, and the sets that have names.
pub struct Meant {
    /// The strings that there should be; without them it is told what there is.
    pub intention: Option<Intention>,
    sets: Vec<StringSet>,
}

/// How the strings in a recording are tuned.
pub fn tuning(tune: &Tune, sound: Vec<u8>, notation: Notation) -> Result<Value> {
    let meant = tune.strings.meant(notation)?;
    let (plucks, warnings) = heard(&tune.name, tune.rate_hz, sound, |input| {
        plucks_input(input, &mut progress)
    })?;
    judged(&tune.name, &plucks, &warnings, &meant)
}

/// Begins to listen to strings as they are plucked.
pub fn listen(tune: Tune, notation: Notation) -> Result<Value> {
    let meant = tune.strings.meant(notation)?;
    let rate_hz = tune
        .rate_hz
        .ok_or_else(|| Error::Internal("no rate of the samples".into()))?;
    Ok(live::begin(tune.name, rate_hz, meant))
}

/// The answer about plucks: against what is meant, or as they are.
pub fn judged(name: &str, plucks: &[Pluck], warnings: &[String], meant: &Meant) -> Result<Value> {
    let Some(intention) = &meant.intention else {
        let found = what_is_it(plucks, &meant.sets);
        let answer = HeardReport::new(name, &found, warnings);
        return Ok(json!({ "answer": answer, "html": as_it_is(name, &found, warnings).finish() }));
    };
    let found = judge(plucks, intention)?;
    let answer = TuningReport::new(name, &found, warnings);
    Ok(json!({ "answer": answer, "html": instrument(name, &found, warnings).finish() }))
}

/// The wish: a named set or notes, and how they are tempered.
#[derive(Deserialize)]
struct Wanted {
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
    fn meant(&self, notation: Notation) -> Result<Meant> {
        let sets = known_sets();
        let text = self.strings.trim();
        let intention = (!text.is_empty())
            .then(|| self.intention(text, &sets, notation))
            .transpose()?;
        Ok(Meant { intention, sets })
    }

    fn intention(&self, text: &str, sets: &[StringSet], notation: Notation) -> Result<Intention> {
        let named = find(sets, text).or_else(|| find_by_letters(sets, text));
        let strings = wished_strings(text, named, None, &Book::own()?, notation)?;
        let own = named.and_then(|set| set.centre.as_deref());
        let own = own.and_then(|text| parse_note(text, Notation::International));
        let centre = own.unwrap_or(strings[0].note);
        Ok(Intention {
            scheme: self.scheme(text, &strings, centre)?,
            reference: self.a4_hz.map_or(Reference::Best, Reference::A4),
            any_order: self.any_order,
            tolerance_cents: DEFAULT_TOLERANCE_CENTS,
            centre,
            usual: named.and_then(|set| usual_strings(sets, &set.instrument)),
            strings,
        })
    }

    /// Strings with cents of their own are in no temperament.
    fn scheme(&self, text: &str, strings: &[StringNote], root: NoteName) -> Result<Scheme> {
        let temperament = match self.temperament.as_str() {
            "" => Temperament::Equal,
            name => Temperament::parse(name)?,
        };
        match (strings.iter().any(|s| s.cents != 0.0), temperament) {
            (false, temperament) => Ok(Scheme::Tempered { temperament, root }),
            (true, Temperament::Equal) => Ok(Scheme::InCents(text.to_string())),
            (true, _) => Err(Error::Text(word("error.no_temperament").into())),
        }
    }
}
