//! The one loop that takes sound from its source to a listener, with a word on how far it has come.

use super::input::{Input, Source};
use super::options::Options;
use super::pieces::{Heard, Pieces};
use crate::error::{Error, Result};
use crate::pitch::{FRAME_S, Tracker};
use crate::words::word;

/// Samples that are handed on at a time where all are in memory, so that the hook is called often enough.
const BLOCK: usize = 2048;
/// Longer sound is heard in pieces of about this many seconds, so that memory does not grow with it: no lesson is so long.
const PIECE_S: f64 = 2.0 * 3600.0;

/// How far the hearing has come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// Seconds of sound that were heard.
    pub done_s: f64,
    /// Seconds that the file says it holds: often unknown, sometimes wrong.
    pub promised_s: Option<f64>,
}

/// Hears the span of an input that the options name.
pub(super) fn hear(
    input: Input<'_>,
    options: &Options,
    watch: &mut dyn FnMut(Progress) -> bool,
) -> Result<Heard> {
    options.check()?;
    if let Source::Notes(list) = &input.source {
        options.check_length(list.duration_s)?;
        return Ok(Heard::of_notes(options.notes_of(list), options));
    }
    let (mut tracker, mut heard) = (None, 0);
    let mut pieces = Pieces::new(options);
    let (rate_hz, warnings) = each_block(input, watch, &mut |block, first, rate_hz| {
        let wanted = options.samples(rate_hz);
        let tracker = tracker.get_or_insert_with(|| Tracker::new(rate_hz));
        tracker.push(overlap(block, first, &wanted));
        if tracker.decided() as f64 * FRAME_S >= PIECE_S {
            pieces.add(tracker.split(), wanted.start as f64 / rate_hz);
        }
        heard = first + block.len() as u64;
        heard < wanted.end
    })?;
    options.check_length(heard as f64 / rate_hz)?;
    let last = tracker.unwrap_or_else(|| Tracker::new(rate_hz)).finish();
    pieces.add(last, options.samples(rate_hz).start as f64 / rate_hz);
    Ok(pieces.heard(warnings))
}

/// Hands on block after block, with the number of its first sample and the rate, until `take` gives `false`; gives the
/// rate and the decoder's warnings. Notes hold no sound.
pub(super) fn each_block(
    input: Input<'_>,
    watch: &mut dyn FnMut(Progress) -> bool,
    take: &mut dyn FnMut(&[f32], u64, f64) -> bool,
) -> Result<(f64, Vec<String>)> {
    match input.source {
        Source::Notes(_) => Err(Error::NotAudio(word("error.score").into())),
        Source::Samples { samples, rate_hz } => {
            let promised_s = Some(samples.len() as f64 / rate_hz);
            let mut first = 0;
            for block in samples.chunks(BLOCK) {
                let goes_on = take(block, first, rate_hz);
                first += block.len() as u64;
                tell(watch, first, rate_hz, promised_s)?;
                if !goes_on {
                    break;
                }
            }
            Ok((rate_hz, Vec::new()))
        }
        Source::Sound(mut reader) => {
            let (rate_hz, promised_s) = (reader.rate_hz(), reader.promised_s());
            let mut first = 0;
            while let Some(block) = reader.next_block()? {
                let goes_on = take(block, first, rate_hz);
                first += block.len() as u64;
                tell(watch, first, rate_hz, promised_s)?;
                if !goes_on {
                    break;
                }
            }
            Ok((rate_hz, reader.warnings().to_vec()))
        }
    }
}

fn tell(
    watch: &mut dyn FnMut(Progress) -> bool,
    samples: u64,
    rate_hz: f64,
    promised_s: Option<f64>,
) -> Result<()> {
    let done_s = samples as f64 / rate_hz;
    if watch(Progress { done_s, promised_s }) {
        Ok(())
    } else {
        Err(Error::Cancelled(word("error.stopped").into()))
    }
}

/// The part of a block, which begins with sample number `first`, that lies within the wanted samples.
fn overlap<'b>(block: &'b [f32], first: u64, wanted: &std::ops::Range<u64>) -> &'b [f32] {
    let within = |sample: u64| (sample.saturating_sub(first)).min(block.len() as u64) as usize;
    let (begin, end) = (within(wanted.start), within(wanted.end));
    &block[begin..end.max(begin)]
}
