//! A scale as it is sounded, written and fingered: every degree in cents above the centre, with its name.

use crate::error::{Error, Result};
use crate::modes::{Degree, NoteName, Scale as Degrees, Version};
use crate::tuning::Temperament;
use crate::units::OCTAVE_CENTS;

/// A degree nearer to the 12-tone grid than this, in cents, is written without cents; what musicians hear as out of tune
/// begins below it, what they write differently above it. Common practice, no source.
pub const ON_GRID_CENTS: f64 = 20.0;
/// Fifths from the root up to each degree of the major scale, for temperaments that go by fifths.
const DEGREE_FIFTHS: [i32; 7] = [0, 2, 4, -1, 1, 3, 5];
/// Fifths that a sharp adds.
const SHARP_FIFTHS: i32 = 7;

/// One degree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tone {
    /// Cents above the centre, from 0 up to the octave.
    pub cents: f64,
    /// How the nearest degree of the 12-tone grid is written.
    pub degree: Degree,
    /// The name of that degree's note.
    pub name: NoteName,
}

impl Tone {
    /// How far it lies above the 12-tone degree that it is written as, in cents.
    pub fn off_grid_cents(&self) -> f64 {
        let apart = self.cents - 100.0 * f64::from(self.degree.offset());
        (apart + OCTAVE_CENTS / 2.0).rem_euclid(OCTAVE_CENTS) - OCTAVE_CENTS / 2.0
    }

    /// "b3"; with its cents where it lies off the grid, "3-50".
    pub fn degree_text(&self) -> String {
        self.with_cents(self.degree.to_string())
    }

    /// "Eb"; with its cents where it lies off the grid, "E-50".
    pub fn note_text(&self) -> String {
        self.with_cents(self.name.to_string())
    }

    fn with_cents(&self, written: String) -> String {
        let off = self.off_grid_cents();
        match off.abs() <= ON_GRID_CENTS {
            true => written,
            false => format!("{written}{off:+.0}"),
        }
    }
}

/// A scale from a centre, up and down.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// What it is called, its root included.
    pub title: String,
    /// The centre's name.
    pub root: NoteName,
    /// The degrees upward, the centre first.
    pub rising: Vec<Tone>,
    /// Those of the way down, ascending too; the same as `rising` for most scales.
    pub falling: Vec<Tone>,
    /// The 12-tone version whose notes these are (of the way up); `None` off the grid.
    pub version: Option<Version>,
}

impl Scale {
    /// A 12-tone version.
    pub fn of(version: &Version) -> Self {
        let tones = tones_of(version);
        Self {
            title: version.label(),
            root: version.root(),
            falling: tones.clone(),
            rising: tones,
            version: Some(*version),
        }
    }

    /// A scale that goes up one way and down the other; both from the root of the first.
    pub fn two_forms(title: String, rising: &Version, falling: &Version) -> Self {
        let falling = falling.with_root(rising.root());
        Self {
            title,
            falling: tones_of(&falling),
            ..Self::of(rising)
        }
    }

    /// A scale of any degrees, given in cents above the centre; the centre is added if it is not among them.
    pub fn from_cents(title: String, root: NoteName, cents: &[f64]) -> Self {
        let mut cents: Vec<f64> = cents.iter().map(|c| c.rem_euclid(OCTAVE_CENTS)).collect();
        cents.push(0.0);
        cents.sort_by(f64::total_cmp);
        cents.dedup();
        let tones: Vec<Tone> = cents.iter().map(|&c| nearest_tone(root, c)).collect();
        Self {
            title,
            root,
            falling: tones.clone(),
            rising: tones,
            version: None,
        }
    }

    /// A scale in cents, with its falling form where that is another.
    pub fn of_degrees(scale: &Degrees, falling: Option<&Degrees>) -> Self {
        let root = scale.written().root();
        let rising = Self::from_cents(scale.label(), root, &scale.cents());
        match falling {
            None => rising,
            Some(falling) => Self {
                falling: Self::from_cents(falling.label(), root, &falling.cents()).rising,
                ..rising
            },
        }
    }

    /// Whether it goes up one way and down another.
    pub fn has_two_forms(&self) -> bool {
        self.rising != self.falling
    }

    /// The same degrees, moved to where a temperament from the centre has them. With one moved off the grid it is no
    /// version any more, and says so in its title.
    ///
    /// # Errors
    /// [`Error::Text`] where a table of cents has nothing near a degree, or the scale has cents of its own.
    pub fn tempered(&self, temperament: &Temperament) -> Result<Self> {
        if *temperament == Temperament::Equal {
            return Ok(self.clone());
        }
        let is_own = |tone: &Tone| tone.off_grid_cents() != 0.0;
        if self.all_tones().iter().any(is_own) {
            return Err(Error::Text(format!(
                "{} is tuned by its own cents: leave out --temperament",
                self.title
            )));
        }
        let moved = |tones: &[Tone]| -> Result<Vec<Tone>> {
            tones.iter().map(|t| tempered(t, temperament)).collect()
        };
        let mut scale = Self {
            rising: moved(&self.rising)?,
            falling: moved(&self.falling)?,
            ..self.clone()
        };
        if scale.all_tones().iter().any(is_off_grid) {
            scale.version = None;
            scale.title = format!("{}, tuned {}", self.title, temperament.name());
        }
        Ok(scale)
    }

    /// Every degree of either way, ascending, each once.
    pub fn all_tones(&self) -> Vec<Tone> {
        let mut tones = self.rising.clone();
        tones.extend(self.falling.iter().filter(|t| !self.rising.contains(t)));
        tones.sort_by(|a, b| a.cents.total_cmp(&b.cents));
        tones
    }
}

fn is_off_grid(tone: &Tone) -> bool {
    tone.off_grid_cents().abs() > ON_GRID_CENTS
}

fn tones_of(version: &Version) -> Vec<Tone> {
    let pairs = version.degrees().iter().zip(version.notes());
    let tone = |(&degree, name): (&Degree, NoteName)| Tone {
        cents: 100.0 * f64::from(degree.offset()),
        degree,
        name,
    };
    pairs.map(tone).collect()
}

fn nearest_tone(root: NoteName, cents: f64) -> Tone {
    let degree = Degree::plain((cents / 100.0).round() as u8 % 12);
    Tone {
        cents,
        degree,
        name: root.degree(degree),
    }
}

fn tempered(tone: &Tone, temperament: &Temperament) -> Result<Tone> {
    let degree = tone.degree;
    let fifths =
        DEGREE_FIFTHS[usize::from(degree.number - 1)] + SHARP_FIFTHS * i32::from(degree.alteration);
    let offset = temperament.offset_cents(fifths, usize::from(degree.offset()))?;
    Ok(Tone {
        cents: tone.cents + offset,
        ..*tone
    })
}
