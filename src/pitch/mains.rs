//! Mains hum, taken out of the sound before its pitch is found.
//!
//! **Takes** blocks of samples. **Gives** the same samples, some seconds later, without the tones at multiples of the mains
//! frequency that go on unchanged.
//!
//! **Method.** In windows of some seconds the tone at each multiple is brought to 0 Hz and read in short overlapping blocks; hum
//! has one frequency and turns with it from block to block, its strength is the mean of the third of the blocks that holds the
//! least, over which no note passes, and what is found is subtracted (synchronous detection, from memory). One window glides into the
//! next.
//!
//! **Limits.** Hum that is not there in the first window is left alone, and so is a tone on a multiple without the first or the
//! second: that may well be played.

use std::f64::consts::TAU;

use whichmode_transforms::{Complex64, hann};

use crate::units::MAINS_HZ;

/// A window in seconds: long enough that few notes leave less than a third of it free.
const WINDOW_S: f64 = 5.0;
/// Shorter sound is left as it is, in seconds.
const LEAST_S: f64 = 2.0;
/// A block in seconds, under a Hann window; the next begins half of it later. What lies 5 Hz away is out of it.
const BLOCK_S: f64 = 0.4;
/// A short block, in which a beat that comes back with the period of some hertz is not there all the time, as hum is.
const SHORT_BLOCK_S: f64 = 0.1;
/// The strength of a lowest multiple in short blocks, as part of that in long ones, from which it is hum.
const STEADY: f64 = 0.5;
/// Multiples of the mains frequency that are taken out: up to 1,440 Hz, which every rate that is read holds.
const MULTIPLES: usize = 24;
/// Multiples by whose turning the mains frequency is found; and how far it may lie from what it should be, in hertz: a fifth of
/// a per cent.
const LOW_MULTIPLES: usize = 6;
const ASTRAY_HZ: f64 = 0.12;
/// Steps in which it is looked for, first by the lowest multiples, then by all: less than a sixth of a turn of the highest
/// over a window.
const COARSE_HZ: f64 = 0.005;
const FINE_HZ: f64 = 0.000_5;
/// One of these is in all hum: rectifiers give the second, small microphones lose the first.
const LOWEST: [usize; 2] = [1, 2];
/// Hum is there if the blocks turn together so well (mean resultant length) at one of the lowest multiples and at another one.
/// Of blocks that turn at random the best of all frequencies reaches .5.
const TOGETHER: f64 = 0.7;
/// The part of the blocks, those with the least at a multiple, whose mean is the hum there.
const QUIET: f64 = 0.33;
/// Hum is taken out from this part of the power on, 40 dB beneath the whole. Engineering judgement.
const LEAST_PART: f64 = 0.0001;
/// A tone is taken out if it is so many times as strong as these blocks scatter about it at the median.
const STANDS_OUT: f64 = 3.0;

/// Sound on its way through.
pub struct Mains {
    rate_hz: f64,
    /// Samples not yet given, from the middle of the last window on.
    waiting: Vec<f32>,
    state: State,
}

enum State {
    /// The first window is not full.
    Unknown,
    /// There is none: samples pass.
    Absent,
    /// The hum of the last window, timed from the first of the waiting samples.
    Present(Hum),
}

/// Tones at multiples of one frequency.
#[derive(Debug, Clone)]
struct Hum {
    hz: f64,
    /// Strength and phase at time 0 of each multiple, the first first.
    tones: Vec<Complex64>,
}

impl Mains {
    /// For a source of `rate_hz` samples a second.
    pub fn new(rate_hz: f64) -> Self {
        Self {
            rate_hz,
            waiting: Vec::new(),
            state: State::Unknown,
        }
    }

    /// Takes the next samples and hands on what is done.
    pub fn push(&mut self, samples: &[f32], mut give: impl FnMut(&[f32])) {
        if let State::Absent = self.state {
            return give(samples);
        }
        self.waiting.extend_from_slice(samples);
        let window = self.samples(WINDOW_S);
        while self.waiting.len() >= window {
            self.take_window(window, &mut give);
        }
    }

