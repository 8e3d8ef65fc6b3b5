//! Which set the strings form, against the one that is intended.

use super::action::{HARMLESS_CENTS, confirmed};
use super::heard::HeardString;
use super::intention::Intention;
use crate::modes::{Band, NoteName, Scale, Version};
use crate::tuning::strings::StringNote;
use crate::units::{PitchClass, PitchClassSet, cents_between, midi_from_hz};

/// The set that was heard and the one intended.
#[derive(Debug, Clone)]
pub struct Formed {
    /// The scale that was meant.
    pub intended: Scale,
    /// `None` where a note of the intended set was not heard, and off the twelve notes where it is another set.
    pub heard: Option<Scale>,
    /// Strings that are nearer to another note than their own.
    pub wrong: Vec<WrongNote>,
}

/// A string that is nearer to another note.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WrongNote {
    /// From 1.
    pub string: usize,
    /// The note it is nearest to.
    pub class: PitchClass,
}

/// The set that the strings form, when their common offset is taken away.
pub fn formed(
    intention: &Intention,
    strings: &[Option<HeardString>],
    targets_hz: &[f64],
    a4_hz: f64,
    common_cents: f64,
) -> Formed {
    let own = |(s, string): (&Option<HeardString>, &StringNote)| {
        let midi = midi_from_hz(s.as_ref()?.pluck.hz, a4_hz);
        Some(midi - common_cents / 100.0 - string.cents / 100.0)
    };
    let places: Vec<Option<f64>> = strings.iter().zip(&intention.strings).map(own).collect();
    let nearest = |midi: &Option<f64>| midi.map(PitchClass::nearest);
    let heard: Vec<Option<PitchClass>> = places.iter().map(nearest).collect();
    let wanted: Vec<PitchClass> = intention.strings.iter().map(|s| s.class()).collect();
    let centre = intention.centre.pitch_class();
    let heard_set: PitchClassSet = heard.iter().flatten().copied().collect();
    let heard_centre = wanted
        .iter()
        .zip(&heard)
        .find_map(|(&w, h)| h.filter(|_| w == centre))
        .unwrap_or(centre);
    let sure = |i: usize| {
        strings[i]
            .as_ref()
            .is_some_and(|s| is_sure(s, targets_hz[i]))
    };
    let lost = (0..wanted.len())
        .any(|i| !sure(i) && !(0..wanted.len()).any(|k| wanted[k] == wanted[i] && sure(k)));
    let version = Version::new(heard_centre, heard_set).with_root(intention.centre);
    let is_wrong = |&i: &usize| sure(i) && heard[i] != Some(wanted[i]);
    let sounds = |i: usize| {
        let midi = places[i]? + intention.strings[i].cents / 100.0;
        Some(WrongNote {
            string: i + 1,
            class: PitchClass::nearest(midi),
        })
    };
    let wrong: Vec<WrongNote> = (0..wanted.len())
        .filter(is_wrong)
        .filter_map(sounds)
        .collect();
    let intended = intended(intention);
    let heard = match intended.version() {
        Some(_) => Some(version.into()),
        None => wrong.is_empty().then(|| intended.clone()),
    };
    Formed {
        heard: heard.filter(|_| !lost && !heard_set.is_empty()),
        intended,
        wrong,
    }
}

/// The scale that the strings form where each is on its target.
fn intended(intention: &Intention) -> Scale {
    let root = intention.centre;
    let strings = &intention.strings;
    let set = strings.iter().map(|s| s.class()).collect();
    let version = Version::new(root.pitch_class(), set).with_root(root);
    if strings.iter().all(|s| s.cents == 0.0) {
        return version.into();
    }
    let home = strings.iter().find(|s| s.class() == root.pitch_class());
    let root_cents = home.map_or(0.0, |s| s.cents);
    let band = |s: &StringNote| {
        let above = 100.0 * s.class().above(root.pitch_class()) as f64 + s.cents - root_cents;
        // What is nearly an octave above is the root, not the highest degree.
        Band::at(
            (10.0 * above.rem_euclid(1200.0))
                .round()
                .rem_euclid(12_000.0)
                / 10.0,
        )
    };
    let mut bands: Vec<Band> = strings.iter().map(band).collect();
    bands.sort_by(|a, b| a.middle().total_cmp(&b.middle()));
    bands.dedup();
    Scale::new(root, root_cents, bands).unwrap_or_else(|_| version.into())
}

/// Whether a reading may be held against its string: it is near its target, or both methods read it.
fn is_sure(string: &HeardString, target_hz: f64) -> bool {
    let off = cents_between(target_hz, string.pluck.hz);
    off.abs() <= HARMLESS_CENTS || confirmed(&string.pluck)
}

/// The note that a frequency is nearest to, with its octave; spelled as `like` where it is the same note.
pub fn sounding_note(hz: f64, a4_hz: f64, like: NoteName) -> Option<StringNote> {
    let midi = midi_from_hz(hz, a4_hz).round() as i64;
    let class = PitchClass::new(midi);
    let flats = like.to_string().contains('b');
    let same = Some(like).filter(|n| n.pitch_class() == class);
    let note = same.or_else(|| {
        let names = NoteName::for_root(class);
        names.min_by_key(|n| n.accidentals() > 0 && n.to_string().contains('b') != flats)
    })?;
    Some(StringNote {
        note,
        midi: midi as i32,
        cents: 0.0,
    })
}
