//! Plucked sounds of exactly known pitch: stiff strings after Fletcher and Rossing, The Physics of Musical Instruments,
//! 1998 (partial n at n·f1·√((1 + B·n²) / (1 + B)), amplitudes of a string plucked at a point), and clamped tines
//! (partials at 1 : 6.27 : 17.55, the clamped bar of the same book).

use std::f64::consts::PI;
use std::path::Path;

use whichmode::tuning::{
    Intention, Pluck, PluckListener, Reference, Scheme, Temperament, Tuning, judge, parse_notes,
};

/// Samples a second, unless a test says otherwise.
pub const RATE_HZ: f64 = 44_100.0;

/// What is plucked.
#[derive(Debug, Clone, Copy)]
pub enum Body {
    /// With this inharmonicity.
    String(f64),
    Tine,
}

/// A sound that sums up plucks.
pub struct Recording {
    pub samples: Vec<f32>,
    pub rate_hz: f64,
    random: u64,
}

impl Recording {
    /// Silence of that many seconds.
    pub fn silent(seconds: f64, rate_hz: f64) -> Self {
        Self {
            samples: vec![0.0; (seconds * rate_hz) as usize],
            rate_hz,
            random: 0x9e37_79b9_7f4a_7c15,
        }
    }

    /// Writes it as a WAV file of 16 bits.
    pub fn write(&self, path: &Path) {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: self.rate_hz as u32,
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let mut writer = hound::WavWriter::create(path, spec).unwrap();
        for x in &self.samples {
            writer.write_sample((x * 32_767.0) as i16).unwrap();
        }
        writer.finalize().unwrap();
    }

    /// Plucks at `start_s`; the first partial is `first_hz` once the attack's glide is over.
    pub fn pluck(&mut self, start_s: f64, first_hz: f64, ring_s: f64, body: Body) {
        for (ratio, amplitude, decay) in partials(body) {
            if ratio * first_hz < 0.45 * self.rate_hz {
                let phase = 2.0 * PI * self.random();
                self.partial(start_s, ratio * first_hz, ring_s, (amplitude, decay, phase));
            }
        }
    }

    /// Partials (ratio, amplitude, decay a second) of a tone without a knock, at `first_hz`.
    pub fn tone(&mut self, start_s: f64, first_hz: f64, ring_s: f64, of: &[(f64, f64, f64)]) {
        for &(ratio, amplitude, decay) in of {
            let first = (start_s * self.rate_hz) as usize;
            let count = (ring_s * self.rate_hz) as usize;
            for (i, out) in self.samples.iter_mut().skip(first).take(count).enumerate() {
                let t = i as f64 / self.rate_hz;
                let gate = (t / 0.03).min((count - i) as f64 / (0.05 * self.rate_hz));
                let swell = (gate.min(1.0) * PI / 2.0).sin().powi(2);
                let sine = (2.0 * PI * ratio * first_hz * t).sin();
                *out += (0.3 * amplitude * swell * (-decay * t).exp() * sine) as f32;
            }
        }
    }

    fn partial(
        &mut self,
        start_s: f64,
        hz: f64,
        ring_s: f64,
        (amplitude, decay, phase): (f64, f64, f64),
    ) {
        let first = (start_s * self.rate_hz) as usize;
        let count = (ring_s * self.rate_hz) as usize;
        // A hard pluck starts eight cents sharp and glides down with a time constant of 50 ms: the phase runs ahead by
        // the integral of that.
        let ahead = 8.0 / 1200.0 * std::f64::consts::LN_2 * 0.05;
        for (i, out) in self.samples.iter_mut().skip(first).take(count).enumerate() {
            let t = i as f64 / self.rate_hz;
            let glide = ahead * (1.0 - (-t / 0.05).exp());
            let fade = ((count - i) as f64 / (0.04 * self.rate_hz)).min(1.0);
            let rise = (t / 0.003).min(1.0);
            let envelope = 0.3 * amplitude * (-decay * t).exp() * fade * rise;
            *out += (envelope * (2.0 * PI * hz * (t + glide) + phase).sin()) as f32;
        }
    }

    /// Adds white noise of that root mean square.
    pub fn noise(&mut self, level: f64) {
        for i in 0..self.samples.len() {
            let sum: f64 = (0..12).map(|_| self.random()).sum();
            self.samples[i] += (level * (sum - 6.0)) as f32;
        }
    }

