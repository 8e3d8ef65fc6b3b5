//! What a caller may say before anything is heard.

use crate::error::{Error, Result};
use crate::notes::NoteList;
use crate::scale::{Prior, ScaleOptions};
use crate::units::{PitchClass, PitchClassSet};
use crate::words::{said, word};

/// An A4 outside this range, in hertz, is a slip of the hand: more than a fourth from 440.
pub const A4_HZ: std::ops::RangeInclusive<f64> = 300.0..=600.0;

/// How a recording is heard and what is known of it. The default knows nothing and hears all.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Options {
    /// Where to begin, in seconds from the start.
    pub from_s: Option<f64>,
    /// Where to end, in seconds from the start.
    pub to_s: Option<f64>,
    /// The A4 of the instrument in hertz, where it is known.
    pub a4_hz: Option<f64>,
    /// The centre, where it is known.
    pub centre: Option<PitchClass>,
    /// The notes of the scale, where they are known.
    pub set: Option<PitchClassSet>,
    /// What is assumed of the music.
    pub prior: Prior,
    /// Whether there is to be one answer about all of it; else talk is set aside and several versions are answered one by one.
    pub whole: bool,
    /// Whether the stretches are told of a recording too that holds one passage and no talk.
    pub keep_stretches: bool,
    /// Whether the answer keeps the pitch frame by frame.
    pub keep_pitch: bool,
}

impl Options {
    /// What the scale stage is told.
    pub(super) fn scale(&self) -> ScaleOptions {
        ScaleOptions {
            centre: self.centre,
            set: self.set,
            prior: self.prior,
        }
    }

    /// Refuses what can't be meant.
    pub(super) fn check(&self) -> Result<()> {
        let is_time = |s: f64| s.is_finite() && s >= 0.0;
        let times = [self.from_s, self.to_s];
        if !times.into_iter().flatten().all(is_time) {
            return Err(Error::Text(word("error.times").into()));
        }
        if let (Some(from), Some(to)) = (self.from_s, self.to_s)
            && from >= to
        {
            return Err(Error::Text(said!("error.ends_first", from = from, to = to)));
        }
        if self.a4_hz.is_some_and(|hz| !A4_HZ.contains(&hz)) {
            return Err(Error::Text(word("error.a4").into()));
        }
        Ok(())
    }

    /// Refuses a beginning after the end of what there is.
    pub(super) fn check_length(&self, length_s: f64) -> Result<()> {
        match self.from_s {
            Some(from_s) if from_s >= length_s => Err(Error::Text(said!(
                "error.too_short_for",
                length = format!("{length_s:.1}"),
                from = from_s
            ))),
            _ => Ok(()),
        }
    }

    /// The notes that begin in the span.
    pub(super) fn notes_of(&self, list: &NoteList) -> NoteList {
        let mut list = list.clone();
        let from_s = self.from_s.unwrap_or(0.0);
        let to_s = self.to_s.unwrap_or(f64::INFINITY);
        list.notes
            .retain(|n| n.start_s >= from_s && n.start_s < to_s);
        list.duration_s = (list.duration_s.min(to_s) - from_s).max(0.0);
        list
    }

    /// The samples of the span.
    pub(super) fn samples(&self, rate_hz: f64) -> std::ops::Range<u64> {
        let sample = |s: f64| (s * rate_hz).round() as u64;
        self.from_s.map_or(0, sample)..self.to_s.map_or(u64::MAX, sample)
    }
}