    /// Hands on what is left.
    pub fn finish(&mut self, mut give: impl FnMut(&[f32])) {
        if let State::Unknown = self.state
            && self.waiting.len() >= self.samples(LEAST_S)
            && let Some(hum) = Hum::find(&self.waiting, self.rate_hz)
        {
            self.state = State::Present(hum);
        }
        if let State::Present(hum) = &self.state {
            subtract(&mut self.waiting, hum, hum, self.rate_hz);
        }
        give(&self.waiting);
        self.waiting.clear();
    }

    fn samples(&self, seconds: f64) -> usize {
        (self.rate_hz * seconds) as usize
    }

    /// Hands on the first half of a full window.
    fn take_window(&mut self, window: usize, give: &mut impl FnMut(&[f32])) {
        let before = match &self.state {
            State::Present(hum) => Some(hum),
            _ => None,
        };
        let found = match before {
            Some(hum) => Some(Hum::again(&self.waiting[..window], self.rate_hz, hum.hz)),
            None => Hum::find(&self.waiting[..window], self.rate_hz),
        };
        let Some(found) = found else {
            self.state = State::Absent;
            give(&self.waiting);
            self.waiting = Vec::new();
            return;
        };
        let half = window / 2;
        let before = before.unwrap_or(&found);
        subtract(&mut self.waiting[..half], before, &found, self.rate_hz);
        give(&self.waiting[..half]);
        self.waiting.drain(..half);
        self.state = State::Present(found.later(half as f64 / self.rate_hz));
    }
}

impl Hum {
    /// The hum of some samples, if there is any.
    fn find(samples: &[f32], rate_hz: f64) -> Option<Self> {
        let hums = MAINS_HZ.into_iter().flat_map(|mains_hz| {
            let tones = Tones::read(samples, rate_hz, mains_hz, LOW_MULTIPLES, BLOCK_S);
            let away = tones.away(ASTRAY_HZ, COARSE_HZ);
            LOWEST.map(|k| (tones.together_with_another(k, away), k, mains_hz + away))
        });
        let best = hums.max_by(|a, b| a.0.total_cmp(&b.0));
        let (_, lowest, hz) = best.filter(|(together, ..)| *together >= TOGETHER)?;
        let hum = Self::again(samples, rate_hz, hz);
        let power: f64 = samples.iter().map(|x| f64::from(x * x)).sum();
        let is_loud = hum.power() >= LEAST_PART * power / samples.len() as f64;
        (is_loud && hum.is_steady(lowest, samples, rate_hz)).then_some(hum)
    }

    /// Whether a multiple is nearly as strong in short blocks as in long ones.
    fn is_steady(&self, k: usize, samples: &[f32], rate_hz: f64) -> bool {
        let strength = self.tones[k - 1].norm();
        let short = Tones::read(samples, rate_hz, self.hz, k, SHORT_BLOCK_S);
        strength > 0.0 && short.standing(k, 0.0).norm() >= STEADY * strength
    }

    /// The mean square of its low multiples, which are the loudest of hum.
    fn power(&self) -> f64 {
        let low = self.tones.iter().take(LOW_MULTIPLES);
        low.map(|tone| 2.0 * tone.norm_sqr()).sum()
    }

    /// The hum of about a frequency in some samples. Where it falls silent the frequency is the one it had.
    fn again(samples: &[f32], rate_hz: f64, hz: f64) -> Self {
        let read = Tones::read(samples, rate_hz, hz, MULTIPLES, BLOCK_S);
        let away = read.away(COARSE_HZ, FINE_HZ);
        let tones: Vec<Complex64> = (1..=MULTIPLES).map(|k| read.standing(k, away)).collect();
        let stands = tones.iter().any(|tone| *tone != Complex64::default());
        let is_near = |mains_hz: &f64| (hz + away - mains_hz).abs() <= ASTRAY_HZ;
        let is_known = stands && MAINS_HZ.iter().any(is_near);
        Self {
            hz: if is_known { hz + away } else { hz },
            tones,
        }
    }

    /// The same timed from some seconds later.
    fn later(self, seconds: f64) -> Self {
        let turned =
            |(k, tone): (usize, &Complex64)| tone * turn(self.hz * (k + 1) as f64 * seconds);
        Self {
            tones: self.tones.iter().enumerate().map(turned).collect(),
            ..self
        }
    }
}

/// The tones at multiples of a frequency, block by block, each turned back by its own frequency.
struct Tones {
    blocks: Vec<Vec<Complex64>>,
    /// The middle of each block in seconds.
    at_s: Vec<f64>,
}

