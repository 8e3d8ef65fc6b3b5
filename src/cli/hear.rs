//! Hearing a recording: decode, follow the pitch, find the notes, with progress on standard error when it takes long.

use std::path::Path;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::decode::SoundReader;
use crate::error::Result;
use crate::notes::{NoteList, transcribe};
use crate::pitch::{PitchTrack, Tracker};

/// Work that ends sooner shows no progress.
const QUIET_FOR: Duration = Duration::from_secs(3);

/// Part of a recording, in seconds from its start.
#[derive(Debug, Clone, Copy, Default)]
pub struct Span {
    /// Where to begin; from the start if not given.
    pub from_s: Option<f64>,
    /// Where to end; at the end if not given.
    pub to_s: Option<f64>,
}

/// Decodes a recording (`-` is standard input) and follows its pitch; gives the track and the decoder's warnings. Times
/// count from the start of the file also where only a span of it is heard.
pub fn pitch_track(path: &Path, span: Span) -> Result<(PitchTrack, Vec<String>)> {
    let mut reader = if path == Path::new("-") {
        SoundReader::from_stdin()?
    } else {
        SoundReader::open(path)?
    };
    let rate_hz = reader.rate_hz();
    let mut tracker = Tracker::new(rate_hz);
    let promised_s = reader.promised_s();
    let progress = Progress::new(promised_s);
    let wanted = sample_range(span, rate_hz);
    let mut position = 0u64;
    while let Some(block) = reader.next_block()? {
        let end = position + block.len() as u64;
        if position >= wanted.end {
            break;
        }
        let first = wanted
            .start
            .saturating_sub(position)
            .min(block.len() as u64) as usize;
        let last = wanted.end.min(end).saturating_sub(position) as usize;
        tracker.push(&block[first..last.max(first)]);
        position = end;
        progress.at(position as f64 / rate_hz);
    }
    progress.end();
    let mut track = tracker.finish();
    track.start_s = wanted.start as f64 / rate_hz;
    Ok((track, reader.warnings().to_vec()))
}

/// The notes of a recording, with the decoder's warnings first.
pub fn notes(path: &Path, span: Span) -> Result<NoteList> {
    Ok(track_and_notes(path, span)?.1)
}

/// The pitch of a recording and its notes, with the decoder's warnings first.
pub fn track_and_notes(path: &Path, span: Span) -> Result<(PitchTrack, NoteList)> {
    let (track, mut warnings) = pitch_track(path, span)?;
    let mut list = transcribe(&track);
    warnings.append(&mut list.warnings);
    list.warnings = warnings;
    Ok((track, list))
}

fn sample_range(span: Span, rate_hz: f64) -> std::ops::Range<u64> {
    let sample = |s: f64| (s.max(0.0) * rate_hz).round() as u64;
    span.from_s.map_or(0, sample)..span.to_s.map_or(u64::MAX, sample)
}

/// A bar on standard error that shows itself only when the work takes long; hidden where standard error is no terminal.
struct Progress {
    bar: ProgressBar,
    begun: Instant,
}

impl Progress {
    fn new(promised_s: Option<f64>) -> Self {
        let bar = promised_s.map_or_else(ProgressBar::no_length, |s| ProgressBar::new(s as u64));
        bar.set_draw_target(ProgressDrawTarget::hidden());
        Self {
            bar,
            begun: Instant::now(),
        }
    }

    fn at(&self, position_s: f64) {
        if self.begun.elapsed() < QUIET_FOR {
            return;
        }
        if self.bar.is_hidden() {
            let style = ProgressStyle::with_template("heard {pos} of {len} s, {eta} left {bar:30}");
            self.bar
                .set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        self.bar.set_position(position_s as u64);
    }

    fn end(&self) {
        self.bar.finish_and_clear();
    }
}
