//! Tunings of other machines: the bulk dump of the MIDI Tuning Standard, read and written.
//!
//! MIDI Manufacturers Association, MIDI Tuning Standard (the form is given from memory):
//! F0 7E device 08 01 program name[16] (semitone, two bytes of 1/16384 semitone) × 128, checksum, F7; 7F 7F 7F stands
//! for a key that has no tuning of its own. Devices differ in what they count into the checksum, so a wrong one is told,
//! not refused.

use crate::error::{Error, Result};
use crate::units::{STANDARD_A4_HZ, midi_from_hz};

/// Length of a bulk dump in bytes.
pub const LENGTH: usize = 408;
const KEYS: usize = 128;
const NAME: std::ops::Range<usize> = 6..22;
const TABLE: std::ops::Range<usize> = 22..406;
/// "All devices".
const ANY_DEVICE: u8 = 0x7f;
/// Parts of a semitone: fourteen bits.
const PARTS: f64 = 16384.0;
/// The highest frequency that three bytes can name, 7F 7F 7E, in parts.
const HIGHEST: f64 = 127.0 * PARTS + 16382.0;

/// The tuning of each of the 128 MIDI keys.
#[derive(Debug, Clone, PartialEq)]
pub struct Dump {
    /// Up to 16 letters of ASCII.
    pub name: String,
    /// Fractional MIDI number at A4 = 440 Hz that each key sounds; `None` for a key that is left as it is.
    pub keys: Vec<Option<f64>>,
    /// Whether the checksum was right.
    pub checksum_holds: bool,
}

impl Dump {
    /// A dump that leaves every key as it is.
    pub fn new(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            keys: vec![None; KEYS],
            checksum_holds: true,
        }
    }

    /// Pitches in hertz on the keys of these MIDI numbers; of several on one key the first, and none where it is unknown.
    pub fn of_pitches(name: &str, pitches: impl IntoIterator<Item = (i32, Option<f64>)>) -> Self {
        let mut dump = Self::new(name);
        for (midi, hz) in pitches {
            let key = usize::try_from(midi)
                .ok()
                .and_then(|k| dump.keys.get_mut(k));
            if let Some(key) = key {
                *key = key.or(hz.map(|hz| midi_from_hz(hz, STANDARD_A4_HZ)));
            }
        }
        dump
    }

    /// Reads a dump.
    ///
    /// # Errors
    /// [`Error::Text`] that says what is missing.
    pub fn read(bytes: &[u8]) -> Result<Self> {
        let wrong = |why: &str| {
            Error::Text(format!(
                "this is no bulk dump of the MIDI Tuning Standard: {why}"
            ))
        };
        if bytes.len() != LENGTH {
            return Err(wrong(&format!(
                "it has {} bytes, not {LENGTH}",
                bytes.len()
            )));
        }
        let heads = bytes[0] == 0xf0 && bytes[1] == 0x7e && bytes[3] == 0x08 && bytes[4] == 0x01;
        if !heads || bytes[LENGTH - 1] != 0xf7 {
            return Err(wrong(
                "it lacks F0 7E … 08 01 at the start or F7 at the end",
            ));
        }
        if bytes[1..LENGTH - 1].iter().any(|b| b & 0x80 != 0) {
            return Err(wrong("a byte within is over 7F"));
        }
        Ok(Self {
            name: String::from_utf8_lossy(&bytes[NAME])
                .trim_end_matches(['\0', ' '])
                .to_owned(),
            keys: bytes[TABLE].chunks_exact(3).map(key_pitch).collect(),
            checksum_holds: checksum(bytes) == bytes[TABLE.end],
        })
    }

    /// Writes the dump, for program 0 of any device.
    pub fn write(&self) -> Vec<u8> {
        let mut bytes = vec![0xf0, 0x7e, ANY_DEVICE, 0x08, 0x01, 0x00];
        let letters = self
            .name
            .chars()
            .filter(|c| c.is_ascii() && !c.is_control());
        let name = letters.map(|c| c as u8).chain(std::iter::repeat(b' '));
        bytes.extend(name.take(NAME.len()));
        for key in &self.keys {
            bytes.extend(key_bytes(*key));
        }
        bytes.push(checksum(&bytes));
        bytes.push(0xf7);
        bytes
    }
}

fn key_pitch(bytes: &[u8]) -> Option<f64> {
    let [semitone, high, low] = [bytes[0], bytes[1], bytes[2]];
    let parts = f64::from(high) * 128.0 + f64::from(low);
    ([semitone, high, low] != [0x7f; 3]).then(|| f64::from(semitone) + parts / PARTS)
}

fn key_bytes(pitch: Option<f64>) -> [u8; 3] {
    let Some(pitch) = pitch else {
        return [0x7f; 3];
    };
    let parts = (pitch * PARTS).round().clamp(0.0, HIGHEST) as u32;
    [parts >> 14, (parts >> 7) & 0x7f, parts & 0x7f].map(|b| b as u8)
}

/// All bytes from 7E up to the end of the table, XORed.
fn checksum(bytes: &[u8]) -> u8 {
    bytes[1..TABLE.end].iter().fold(0, |sum, b| sum ^ b) & 0x7f
}