impl Tones {
    fn read(samples: &[f32], rate_hz: f64, hz: f64, multiples: usize, block_s: f64) -> Self {
        let length = (block_s * rate_hz) as usize;
        let shape: Vec<f64> = hann(length).map(|w| 2.0 * w / length as f64).collect();
        let starts: Vec<usize> = (0..=samples.len() - length).step_by(length / 2).collect();
        let at_s = starts.iter().map(|s| (s + length / 2) as f64 / rate_hz);
        let block = |&start: &usize, k: usize| {
            let step = turn(-hz * k as f64 / rate_hz);
            let mut back = turn(-hz * k as f64 * start as f64 / rate_hz);
            let mut sum = Complex64::default();
            for (sample, weight) in samples[start..start + length].iter().zip(&shape) {
                sum += back * (f64::from(*sample) * weight);
                back *= step;
            }
            sum
        };
        Self {
            blocks: (1..=multiples)
                .map(|k| starts.iter().map(|start| block(start, k)).collect())
                .collect(),
            at_s: at_s.collect(),
        }
    }

    /// The blocks of a multiple, turned back by so many hertz of the mains frequency more.
    fn turned(&self, k: usize, away_hz: f64) -> impl Iterator<Item = Complex64> {
        let blocks = self.blocks[k - 1].iter().zip(&self.at_s);
        blocks.map(move |(block, at_s)| block * turn(-away_hz * k as f64 * at_s))
    }

    /// How well the blocks of a multiple agree on their phase, 0 to 1.
    fn together(&self, k: usize, away_hz: f64) -> f64 {
        let phases = self
            .turned(k, away_hz)
            .map(|z| z / z.norm().max(f64::MIN_POSITIVE));
        phases.sum::<Complex64>().norm() / self.at_s.len() as f64
    }

    /// How well those of a multiple do, and those of the best of the others.
    fn together_with_another(&self, k: usize, away_hz: f64) -> f64 {
        let others = (1..=self.blocks.len()).filter(|other| *other != k);
        let beside = others.map(|other| self.together(other, away_hz));
        self.together(k, away_hz).min(beside.fold(0.0, f64::max))
    }

    /// The frequency at which they agree best, counted from the one they were read at.
    fn away(&self, reach_hz: f64, step_hz: f64) -> f64 {
        let steps = (reach_hz / step_hz).round() as i64;
        let places = (-steps..=steps).map(|n| step_hz * n as f64);
        let scored = places.map(|hz| {
            let all = (1..=self.blocks.len()).map(|k| self.together(k, hz).powi(2));
            (all.sum::<f64>(), hz)
        });
        scored
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map_or(0.0, |best| best.1)
    }

    /// Strength and phase at time 0 of what stands at a multiple; nothing if the blocks scatter as far.
    fn standing(&self, k: usize, away_hz: f64) -> Complex64 {
        let mut all: Vec<Complex64> = self.turned(k, away_hz).collect();
        all.sort_by(|a, b| a.norm_sqr().total_cmp(&b.norm_sqr()));
        let quiet = &all[..(all.len() as f64 * QUIET).ceil() as usize];
        let middle = quiet.iter().sum::<Complex64>() / quiet.len() as f64;
        let scatter = median(quiet.iter().map(|z| (z - middle).norm()));
        match middle.norm() >= STANDS_OUT * scatter {
            true => middle,
            false => Complex64::default(),
        }
    }
}

fn turn(turns: f64) -> Complex64 {
    Complex64::from_polar(1.0, TAU * turns.fract())
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// Takes hum out of samples, that of `before` at first, and that of `after` in the end.
fn subtract(samples: &mut [f32], before: &Hum, after: &Hum, rate_hz: f64) {
    let length = samples.len() as f64;
    for (hum, is_after) in [(before, false), (after, true)] {
        for (k, &tone) in hum.tones.iter().enumerate() {
            if tone == Complex64::default() {
                continue;
            }
            let step = turn(hum.hz * (k + 1) as f64 / rate_hz);
            let mut now = tone;
            for (i, sample) in samples.iter_mut().enumerate() {
                let part = i as f64 / length;
                let weight = if is_after { part } else { 1.0 - part };
                *sample -= (2.0 * weight * now.re) as f32;
                now *= step;
            }
        }
    }
}
