//! Makes sound whose pitch is known exactly, by additive synthesis, and seeded noise and clicks.

use std::f64::consts::TAU;

/// A voice of steady partials.
pub struct Voice {
    pub rate_hz: f64,
    /// Amplitude of each partial, the first first.
    pub amplitudes: Vec<f64>,
    /// Inharmonicity B of a stiff string: partial h lies at h · sqrt(1 + B h²), counted from the first partial
    /// (Fletcher, Blackham and Stratton, Quality of piano tones, 1962).
    pub stiffness: f64,
}

/// Fade at both ends of a tone, in seconds, so that it starts without a click.
const FADE_S: f64 = 0.01;

impl Voice {
    /// Eight partials that fall as 1/h.
    pub fn harmonic(rate_hz: f64) -> Self {
        let amplitudes = (1..=8).map(|h| 0.2 / f64::from(h)).collect();
        Self {
            rate_hz,
            amplitudes,
            stiffness: 0.0,
        }
    }

    /// A tone whose first partial follows `hz`, a function of the time in seconds.
    pub fn glide(&self, seconds: f64, hz: impl Fn(f64) -> f64) -> Vec<f32> {
        let mut phase = 0.0;
        (0..(seconds * self.rate_hz) as usize)
            .map(|k| {
                let t = k as f64 / self.rate_hz;
                let hz = hz(t);
                phase += TAU * hz / self.rate_hz;
                let fade = (t / FADE_S).min((seconds - t) / FADE_S).clamp(0.0, 1.0);
                (fade * self.sample(phase, hz)) as f32
            })
            .collect()
    }

    /// A steady tone.
    pub fn steady(&self, seconds: f64, hz: f64) -> Vec<f32> {
        self.glide(seconds, |_| hz)
    }

    /// A tone that dies away like a plucked string, to a third in `decay_s` seconds.
    pub fn plucked(&self, seconds: f64, hz: f64, decay_s: f64) -> Vec<f32> {
        let mut tone = self.steady(seconds, hz);
        for (k, x) in tone.iter_mut().enumerate() {
            *x *= (-(k as f64) / self.rate_hz / decay_s).exp() as f32;
        }
        tone
    }

    /// The partials at one moment; those near half the sampling rate and above are left out.
    fn sample(&self, phase: f64, hz: f64) -> f64 {
        let partials = (1..).zip(&self.amplitudes);
        partials
            .map(|(h, amplitude)| (self.ratio(h), amplitude))
            .filter(|(ratio, _)| ratio * hz < 0.45 * self.rate_hz)
            .map(|(ratio, amplitude)| amplitude * (ratio * phase).sin())
            .sum()
    }

    fn ratio(&self, partial: u32) -> f64 {
        let h = f64::from(partial);
        h * ((1.0 + self.stiffness * h * h) / (1.0 + self.stiffness)).sqrt()
    }
}

/// White noise within ±`amplitude`, the same for the same seed (Marsaglia, Xorshift RNGs, 2003).
pub fn noise(count: usize, amplitude: f64, seed: u64) -> Vec<f32> {
    let mut state = 0x9e37_79b9_7f4a_7c15 ^ seed;
    (0..count)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            let unit = (state >> 11) as f64 / (1u64 << 53) as f64;
            (amplitude * (2.0 * unit - 1.0)) as f32
        })
        .collect()
}

/// Short bursts of noise at uneven times, like clicks and claps.
pub fn clicks(rate_hz: f64, seconds: f64, seed: u64) -> Vec<f32> {
    let mut sound = noise((seconds * rate_hz) as usize, 0.8, seed);
    let mut start_s = 0.2;
    let mut gaps = [0.23, 0.31, 0.12, 0.57, 0.4].iter().cycle();
    for (k, x) in sound.iter_mut().enumerate() {
        let t = k as f64 / rate_hz;
        if t > start_s + 0.1 {
            start_s += gaps.next().unwrap();
        }
        *x *= if t < start_s {
            0.0
        } else {
            (-(t - start_s) / 0.005).exp() as f32
        };
    }
    sound
}
