//! A line as sound: mono samples at the loudness of EBU R 128, and WAV files of them.

use std::io::{Seek, Write};
use std::path::Path;

use ebur128::{EbuR128, Mode};

use super::line::Line;
use super::voice::{Envelope, Instrument, ToneSpec, add_tone};
use crate::error::{Error, Result};
use crate::units::hz_from_midi;
use crate::words::word;

/// Samples a second, as on a compact disc (IEC 60908).
pub const RATE_HZ: u32 = 44_100;
/// Programme loudness in LUFS (EBU R 128, 2023).
pub const LOUDNESS_LUFS: f64 = -23.0;
/// The true peak that is never exceeded, in dBTP: R 128 allows −1, this leaves room for cheap loudspeakers.
pub const PEAK_DBTP: f64 = -6.0;
/// How far beneath the line its drone sounds, in decibels. Soft enough to sing over; set by ear of the recogniser and
/// common practice, no source.
const DRONE_BELOW_DB: f64 = 13.0;
/// A drone comes and goes gently.
const DRONE_ENVELOPE: Envelope = Envelope {
    attack_s: 0.6,
    release_s: 0.8,
};
/// Silence before the first note, so that players that swallow the beginning do no harm, in seconds.
const LEAD_S: f64 = 0.25;
/// Sound after the last note's end, in seconds.
const TAIL_S: f64 = 1.0;
/// Longest sound that is made, in seconds.
pub const LONGEST_S: f64 = 900.0;
/// Level of a tone before the whole is brought to its loudness, root mean square.
const WORKING_LEVEL: f64 = 0.1;

/// The line played on an instrument, brought to its loudness.
///
/// ```
/// # use whichmode::{labels::Book, modes::Notation, render::named::scale};
/// # use whichmode::render::{Instrument, line::Layout, Line, sound::{RATE_HZ, samples, wav}};
/// let kumoi = scale("D Dorian kumoi", &Book::own()?, Notation::International)?;
/// let line = Line::of(&kumoi, &Layout::default());
/// let sound = samples(&line, Instrument::Plucked, 440.0)?;
/// assert!(sound.len() as f64 > line.length_s * f64::from(RATE_HZ));
/// assert!(wav(&sound)?.starts_with(b"RIFF"));
/// # Ok::<(), whichmode::error::Error>(())
/// ```
///
/// # Errors
/// [`Error::TooLong`] beyond a quarter of an hour, [`Error::Empty`] without a note.
pub fn samples(line: &Line, instrument: Instrument, a4_hz: f64) -> Result<Vec<f32>> {
    if line.length_s > LONGEST_S {
        return Err(Error::TooLong(format!(
            "that would be {:.0} minutes of sound, and {:.0} are the most: take fewer scales, a quicker tempo, or a part with --from and --to",
            line.length_s / 60.0,
            LONGEST_S / 60.0
        )));
    }
    if line.notes.is_empty() {
        return Err(Error::Empty(word("error.nothing_to_play").into()));
    }
    let length = ((LEAD_S + line.length_s + TAIL_S) * f64::from(RATE_HZ)).ceil() as usize;
    let mut out = vec![0.0f32; length];
    for note in &line.notes {
        let tone = spec(instrument, note.midi, a4_hz, note.start_s, note.length_s);
        add_tone(&mut out, f64::from(RATE_HZ), &tone, instrument.envelope());
    }
    for drone in &line.drones {
        let tone = spec(
            Instrument::Blown,
            drone.midi,
            a4_hz,
            drone.start_s,
            drone.length_s,
        );
        let soft = ToneSpec {
            level: tone.level * 10f64.powf(-DRONE_BELOW_DB / 20.0),
            ..tone
        };
        add_tone(&mut out, f64::from(RATE_HZ), &soft, DRONE_ENVELOPE);
    }
    bring_to_loudness(&mut out)?;
    Ok(out)
}

fn spec(instrument: Instrument, midi: f64, a4_hz: f64, start_s: f64, length_s: f64) -> ToneSpec {
    ToneSpec {
        instrument,
        hz: hz_from_midi(midi, a4_hz),
        start_s: LEAD_S + start_s,
        length_s,
        level: WORKING_LEVEL,
    }
}

/// Scales the samples to [`LOUDNESS_LUFS`], or less where their peak would exceed [`PEAK_DBTP`].
fn bring_to_loudness(samples: &mut [f32]) -> Result<()> {
    let failed =
        |e: ebur128::Error| Error::Internal(format!("the loudness can't be measured: {e}"));
    let mut meter = EbuR128::new(1, RATE_HZ, Mode::I | Mode::TRUE_PEAK).map_err(failed)?;
    meter.add_frames_f32(samples).map_err(failed)?;
    let loudness = meter.loudness_global().map_err(failed)?;
    let peak_db = 20.0 * meter.true_peak(0).map_err(failed)?.log10();
    let gain_db = (LOUDNESS_LUFS - loudness).min(PEAK_DBTP - peak_db);
    if !gain_db.is_finite() {
        return Err(Error::Empty(word("error.short_sound").into()));
    }
    let gain = 10f64.powf(gain_db / 20.0) as f32;
    samples.iter_mut().for_each(|x| *x *= gain);
    Ok(())
}

/// Samples as the bytes of a WAV file of 16 bits.
///
/// # Errors
/// [`Error::TooLong`] where they are more than the format holds.
pub fn wav(samples: &[f32]) -> Result<Vec<u8>> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let failed = |e: hound::Error| Error::TooLong(format!("the sound can't be written: {e}"));
    write_samples(&mut bytes, samples).map_err(failed)?;
    Ok(bytes.into_inner())
}

/// Writes samples as a WAV file of 16 bits.
///
/// # Errors
/// [`Error::NotWritable`] with the reason.
pub fn write_wav(path: &Path, samples: &[f32]) -> Result<()> {
    let failed = |e: hound::Error| Error::unwritable("the sound can't be written", e).at(path);
    let file = std::fs::File::create(path).map_err(|e| failed(e.into()))?;
    write_samples(std::io::BufWriter::new(file), samples).map_err(failed)
}

fn write_samples(out: impl Write + Seek, samples: &[f32]) -> hound::Result<()> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::new(out, spec)?;
    for &x in samples {
        let value = (f64::from(x) * f64::from(i16::MAX)).round();
        writer.write_sample(value as i16)?;
    }
    writer.finalize()
}
