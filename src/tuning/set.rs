//! Which set the strings form, against the one that is intended.

use super::answer::{Intention, StringReading};
use super::heard::HeardString;
use crate::modes::{Version, parse_note};
use crate::units::{PitchClass, PitchClassSet, midi_from_hz};

/// A common offset beyond this many cents is worth a sentence.
const NOTABLE_OFFSET_CENTS: f64 = 20.0;

/// The set that was heard and the one intended.
pub struct Formed {
    pub intended: Version,
    /// `None` where a note of the intended set was not heard.
    heard: Option<Version>,
    /// Strings, from 0, that are nearer to another note, and that note.
    pub wrong: Vec<(usize, PitchClass)>,
    missing: Vec<usize>,
}

/// The set that the strings form, when their common offset is taken away.
pub fn formed(
    intention: &Intention,
    strings: &[Option<HeardString>],
    a4_hz: f64,
    common_cents: f64,
) -> Formed {
    let class = |s: &HeardString| {
        PitchClass::nearest(midi_from_hz(s.pluck.hz, a4_hz) - common_cents / 100.0)
    };
    let heard: Vec<Option<PitchClass>> = strings.iter().map(|s| s.as_ref().map(class)).collect();
    let wanted: Vec<PitchClass> = intention.strings.iter().map(|s| s.class()).collect();
    let centre = intention.centre.pitch_class();
    let heard_set: PitchClassSet = heard.iter().flatten().copied().collect();
    let heard_centre = wanted
        .iter()
        .zip(&heard)
        .find_map(|(&w, h)| h.filter(|_| w == centre))
        .unwrap_or(centre);
    let unheard = |i: usize| heard[i].is_none();
    let lost = (0..wanted.len())
        .any(|i| unheard(i) && !(0..wanted.len()).any(|k| wanted[k] == wanted[i] && !unheard(k)));
    let version = Version::new(heard_centre, heard_set).with_root(intention.centre);
    Formed {
        intended: Version::new(centre, wanted.iter().copied().collect())
            .with_root(intention.centre),
        heard: (!lost && !heard_set.is_empty()).then_some(version),
        wrong: (0..wanted.len())
            .filter_map(|i| heard[i].filter(|&h| h != wanted[i]).map(|h| (i, h)))
            .collect(),
        missing: (0..wanted.len()).filter(|&i| unheard(i)).collect(),
    }
}

impl Formed {
    /// The label of the version that was heard.
    pub fn heard_label(&self) -> Option<String> {
        self.heard.as_ref().map(Version::label)
    }

    /// Sentences on the set as a whole.
    pub fn explain(
        &self,
        readings: &[StringReading],
        common: Option<f64>,
        intention: &Intention,
    ) -> Vec<String> {
        [
            self.not_heard(readings),
            self.difference(readings),
            self.together(common, intention),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    fn not_heard(&self, readings: &[StringReading]) -> Option<String> {
        let names: Vec<String> = self
            .missing
            .iter()
            .map(|&i| format!("{} ({})", readings[i].string, readings[i].target))
            .collect();
        match names.len() {
            0 => None,
            n if n == readings.len() => {
                Some("No string was heard: pluck them one after another, each for a second.".into())
            }
            1 => Some(format!("String {} was not heard.", names[0])),
            _ => Some(format!("Strings {} were not heard.", names.join(", "))),
        }
    }

    fn difference(&self, readings: &[StringReading]) -> Option<String> {
        let what: Vec<String> = self
            .wrong
            .iter()
            .map(|&(i, class)| {
                let wanted = readings[i]
                    .target
                    .trim_end_matches(|c: char| c.is_ascii_digit() || c == '-');
                format!(
                    "string {} is {}, not {wanted}",
                    readings[i].string,
                    self.intended.name_of(class)
                )
            })
            .collect();
        let first = what.first()?;
        let sentence = first[..1].to_uppercase() + &first[1..];
        let sentence = [&[sentence], &what[1..]].concat().join("; ");
        Some(match &self.heard {
            Some(heard) => format!(
                "{sentence}: that makes it {} ({}), not {} ({}).",
                heard.label(),
                heard.note_names().join(" "),
                self.intended.label(),
                self.intended.note_names().join(" ")
            ),
            None => format!("{sentence}."),
        })
    }

    fn together(&self, common: Option<f64>, intention: &Intention) -> Option<String> {
        let common =
            common.filter(|c| c.abs() > NOTABLE_OFFSET_CENTS.max(intention.tolerance_cents))?;
        let side = if common > 0.0 { "above" } else { "below" };
        Some(format!(
            "The strings lie about {:.0} cents {side} their targets together; if they only have to agree with each other, use --a4 auto.",
            common.abs()
        ))
    }
}

/// The note that a frequency is nearest to, with its octave; spelled as the target where it is the same note.
pub fn sounding_name(hz: f64, a4_hz: f64, target: &str) -> String {
    let midi = midi_from_hz(hz, a4_hz).round() as i64;
    let name = target.trim_end_matches(|c: char| c.is_ascii_digit() || c == '-');
    let class = PitchClass::new(midi);
    let flats = name.contains('b');
    let same = parse_note(name, crate::modes::Notation::International)
        .filter(|n| n.pitch_class() == class);
    let sounding = same.or_else(|| {
        let names = crate::modes::NoteName::for_root(class);
        names.min_by_key(|n| n.accidentals() > 0 && n.to_string().contains('b') != flats)
    });
    let Some(note) = sounding else {
        return format!("{hz:.1} Hz");
    };
    super::strings::StringNote {
        note,
        midi: midi as i32,
    }
    .to_string()
}
