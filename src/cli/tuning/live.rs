//! `whichmode tuning --live`: raw sound on standard input; each pluck in a line as it is heard, the page at the end.

use std::io::Read;

use clap::ValueEnum;

use super::{Meant, TuningArgs, said};
use crate::cli::terminal;
use crate::error::{Error, Result};
use crate::report::tuning::{pluck_line, reading_at_once, string_line};
use crate::tuning::{Pluck, PluckListener};
use crate::units::STANDARD_A4_HZ;

/// How much sound is read at a time, in seconds: a small part of the time in which a pluck is to be told.
const BLOCK_S: f64 = 0.02;

/// How a sample is written.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum RawFormat {
    /// Integers of 16 bits, low byte first
    S16le,
    /// Floating point of 32 bits, low byte first
    F32le,
}

impl RawFormat {
    fn bytes(self) -> usize {
        match self {
            Self::S16le => 2,
            Self::F32le => 4,
        }
    }

    fn sample(self, bytes: &[u8]) -> f32 {
        match (self, bytes) {
            (Self::S16le, &[a, b]) => f32::from(i16::from_le_bytes([a, b])) / 32_768.0,
            (Self::F32le, &[a, b, c, d]) => f32::from_le_bytes([a, b, c, d]),
            _ => 0.0,
        }
    }
}

/// Listens until the sound ends.
pub fn run(args: &TuningArgs, meant: &Meant) -> Result<()> {
    let rate_hz = f64::from(args.rate);
    let channels = usize::from(args.channels);
    let frame = args.format.bytes() * channels;
    let mut bytes = vec![0; (BLOCK_S * rate_hz) as usize * frame];
    let mut listener = PluckListener::new(rate_hz);
    let mut input = std::io::stdin().lock();
    loop {
        let count = fill(&mut input, &mut bytes)?;
        listener.push(&mono(
            args.format,
            channels,
            &bytes[..count - count % frame],
        ));
        for pluck in listener.early() {
            terminal::print(&format!("{}\n", line(&pluck, meant)))?;
        }
        if count < bytes.len() {
            break;
        }
    }
    let plucks = listener.finish();
    let page = said(args, meant, "live", &plucks, &[])?;
    terminal::print(&format!("\n{page}"))
}

/// Reads until the buffer is full or the sound ends; gives the number of bytes.
fn fill(input: &mut impl Read, bytes: &mut [u8]) -> Result<usize> {
    let mut count = 0;
    while count < bytes.len() {
        match input.read(&mut bytes[count..]) {
            Ok(0) => break,
            Ok(more) => count += more,
            Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
            Err(e) => {
                return Err(Error::unreadable("standard input can't be read", e));
            }
        }
    }
    Ok(count)
}

fn mono(format: RawFormat, channels: usize, bytes: &[u8]) -> Vec<f32> {
    bytes
        .chunks_exact(format.bytes() * channels)
        .map(|frame| {
            let samples = frame.chunks_exact(format.bytes());
            samples.map(|s| format.sample(s)).sum::<f32>() / channels as f32
        })
        .map(|x| if x.is_finite() { x } else { 0.0 })
        .collect()
}

/// What is said of a pluck at once: the string it is near to, whatever the order, or its note.
fn line(pluck: &Pluck, meant: &Meant) -> String {
    let reading = meant.intention.and_then(|i| reading_at_once(pluck, i));
    match reading {
        Some(reading) => string_line(&reading),
        None => pluck_line(
            pluck,
            meant
                .intention
                .map_or(STANDARD_A4_HZ, |i| i.reference.first_a4_hz()),
        ),
    }
}