    /// A knock of the hand: 30 ms of noise.
    pub fn knock(&mut self, start_s: f64) {
        let first = (start_s * self.rate_hz) as usize;
        for i in 0..(0.03 * self.rate_hz) as usize {
            let fade = 1.0 - i as f64 / (0.03 * self.rate_hz);
            self.samples[first + i] += (0.4 * fade * (2.0 * self.random() - 1.0)) as f32;
        }
    }

    /// A spoken vowel, gliding from 190 to 120 Hz, with formants and a soft beginning and end.
    pub fn word(&mut self, start_s: f64) {
        let (first, count) = (
            (start_s * self.rate_hz) as usize,
            (0.5 * self.rate_hz) as usize,
        );
        let mut phase = 0.0;
        for i in 0..count {
            let part = i as f64 / count as f64;
            let hz = 190.0 - 70.0 * part;
            phase += 2.0 * PI * hz / self.rate_hz;
            let voice: f64 = (1..20)
                .map(|n| formant(f64::from(n) * hz) * (f64::from(n) * phase).sin())
                .sum();
            self.samples[first + i] += (0.2 * (PI * part).sin() * voice) as f32;
        }
    }

    /// What is heard, the sound coming in blocks of `block` samples.
    pub fn heard(&self, block: usize) -> Vec<Pluck> {
        let mut listener = PluckListener::new(self.rate_hz);
        self.samples.chunks(block).for_each(|b| listener.push(b));
        listener.finish()
    }

    fn random(&mut self) -> f64 {
        // Knuth, The Art of Computer Programming, volume 2: a linear congruential generator (multiplier of MMIX).
        self.random = self
            .random
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.random >> 11) as f64 / (1u64 << 53) as f64
    }
}

fn partials(body: Body) -> Vec<(f64, f64, f64)> {
    match body {
        Body::Tine => vec![(1.0, 1.0, 2.5), (6.27, 0.25, 9.0), (17.55, 0.1, 20.0)],
        Body::String(b) => (1..40)
            .map(|n| {
                let n = f64::from(n);
                let ratio = n * ((1.0 + b * n * n) / (1.0 + b)).sqrt();
                let amplitude = (PI * n * 0.17).sin().abs() / n.powf(1.2);
                (ratio, amplitude, 1.2 + 0.5 * n)
            })
            .collect(),
    }
}

/// Two formants of an open vowel.
fn formant(hz: f64) -> f64 {
    let hill = |centre: f64, width: f64| 1.0 / (1.0 + ((hz - centre) / width).powi(2));
    hill(700.0, 120.0) + 0.5 * hill(1150.0, 150.0)
}

/// The frequency that many cents above another.
pub fn raised(hz: f64, cents: f64) -> f64 {
    hz * (cents / 1200.0).exp2()
}

/// Equal-tempered frequency of a MIDI number at A4 = 440 Hz (ISO 16:1975).
pub fn equal(midi: i32) -> f64 {
    raised(440.0, 100.0 * f64::from(midi - 69))
}

/// Strings in the order given, equal temperament, A4 = 440 Hz.
pub fn intention(notes: &str) -> Intention {
    let strings = parse_notes(notes).unwrap();
    let centre = strings[0].note;
    Intention {
        strings,
        scheme: Scheme::Tempered {
            temperament: Temperament::Equal,
            root: centre,
        },
        reference: Reference::A4(440.0),
        any_order: false,
        tolerance_cents: 5.0,
        centre,
        usual: None,
    }
}

/// The pluck of a string at that pitch, as if it had been measured.
pub fn measured(start_s: f64, hz: f64) -> Pluck {
    Pluck {
        start_s,
        hz,
        sigma_cents: 0.1,
        inharmonicity: Some(0.0),
        partials: 10,
        second_hz: Some(hz),
        overtones: Vec::new(),
        bell: Vec::new(),
        ringing: 0.0,
    }
}

/// Judges strings that were measured at these frequencies, one a second.
pub fn judged(intention: &Intention, heard_hz: &[f64]) -> Tuning {
    let plucks: Vec<Pluck> = heard_hz
        .iter()
        .enumerate()
        .map(|(i, &hz)| measured(i as f64, hz))
        .collect();
    judge(&plucks, intention).unwrap()
}
