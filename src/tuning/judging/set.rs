//! Which set the strings form, against the one that is intended.

use super::action::{HARMLESS_CENTS, confirmed};
use super::heard::HeardString;
use super::intention::Intention;
use crate::modes::{NoteName, Version};
use crate::tuning::strings::StringNote;
use crate::units::{PitchClass, PitchClassSet, cents_between, midi_from_hz};

/// The set that was heard and the one intended.
#[derive(Debug, Clone)]
pub struct Formed {
    /// The version that was meant.
    pub intended: Version,
    /// `None` where a note of the intended set was not heard.
    pub heard: Option<Version>,
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
    let sure = |i: usize| {
        strings[i]
            .as_ref()
            .is_some_and(|s| is_sure(s, targets_hz[i]))
    };
    let lost = (0..wanted.len())
        .any(|i| !sure(i) && !(0..wanted.len()).any(|k| wanted[k] == wanted[i] && sure(k)));
    let version = Version::new(heard_centre, heard_set).with_root(intention.centre);
    let is_wrong = |&i: &usize| sure(i) && heard[i] != Some(wanted[i]);
    Formed {
        intended: Version::new(centre, wanted.iter().copied().collect())
            .with_root(intention.centre),
        heard: (!lost && !heard_set.is_empty()).then_some(version),
        wrong: (0..wanted.len())
            .filter(is_wrong)
            .filter_map(|i| {
                heard[i].map(|class| WrongNote {
                    string: i + 1,
                    class,
                })
            })
            .collect(),
    }
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
    })
}
