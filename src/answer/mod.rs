//! The door of the library: a recording, a score or notes go in, the answer of all stages comes out.
//!
//! **Takes** an [`Input`] (a file, bytes, any reader, samples or notes) and [`Options`]. **Gives** an [`Answer`], which
//! holds what each stage found; [`report::identify`](crate::report::identify) writes it as JSON and as text. [`tuning`]
//! and [`review`] are the doors to the other two questions.
//!
//! **Errors** are those of the stages; `Cancelled` where the caller's [`Progress`] hook gave `false`.

mod between;
mod hearing;
mod input;
mod options;
mod parts;
mod pieces;
mod sounded;
mod strings;
mod submission;
mod wished;

use std::io::Read;
use std::path::Path;

use crate::error::Result;
use crate::histogram::Histogram;
use crate::modes::Version;
use crate::notes::NoteList;
use crate::pitch::PitchTrack;
use crate::scale::{Context, FreeHearing, ScaleEstimate, Verdict, infer_between, infer_by_key};
use between::between;
pub use hearing::Progress;
use hearing::hear;
pub use input::Input;
pub use options::{A4_HZ, Options};
pub use parts::{Parts, Passage};
use pieces::Heard;
pub use sounded::above_centre;
pub use strings::{TuningAnswer, plucks_input, tuning, tuning_bytes, tuning_input, tuning_samples};
pub use submission::{
    review, review_answer, review_bytes, review_input, review_notes, review_samples,
};
pub use wished::wished_strings;

/// What was heard, stage by stage.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The notes that the rest is about: those in the span that was asked for; where there is talk or more than one
    /// passage, those of the longest passage.
    pub notes: NoteList,
    /// Their pitches on the recording's own grid.
    pub histogram: Histogram,
    /// The set and the centre, each with its probability, and the other readings.
    pub scale: ScaleEstimate,
    /// The version that was heard, of two forms the rising one; `None` where no centre or no scale of the 12-tone grid
    /// can be told.
    pub version: Option<Version>,
    /// What the recording is made of; `None` for the answer about one passage, and where one answer about all of it was
    /// asked for.
    pub parts: Option<Parts>,
    /// The pitch frame by frame, where it was asked for and there is sound.
    pub pitch: Option<PitchTrack>,
    /// Plain sentences of all stages on what makes the answer less sure.
    pub warnings: Vec<String>,
}

/// Says what was played in a recording or in a standard MIDI file.
///
/// # Errors
/// The file can't be opened, read or decoded, or the options make no sense.
pub fn identify(path: &Path, options: &Options) -> Result<Answer> {
    identify_input(Input::open(path)?, options, &mut |_| true).map_err(|error| error.at(path))
}

/// Like [`identify`], from any reader, which is read to its end first; `name` tells a score by its ending and may be
/// empty.
///
/// # Errors
/// As [`identify`].
pub fn identify_reader(reader: impl Read, name: &str, options: &Options) -> Result<Answer> {
    identify_input(Input::from_reader(reader, name)?, options, &mut |_| true)
}

/// Like [`identify`], from the bytes of a file in memory; needs no file system.
///
/// # Errors
/// As [`identify`].
pub fn identify_bytes(bytes: Vec<u8>, name: &str, options: &Options) -> Result<Answer> {
    identify_input(Input::from_bytes(bytes, name)?, options, &mut |_| true)
}

/// Like [`identify`], from mono samples within ±1 at `rate_hz`.
///
/// # Errors
/// A rate or options that make no sense.
pub fn identify_samples(samples: &[f32], rate_hz: f64, options: &Options) -> Result<Answer> {
    identify_input(Input::from_samples(samples, rate_hz)?, options, &mut |_| {
        true
    })
}

/// Says what was played, from the notes on.
///
/// # Errors
/// Options that make no sense.
pub fn identify_notes(notes: &NoteList, options: &Options) -> Result<Answer> {
    options.check()?;
    let heard = Heard::of_notes(options.notes_of(notes), options);
    Ok(parts::answer(heard, options))
}

/// Like [`identify`], from any input; `watch` is told how far the hearing has come and stops it by giving `false`.
///
/// # Errors
/// As [`identify`], and `Cancelled`.
pub fn identify_input(
    input: Input<'_>,
    options: &Options,
    watch: &mut dyn FnMut(Progress) -> bool,
) -> Result<Answer> {
    Ok(parts::answer(hear(input, options, watch)?, options))
}

impl Answer {
    /// The stages from the notes on.
    fn of_notes(notes: NoteList, options: &Options) -> Self {
        Self::in_context(notes, options, None, None)
    }

    /// The same for a passage among others, or for notes that were heard as a free line before.
    fn in_context(
        notes: NoteList,
        options: &Options,
        context: Option<&Context>,
        heard: Option<FreeHearing>,
    ) -> Self {
        let (histogram, scale) =
            infer_by_key(&notes, options.a4_hz, &options.scale(), context, heard);
        let histogram = histogram.raised(&notes, scale.tuning_cents);
        let scale = between_notes(&notes, &histogram, options, scale);
        let warnings = notes.warnings.iter().chain(&scale.warnings);
        Self {
            version: version(&scale),
            parts: None,
            pitch: None,
            warnings: warnings.cloned().collect(),
            notes,
            histogram,
            scale,
        }
    }
}

/// The estimate again where the line lies between the twelve notes; a set that is known lies on them.
fn between_notes(
    notes: &NoteList,
    histogram: &Histogram,
    options: &Options,
    scale: ScaleEstimate,
) -> ScaleEstimate {
    let is_open = options.set.is_none() && options.centre.is_none();
    match is_open.then(|| between(&scale, histogram)).flatten() {
        Some(found) => infer_between(notes, histogram, &options.scale(), &found),
        None => scale,
    }
}

/// The version of an estimate that has a name on the 12-tone grid; of two forms the rising one, if it holds the centre.
fn version(scale: &ScaleEstimate) -> Option<Version> {
    if scale.verdict == Verdict::OffGrid {
        return None;
    }
    let sets = match &scale.two_forms {
        Some(forms) => vec![forms.rising, forms.falling],
        None => vec![scale.set],
    };
    let centre = scale.centre?;
    let set = sets.into_iter().find(|set| set.contains(centre))?;
    Some(Version::new(centre, set))
}
