//! Tones made of exact harmonics: a plucked string, a bowed one, a blown pipe, a pure tone.
//!
//! The plucked string is the ideal one without stiffness: partial n is as strong as the string's shape where it is plucked
//! makes it, sin(nπβ)/n in the force on the bridge, softened by a finger's width, and dies away the faster the higher it
//! is (Fletcher and Rossing, The Physics of Musical Instruments, 1998). The others sound as long as they are held and have
//! no vibrato. Phases follow Schroeder, Synthesis of low-peak-factor signals, IEEE Transactions on Information Theory,
//! 1970, so that loud partials never add up to a peak.

use std::f64::consts::{PI, TAU};

/// Partials above this part of the sample rate are left out: half would be the limit of what samples can hold.
const HIGHEST_PART: f64 = 0.45;
/// Partials at the most.
const MOST_PARTIALS: usize = 32;
/// Weaker partials than this, of an amplitude of 1 for the strongest, are not heard.
const LEAST_AMPLITUDE: f64 = 1e-4;
/// Where the string is plucked, as part of its length; so that no partial below the ninth is missing.
const PLUCKED_AT: f64 = 0.22;
/// A fingertip's softness: partials fall by a factor e by this frequency, in hertz. Engineering judgement.
const FINGER_HZ: f64 = 3_500.0;
/// How long the first partial of a string at [`RING_AT_HZ`] takes to fall by a factor e, in seconds.
const RING_S: f64 = 1.6;
const RING_AT_HZ: f64 = 220.0;
/// How much faster each further partial dies away, as part of the first one's rate.
const RING_FASTER: f64 = 0.25;
/// Each partial of a pure tone is weaker by this than the one below, 20 dB: without any overtone the ear, and a
/// recogniser, takes a tone over its drone for one an octave lower. Engineering judgement.
const PURE_FALL: f64 = 0.1;
/// Where the partials of bow and breath have fallen by a factor e, in hertz.
const BOW_HZ: f64 = 2_500.0;
/// What each further partial of a blown pipe has of the one before.
const BREATH_FALL: f64 = 0.4;

/// What a line is played on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Instrument {
    /// A string plucked with the finger.
    Plucked,
    /// A bowed string.
    Bowed,
    /// A blown pipe.
    Blown,
    /// A tone with hardly an overtone.
    Pure,
}

/// How a tone begins and ends, in seconds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Envelope {
    pub attack_s: f64,
    pub release_s: f64,
}

impl Instrument {
    /// A pure tone ends quickly: two of them a tone apart, sounding together, are heard as one between them.
    pub(super) fn envelope(self) -> Envelope {
        let (attack_s, release_s) = match self {
            Self::Plucked => (0.004, 0.08),
            Self::Bowed => (0.07, 0.09),
            Self::Blown => (0.05, 0.07),
            Self::Pure => (0.03, 0.015),
        };
        Envelope {
            attack_s,
            release_s,
        }
    }

    /// Amplitude of partial n of a tone of `hz`.
    fn amplitude(self, n: usize, hz: f64) -> f64 {
        let number = n as f64;
        match self {
            Self::Plucked => {
                (number * PI * PLUCKED_AT).sin().abs() / number * (-number * hz / FINGER_HZ).exp()
            }
            Self::Bowed => (-number * hz / BOW_HZ).exp() / number,
            Self::Blown => BREATH_FALL.powi(n as i32 - 1),
            Self::Pure => PURE_FALL.powi(n as i32 - 1),
        }
    }

    /// What is left of partial n after a second, as a rate: amplitude falls by e to that.
    fn fall(self, n: usize, hz: f64) -> f64 {
        match self {
            Self::Plucked => {
                (hz / RING_AT_HZ).sqrt() / RING_S * (1.0 + RING_FASTER * (n as f64 - 1.0))
            }
            Self::Bowed | Self::Blown | Self::Pure => 0.0,
        }
    }
}

/// Adds a tone to the samples, from `start_s` on, held for `length_s` and then let go.
pub(super) fn add_tone(samples: &mut [f32], rate_hz: f64, tone: &ToneSpec, envelope: Envelope) {
    let first = (tone.start_s * rate_hz).round() as usize;
    let count = ((tone.length_s + envelope.release_s) * rate_hz).round() as usize;
    let Some(room) = samples.get_mut(first..) else {
        return;
    };
    let mut sound = vec![0.0; count.min(room.len())];
    for partial in partials(tone, rate_hz) {
        partial.add(&mut sound, rate_hz);
    }
    for (k, (into, x)) in room.iter_mut().zip(&sound).enumerate() {
        let at_s = k as f64 / rate_hz;
        let from_start = eased(at_s / envelope.attack_s);
        let to_end = eased((tone.length_s + envelope.release_s - at_s) / envelope.release_s);
        *into += (x * from_start * to_end) as f32;
    }
}

/// What is to sound.
#[derive(Debug, Clone, Copy)]
pub(super) struct ToneSpec {
    pub instrument: Instrument,
    pub hz: f64,
    pub start_s: f64,
    pub length_s: f64,
    /// Root mean square at the start.
    pub level: f64,
}

/// Half a cosine from 0 to 1: a rise without a corner.
fn eased(part: f64) -> f64 {
    0.5 - 0.5 * (PI * part.clamp(0.0, 1.0)).cos()
}

struct Partial {
    hz: f64,
    amplitude: f64,
    phase: f64,
    fall: f64,
}

impl Partial {
    /// Adds a dying sine, by turning a phasor from sample to sample.
    fn add(&self, sound: &mut [f64], rate_hz: f64) {
        let shrink = (-self.fall / rate_hz).exp();
        let (sin, cos) = (TAU * self.hz / rate_hz).sin_cos();
        let (turn_re, turn_im) = (shrink * cos, shrink * sin);
        let (mut re, mut im) = (
            self.amplitude * self.phase.cos(),
            self.amplitude * self.phase.sin(),
        );
        for x in sound {
            *x += im;
            (re, im) = (re * turn_re - im * turn_im, re * turn_im + im * turn_re);
        }
    }
}

fn partials(tone: &ToneSpec, rate_hz: f64) -> Vec<Partial> {
    let count = ((HIGHEST_PART * rate_hz / tone.hz) as usize).clamp(1, MOST_PARTIALS);
    let amplitudes: Vec<f64> = (1..=count)
        .map(|n| tone.instrument.amplitude(n, tone.hz))
        .collect();
    let strongest = amplitudes.iter().copied().fold(0.0, f64::max);
    let power: f64 = amplitudes.iter().map(|a| a * a / 2.0).sum();
    let scale = tone.level / power.sqrt();
    let mut used = 0.0;
    let mut found = Vec::new();
    for (k, amplitude) in amplitudes.into_iter().enumerate() {
        if amplitude < LEAST_AMPLITUDE * strongest {
            continue;
        }
        let n = k + 1;
        found.push(Partial {
            hz: n as f64 * tone.hz,
            amplitude: scale * amplitude,
            phase: -TAU * used,
            fall: tone.instrument.fall(n, tone.hz),
        });
        // Schroeder's phase of the next partial: the sum, over all before, of the power that each and those before it hold.
        let held: f64 = found
            .iter()
            .map(|p| (p.amplitude / scale).powi(2) / 2.0 / power)
            .sum();
        used += held;
    }
    found
}
