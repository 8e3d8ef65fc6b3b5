//! Short-time spectra at four window lengths, so that every pitch is seen through about seven of its periods: short
//! windows for high notes, long ones for low notes, each twice as long as the one before at half its rate.

use std::sync::Arc;

use multiversion::multiversion;
use whichmode_transforms::{Complex32, ComplexToReal, Planner32, RealToComplex, hann};

use super::decimate::Decimator;
use crate::simd::dot;

/// Frames a second.
pub const FRAMES_PER_SECOND: usize = 100;
/// How many window lengths there are.
pub const BANDS: usize = 4;
/// Window lengths in seconds: 512 samples at 22,050 Hz and at that rate halved once, twice and three times, so that all
/// transforms are of one short length.
pub const WINDOW_S: [f64; BANDS] = [0.023_22, 0.046_44, 0.092_88, 0.185_76];
/// By how much each band's rate is lowered from that of the band before.
const RATE_DIVISOR: [usize; BANDS] = [1, 2, 2, 2];
/// The part of a band's range, from 0 Hz to half its rate, that its decimator leaves clean.
const CLEAN_PART: f64 = 0.92;
/// Zero padding: transform length over window length.
const PADDING: usize = 2;
/// Nothing above this is looked at, in hertz: partials of played notes carry little there and noise much.
pub const TOP_HZ: f64 = 6000.0;
/// The analysis rate is the source's rate divided by the largest whole number that leaves at least this, in hertz.
const LEAST_RATE_HZ: f64 = 20_000.0;

/// The spectra of one frame.
#[derive(Debug, Clone, Default)]
pub struct Spectra {
    /// Complex spectrum of each band, scaled so that a sinusoid of amplitude 1 gives magnitude 1.
    pub complex: [Vec<Complex32>; BANDS],
    /// Its magnitude.
    pub magnitude: [Vec<f32>; BANDS],
    /// Sum of its squares.
    pub energy: [f32; BANDS],
    /// Root mean square of the samples within the shortest window.
    pub level: f32,
    /// Centre of the frame in samples of each band's rate.
    pub centre: [usize; BANDS],
}

/// One window length with its transform.
pub struct Band {
    /// Samples a second of the stream that this band reads.
    pub rate_hz: f64,
    /// Hertz from one bin to the next.
    pub bin_hz: f64,
    /// Bins that are kept, from 0 Hz up.
    pub bins: usize,
    /// Length of the transform in samples.
    pub fft_len: usize,
    /// The Hann window, scaled by 2 / sum.
    window: Vec<f32>,
    forward: Arc<dyn RealToComplex<f32>>,
    history: History,
    decimator: Decimator,
}

/// The recent samples of one stream.
#[derive(Default)]
struct History {
    samples: Vec<f32>,
    first: usize,
}

impl History {
    fn end(&self) -> usize {
        self.first + self.samples.len()
    }

    /// Forgets what lies before sample `keep_from`, now and then.
    fn trim(&mut self, keep_from: usize) {
        let old = keep_from.saturating_sub(self.first);
        if old > 16_384 {
            self.samples.drain(..old);
            self.first += old;
        }
    }

    /// Copies `out.len()` samples from position `from` on; silence before the start and after the end.
    fn copy(&self, from: i64, out: &mut [f32]) {
        let known = self.first as i64..self.end() as i64;
        let (first, end) = (
            from.max(known.start),
            (from + out.len() as i64).min(known.end),
        );
        if first >= end {
            out.fill(0.0);
            return;
        }
        let (before, rest) = out.split_at_mut((first - from) as usize);
        let (inside, after) = rest.split_at_mut((end - first) as usize);
        before.fill(0.0);
        after.fill(0.0);
        let at = (first - known.start) as usize;
        inside.copy_from_slice(&self.samples[at..at + inside.len()]);
    }
}

/// Turns a stream of samples into spectra, one set every 10 ms.
pub struct Analyser {
    /// The four window lengths, shortest first.
    pub bands: [Band; BANDS],
    source_decimator: Decimator,
    next_frame: usize,
    inputs: usize,
    source_rate_hz: f64,
    frame: Vec<f32>,
    scratch: Vec<Complex32>,
    passed: Vec<f32>,
    lowered: Vec<f32>,
}

impl Analyser {
    /// An analyser for a source of `source_rate_hz` samples a second.
    pub fn new(source_rate_hz: f64) -> Self {
        let factor = (source_rate_hz / LEAST_RATE_HZ).floor().max(1.0) as usize;
        let rate = source_rate_hz / factor as f64;
        let mut planner = Planner32::new();
        let mut band_rate = rate;
        let bands = std::array::from_fn(|b| {
            band_rate /= RATE_DIVISOR[b] as f64;
            Band::new(b, band_rate, &mut planner)
        });
        let longest = bands.iter().map(|b| b.fft_len).max().unwrap_or(0);
        let scratch = bands
            .iter()
            .map(|b| b.forward.get_scratch_len())
            .max()
            .unwrap_or(0);
        Self {
            bands,
            source_decimator: Decimator::new(factor),
            next_frame: 0,
            inputs: 0,
            source_rate_hz,
            frame: vec![0.0; longest],
            scratch: vec![Complex32::default(); scratch],
            passed: Vec::new(),
            lowered: Vec::new(),
        }
    }

