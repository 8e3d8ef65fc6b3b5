//! Gathers what each frame shows: salience, lag-domain correlation, salience of what is new, level and onsets.
//!
//! Everything runs behind the stream by a fixed delay, since an onset is only known from what follows it.

use super::lag::Lags;
use super::onset::{LOOK_AHEAD, OnsetFinder};
use super::residual::{LEAD, Residual};
use super::ring::Ring;
use super::salience::{GRID, Kernels};
use super::spectrum::{Analyser, BANDS, Spectra};

/// Frames that the reference level looks ahead.
const REFERENCE_LOOK_AHEAD: usize = 30;
/// Fall of the reference level a frame: 1 dB a second.
const REFERENCE_DECAY: f32 = 0.998_85;
/// Lowest reference level (full scale is 1): what is under it throughout is silence.
const LEAST_REFERENCE: f32 = 1e-4;
/// A sinusoid's peak over its root mean square, and some headroom for a chord of partials.
const PEAK_OVER_RMS: f32 = 1.8;
/// Frames whose spectra stay at hand for later stages.
pub const SPECTRA_KEPT: usize = 160;
/// Frames whose evidence stays at hand.
pub const EVIDENCE_KEPT: usize = 32;

/// What one frame shows.
#[derive(Debug, Clone)]
pub struct Evidence {
    /// Harmonic salience by grid pitch.
    pub salience: Vec<f32>,
    /// Salience of what is new since the last onset.
    pub residual: Vec<f32>,
    /// Normalised autocorrelation at each pitch's period.
    pub correlation: Vec<f32>,
    /// Magnitudes of what is new, by band.
    pub residual_magnitude: [Vec<f32>; BANDS],
    /// Sum of their squares.
    pub residual_energy: [f32; BANDS],
    /// The part of the energy that is new, 0 to 1.
    pub residual_share: f32,
    /// Root mean square level.
    pub level: f32,
    /// Level of the loud notes around here.
    pub reference: f32,
    /// Strength of an onset in this frame; 0 for none.
    pub onset: f32,
}

impl Evidence {
    fn blank() -> Self {
        let zeros = || vec![0.0; GRID];
        Self {
            salience: zeros(),
            residual: zeros(),
            correlation: zeros(),
            residual_magnitude: Default::default(),
            residual_energy: [0.0; BANDS],
            residual_share: 0.0,
            level: 0.0,
            reference: LEAST_REFERENCE,
            onset: 0.0,
        }
    }
}

/// Turns samples into evidence, frame by frame.
pub struct EvidenceStream {
    /// The spectra behind the evidence.
    pub analyser: Analyser,
    spectra: Ring<Spectra>,
    references: Ring<f32>,
    onsets: Ring<f32>,
    evidence: Ring<Evidence>,
    finder: OnsetFinder,
    residual: Residual,
    kernels: Kernels,
    lags: Lags,
    finished: bool,
    /// All samples have become spectra: nothing more is to be waited for.
    drained: bool,
}

impl EvidenceStream {
    /// A stream for a source of `rate_hz` samples a second.
    pub fn new(rate_hz: f64) -> Self {
        let analyser = Analyser::new(rate_hz);
        Self {
            kernels: Kernels::new(&analyser.bands),
            lags: Lags::new(&analyser.bands),
            analyser,
            spectra: Ring::new(SPECTRA_KEPT, Spectra::default()),
            references: Ring::new(SPECTRA_KEPT, LEAST_REFERENCE),
            onsets: Ring::new(SPECTRA_KEPT, 0.0),
            evidence: Ring::new(EVIDENCE_KEPT, Evidence::blank()),
            finder: OnsetFinder::default(),
            residual: Residual::default(),
            finished: false,
            drained: false,
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f32]) {
        self.analyser.push(samples);
    }

    /// No more samples will come.
    pub fn finish(&mut self) {
        self.analyser.finish();
        self.finished = true;
    }

    /// Computes the next frame's evidence and returns its number, or `None` when more samples are needed.
    pub fn advance(&mut self) -> Option<usize> {
        while !self.try_evidence() {
            if self.drained || !self.take_spectra() {
                return None;
            }
            self.decide_references();
            self.decide_onsets();
        }
        Some(self.evidence.next - 1)
    }

    /// Takes the next frame's spectra, or notes that there are no more; false when samples must come first.
    fn take_spectra(&mut self) -> bool {
        let got = self.analyser.next_frame(self.spectra.peek_next());
        if got {
            self.spectra.advance();
        } else {
            self.drained = self.finished;
        }
        got || self.drained
    }

    /// Whether the whole sound is behind us and every frame has its evidence.
    pub fn exhausted(&self) -> bool {
        self.drained && !self.ready()
    }

    /// Spectra of a recent frame.
    pub fn spectra(&self, frame: usize) -> &Spectra {
        self.spectra.get(frame)
    }

    /// Evidence of a recent frame.
    pub fn evidence(&self, frame: usize) -> &Evidence {
        self.evidence.get(frame)
    }

    /// How many frames have evidence.
    pub fn frames(&self) -> usize {
        self.evidence.next
    }

    /// How far behind the newest item of `available` a step may go.
    fn limit(&self, available: usize, look_ahead: usize) -> usize {
        if self.drained {
            available
        } else {
            available.saturating_sub(look_ahead)
        }
    }

    fn decide_references(&mut self) {
        while self.references.next < self.limit(self.spectra.next, REFERENCE_LOOK_AHEAD) {
            let frame = self.references.next;
            let ahead = (frame + REFERENCE_LOOK_AHEAD).min(self.spectra.next - 1);
            let loudest = (frame..=ahead)
                .map(|k| self.spectra.get(k).level)
                .fold(0.0, f32::max);
            let before = if frame > 0 {
                *self.references.get(frame - 1) * REFERENCE_DECAY
            } else {
                0.0
            };
            let reference = loudest.max(before).max(LEAST_REFERENCE);
            *self.references.advance() = reference;
            self.finder
                .push(self.spectra.get(frame), PEAK_OVER_RMS * reference);
        }
    }

    fn decide_onsets(&mut self) {
        while self.onsets.next < self.limit(self.references.next, LOOK_AHEAD) {
            let strength = self.finder.onset(self.onsets.next).unwrap_or(0.0);
            *self.onsets.advance() = strength;
        }
    }

    fn ready(&self) -> bool {
        self.evidence.next < self.limit(self.onsets.next, LEAD[BANDS - 1])
    }

    fn try_evidence(&mut self) -> bool {
        if !self.ready() {
            return false;
        }
        let frame = self.evidence.next;
        for (b, &lead) in LEAD.iter().enumerate() {
            if frame + lead < self.onsets.next && *self.onsets.get(frame + lead) > 0.0 {
                let before = self.spectra.get(frame.saturating_sub(1));
                self.residual.freeze(b, before, self.spectra.get(frame));
            }
        }
        let spectra = self.spectra.get(frame);
        let out = self.evidence.advance();
        out.residual_energy = self.residual.subtract(spectra, &mut out.residual_magnitude);
        out.residual_share = out.residual_energy[1] / (spectra.energy[1] + 1e-12);
        self.kernels.salience(
            [&spectra.magnitude, &out.residual_magnitude],
            [&mut out.salience, &mut out.residual],
        );
        self.lags.correlation(spectra, &mut out.correlation);
        out.level = spectra.level;
        out.reference = *self.references.get(frame);
        out.onset = *self.onsets.get(frame);
        true
    }
}
