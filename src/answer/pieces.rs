//! What is heard of sound, which may last for a day: piece after piece is made into notes and stretches, and its pitch let go.

use super::options::Options;
use crate::notes::{NoteList, transcribe};
use crate::pitch::PitchTrack;
use crate::segments::{Kind, Segment, segments};

/// What was heard.
pub(super) struct Heard {
    /// The notes, with the decoder's warnings first.
    pub(super) notes: NoteList,
    /// The stretches; none where one answer about all of it is asked for.
    pub(super) segments: Vec<Segment>,
    /// The pitch, where it was asked for and there was sound.
    pub(super) track: Option<PitchTrack>,
}

impl Heard {
    /// Notes that came without sound: all of it is playing.
    pub(super) fn of_notes(notes: NoteList, options: &Options) -> Self {
        let from_s = options.from_s.unwrap_or(0.0);
        Self {
            segments: vec![Segment {
                start_s: from_s,
                end_s: from_s + notes.duration_s,
                kind: Kind::Playing,
            }],
            notes,
            track: None,
        }
    }
}

/// The pieces so far.
pub(super) struct Pieces<'a> {
    options: &'a Options,
    notes: Option<NoteList>,
    segments: Vec<Segment>,
    track: Option<PitchTrack>,
}

impl<'a> Pieces<'a> {
    pub(super) fn new(options: &'a Options) -> Self {
        Self {
            options,
            notes: None,
            segments: Vec::new(),
            track: None,
        }
    }

    /// Goes on with the next piece; its times count from `from_s` in the file.
    pub(super) fn add(&mut self, mut track: PitchTrack, from_s: f64) {
        track.start_s += from_s;
        let notes = transcribe(&track);
        if !self.options.whole {
            self.segments.extend(stretches(&track, &notes));
            join_alike(&mut self.segments);
        }
        match &mut self.notes {
            Some(before) => before.append(notes),
            None => self.notes = Some(notes),
        }
        if self.options.keep_pitch {
            match &mut self.track {
                Some(before) => before.append(track),
                None => self.track = Some(track),
            }
        }
    }

    /// All that was heard; `warnings` are the decoder's.
    pub(super) fn heard(self, mut warnings: Vec<String>) -> Heard {
        let mut notes = self.notes.unwrap_or_default();
        warnings.append(&mut notes.warnings);
        notes.warnings = warnings;
        Heard {
            notes,
            segments: self.segments,
            track: self.track,
        }
    }
}

/// The stretches of a piece; all is playing where speech and playing can't be told apart.
fn stretches(track: &PitchTrack, notes: &NoteList) -> Vec<Segment> {
    let mut found = segments(track, notes);
    let talks = notes.is_speech == Some(true);
    let plays = found.iter().any(|s| s.kind == Kind::Playing);
    for segment in &mut found {
        segment.kind = match segment.kind {
            Kind::Playing if talks => Kind::Speech,
            Kind::Speech if !talks && !plays => Kind::Playing,
            kind => kind,
        };
    }
    found
}

fn join_alike(segments: &mut Vec<Segment>) {
    segments.dedup_by(|after, before| {
        let same = after.kind == before.kind;
        if same {
            before.end_s = after.end_s;
        }
        same
    });
}