    /// Takes the next samples of the source.
    pub fn push(&mut self, samples: &[f32]) {
        self.inputs += samples.len();
        self.feed(samples);
    }

    /// Appends silence so that every frame within the sound can be taken.
    pub fn finish(&mut self) {
        let silence = vec![0.0; (self.source_rate_hz * (WINDOW_S[BANDS - 1] + 0.05)) as usize];
        self.feed(&silence);
    }

    fn feed(&mut self, samples: &[f32]) {
        self.passed.clear();
        self.source_decimator.push(samples, &mut self.passed);
        for band in &mut self.bands {
            self.lowered.clear();
            band.decimator.push(&self.passed, &mut self.lowered);
            band.history.samples.extend_from_slice(&self.lowered);
            std::mem::swap(&mut self.passed, &mut self.lowered);
        }
    }

    /// Length of the source so far in seconds.
    pub fn duration_s(&self) -> f64 {
        self.inputs as f64 / self.source_rate_hz
    }

    /// Computes the next frame into `out`; false when more samples are needed first.
    pub fn next_frame(&mut self, out: &mut Spectra) -> bool {
        let time_s = self.next_frame as f64 / FRAMES_PER_SECOND as f64;
        if time_s >= self.duration_s() || !self.bands.iter().all(|b| b.reaches(time_s)) {
            return false;
        }
        for (b, band) in self.bands.iter_mut().enumerate() {
            let centre = (time_s * band.rate_hz).round() as usize;
            let start = centre as i64 - band.window.len() as i64 / 2;
            let frame = &mut self.frame[..band.fft_len];
            let (signal, padding) = frame.split_at_mut(band.window.len());
            band.history.copy(start, signal);
            if b == 0 {
                out.level = (dot(signal, signal) / signal.len() as f32).sqrt();
            }
            multiply(signal, &band.window);
            padding.fill(0.0);
            let spectrum = &mut out.complex[b];
            spectrum.resize(band.fft_len / 2 + 1, Complex32::default());
            let scratch = &mut self.scratch[..band.forward.get_scratch_len()];
            // The lengths are those the plan was made for, so the transform cannot fail.
            let _ = band.forward.process_with_scratch(frame, spectrum, scratch);
            let magnitude = &mut out.magnitude[b];
            magnitude.resize(band.bins, 0.0);
            magnitudes(spectrum, magnitude);
            out.energy[b] = dot(magnitude, magnitude);
            out.centre[b] = centre;
            band.history.trim(start.max(0) as usize);
        }
        self.next_frame += 1;
        true
    }
}

#[multiversion(targets("x86_64+avx2+fma"))]
fn multiply(values: &mut [f32], factors: &[f32]) {
    for (value, factor) in values.iter_mut().zip(factors) {
        *value *= factor;
    }
}

#[multiversion(targets("x86_64+avx2+fma"))]
fn magnitudes(spectrum: &[Complex32], out: &mut [f32]) {
    for (magnitude, c) in out.iter_mut().zip(spectrum) {
        *magnitude = (c.re * c.re + c.im * c.im).sqrt();
    }
}

impl Band {
    fn new(index: usize, rate_hz: f64, planner: &mut Planner32) -> Self {
        // A multiple of 16, so that the transform's length has small factors.
        let length = ((WINDOW_S[index] * rate_hz / 16.0).round() as usize).max(2) * 16;
        let fft_len = length * PADDING;
        let bin_hz = rate_hz / fft_len as f64;
        let window: Vec<f32> = hann(length)
            .map(|w| (w * 4.0 / length as f64) as f32)
            .collect();
        Self {
            rate_hz,
            bin_hz,
            bins: (((TOP_HZ * 1.02) / bin_hz).ceil() as usize + 1)
                .min((CLEAN_PART * (fft_len / 2) as f64) as usize),
            fft_len,
            window,
            forward: planner.forward(fft_len),
            history: History::default(),
            decimator: Decimator::new(RATE_DIVISOR[index]),
        }
    }

    /// Window length in samples.
    pub fn window_len(&self) -> usize {
        self.window.len()
    }

    /// The window's values.
    pub fn window(&self) -> &[f32] {
        &self.window
    }

    /// Whether the stream holds the whole window around a time.
    fn reaches(&self, time_s: f64) -> bool {
        (time_s * self.rate_hz).round() as usize + self.window.len() / 2 < self.history.end()
    }

    /// A plan for the inverse transform of this band's length.
    pub fn inverse(&self) -> Arc<dyn ComplexToReal<f32>> {
        Planner32::new().inverse(self.fft_len)
    }
}
