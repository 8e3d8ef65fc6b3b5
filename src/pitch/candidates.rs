//! The pitches a frame may have, each described by numbers that tell a played note from its relatives and its forerunners.

use super::curve::{find_peaks, highest, near, offset, parabola};
use super::evidence::{Evidence, EvidenceStream};
use super::features::{CandidateFeature, FrameFeature};
use super::onset_context::{LOOK_AHEAD, OnsetContext};
use super::partials::{Comb, sharpened};
use super::salience::{GRID, STEPS_PER_OCTAVE};
use super::spectrum::{BANDS, Spectra};

/// Candidates of a frame at the most.
pub const CANDIDATES: usize = 18;
/// As many of them are peaks of the frame itself at the most; the others began at an onset before it.
const OWN_PEAKS: usize = 12;
/// Peaks of the residual salience that become candidates whatever their rank.
const RESIDUAL_PEAKS: usize = 3;
/// Frames to either side of an onset in which the pitch may jump.
const ONSET_REACH: usize = 2;
/// Frames of context to either side.
const CONTEXT: usize = 6;
/// Grid steps from a pitch to its third partial: an octave and a fifth.
const TWELFTH: usize = 76;
/// Weights of salience, correlation and residual salience in the first ranking, from the random search behind
/// an earlier prototype; the fitted model ranks again.
const RANKING: [f32; 3] = [0.42, 0.25, 1.13];
/// Where less than this part of the energy is new, residual salience gives way to plain salience.
const LEAST_RESIDUAL: f32 = 0.012;
/// Decay a frame of the memory of what has long been sounding: a time constant of two seconds.
const MEMORY_DECAY: f32 = 0.995;
/// Candidates closer than this are one, in grid steps.
const LEAST_DISTANCE: f32 = 1.2;
/// A frame is described relative to a note floor that rises this much a frame, in decibels.
const FLOOR_RISE_DB: f32 = 0.03;
/// It does not lie lower than this beneath the reference, in decibels: digital silence is no quieter than a quiet room. Chosen on 67
/// students who sing; anything from -80 to -45 does within .002 as well.
const LOWEST_FLOOR_DB: f32 = -75.0;

/// One pitch that a frame may have.
#[derive(Debug, Clone, Copy)]
pub struct Candidate {
    /// Position on the grid, between grid points.
    pub position: f32,
    /// What describes it.
    pub features: [f32; CandidateFeature::COUNT],
}

impl Default for Candidate {
    fn default() -> Self {
        Self {
            position: 0.0,
            features: [0.0; CandidateFeature::COUNT],
        }
    }
}

/// All that is known of one frame before a path is chosen.
#[derive(Debug, Clone, Default)]
pub struct FrameCandidates {
    /// Best first by the first ranking.
    pub candidates: Vec<Candidate>,
    /// What describes the frame.
    pub frame: [f32; FrameFeature::COUNT],
    /// Strength of an onset in this frame; 0 for none.
    pub onset: f32,
    /// Root mean square level.
    pub level: f32,
    /// Level of the loud notes around here.
    pub reference: f32,
    /// Whether an onset lies within `ONSET_REACH` frames.
    pub near_onset: bool,
}

/// Describes frames one after another; remembers what has long been sounding.
pub struct Describer {
    memory: Vec<f32>,
    ranking: Vec<f32>,
    peaks: Vec<(f32, usize)>,
    residual_peaks: Vec<(f32, usize)>,
    floor_db: f32,
    since_onset: usize,
    loudest_since_onset: f32,
    /// What began at the last onset.
    onset: OnsetContext,
    /// What had begun at the one before.
    earlier: OnsetContext,
}

impl Default for Describer {
    fn default() -> Self {
        Self {
            memory: vec![0.0; GRID],
            ranking: vec![0.0; GRID],
            peaks: Vec::with_capacity(GRID),
            residual_peaks: Vec::with_capacity(GRID),
            floor_db: 0.0,
            since_onset: 0,
            loudest_since_onset: 0.0,
            onset: OnsetContext::blank(),
            earlier: OnsetContext::blank(),
        }
    }
}

impl Describer {
    /// Describes `frame`, which must be the one after the last described; its context must be there or past the ends.
    pub fn describe(&mut self, stream: &EvidenceStream, frame: usize, out: &mut FrameCandidates) {
        let here = stream.evidence(frame);
        self.rank(here);
        find_peaks(&self.ranking, &mut self.peaks);
        find_peaks(&here.residual, &mut self.residual_peaks);
        self.follow_level(here);
        if here.onset > 0.0 {
            std::mem::swap(&mut self.onset, &mut self.earlier);
            self.onset.read(stream, frame);
        }
        let context = Context::new(stream, frame);
        out.onset = here.onset;
        out.level = here.level;
        out.reference = here.reference;
        out.near_onset = (frame.saturating_sub(ONSET_REACH)..=frame + ONSET_REACH)
            .any(|k| k < stream.frames() && stream.evidence(k).onset > 0.0);
        out.frame = self.frame_features(here, &context);
        out.candidates.clear();
        self.add_candidates(here, &context, out);
        for (m, s) in self.memory.iter_mut().zip(&here.salience) {
            *m = MEMORY_DECAY * *m + (1.0 - MEMORY_DECAY) * s;
        }
    }

    fn add_candidates(&self, here: &Evidence, context: &Context, out: &mut FrameCandidates) {
        self.add_peaks(here, context, out);
        for position in self.onset.likely.iter().chain(&self.earlier.likely) {
            self.add(here, context, *position, out);
        }
    }

    /// Adds the peaks of the ranking and of the residual salience by turns, each as it is and sharpened, until there are enough.
    fn add_peaks(&self, here: &Evidence, context: &Context, out: &mut FrameCandidates) {
        for k in 0..self.peaks.len().max(RESIDUAL_PEAKS) {
            let ranked = self.peaks.get(k).map(|p| parabola(&self.ranking, p.1));
            let residual = self.residual_peaks.get(k).filter(|_| k < RESIDUAL_PEAKS);
            let residual = residual.map(|p| parabola(&here.residual, p.1));
            for peak in ranked.into_iter().chain(residual) {
                if out.candidates.len() >= OWN_PEAKS {
                    return;
                }
                self.add(here, context, peak, out);
                let sharp = sharpened(context.spectra, context.bin_hz, peak);
                self.add(here, context, sharp, out);
            }
        }
    }

    /// Adds a candidate unless it is one already, lies off the grid, or there are enough.
    fn add(&self, here: &Evidence, context: &Context, position: f32, out: &mut FrameCandidates) {
        let known = out
            .candidates
            .iter()
            .any(|c| (c.position - position).abs() < LEAST_DISTANCE);
        let at = position.round() as usize;
        if known || at < 1 || at + 1 >= GRID || out.candidates.len() == CANDIDATES {
            return;
        }
        let features = self.features(here, context, at, out.candidates.len());
        out.candidates.push(Candidate { position, features });
    }

    fn rank(&mut self, here: &Evidence) {
        let residual = (here.residual_share / LEAST_RESIDUAL).min(1.0);
        let [salience, correlation, new] = RANKING;
        for k in 0..GRID {
            let s = here.salience[k];
            let newest = residual * here.residual[k] + (1.0 - residual) * s;
            self.ranking[k] = salience * s + correlation * here.correlation[k] + new * newest;
        }
    }

    fn follow_level(&mut self, here: &Evidence) {
        let db = decibels(here.level, here.reference);
        self.floor_db = (self.floor_db + FLOOR_RISE_DB).min(db.max(LOWEST_FLOOR_DB));
        if here.onset > 0.0 {
            self.since_onset = 0;
            self.loudest_since_onset = 0.0;
        } else {
            self.since_onset += 1;
        }
        self.loudest_since_onset = self.loudest_since_onset.max(here.level);
    }

    fn frame_features(&self, here: &Evidence, context: &Context) -> [f32; FrameFeature::COUNT] {
        use FrameFeature::*;
        let best = self.peaks.first().map_or(0, |p| p.1);
        let db = decibels(here.level, here.reference);
        let change = |other: &Evidence| (decibels(here.level, other.level) / 10.0).clamp(-3.0, 3.0);
        FrameFeature::placed([
            (TopRanking, self.ranking[best]),
            (TopSalience, context.top.salience),
            (TopResidual, context.top.residual),
            (
                TopCorrelation,
                highest(&here.correlation[..GRID - STEPS_PER_OCTAVE]),
            ),
            (Correlation, here.correlation[best]),
            (Salience, here.salience[best]),
            (Level, (db / 20.0).max(-4.0)),
            (LevelAboveFloor, ((db - self.floor_db) / 20.0).min(4.0)),
            (
                LevelSinceOnset,
                (decibels(here.level, self.loudest_since_onset) / 20.0).max(-3.0),
            ),
            (ResidualShare, here.residual_share.min(1.0)),
            (SinceOnset, (self.since_onset.min(40) as f32) / 40.0),
            (LevelChangeBefore, change(context.before)),
            (LevelChangeAfter, change(context.after)),
            (SalienceAfter, near(&context.after.salience, best, 2)),
            (OnsetTopResidual, self.onset.top_residual),
            (OnsetResidual, near(&self.onset.residual, best, 2)),
            (OnsetFrames, self.onset.frames as f32 / LOOK_AHEAD as f32),
            (OnsetStrength, self.onset.strength),
        ])
    }

    fn features(
        &self,
        here: &Evidence,
        context: &Context,
        at: usize,
        rank: usize,
    ) -> [f32; CandidateFeature::COUNT] {
        use CandidateFeature::*;
        let top = &context.top;
        let (s, q, n) = (&here.salience, &here.residual, &here.correlation);
        let best = self.peaks.first().map_or(1.0, |p| p.0).max(1e-6);
        let comb = Comb::new(at, &context.bin_hz);
        let (partials, sounding) = comb.shape(context.spectra);
        let new_now = comb.newness(sounding, &here.residual_magnitude, &here.residual_energy);
        let begun = &self.onset;
        let new_then = comb.newness(comb.energy(&begun.sounding), &begun.new, &begun.new_energy);
        let octave = STEPS_PER_OCTAVE as i64;
        let twelfth = TWELFTH as i64;
        CandidateFeature::placed([
            (Salience, s[at]),
            (Residual, q[at]),
            (Correlation, n[at]),
            (SalienceShare, s[at] / top.salience),
            (ResidualShare, q[at] / top.residual),
            (RankingShare, self.ranking[at] / best),
            (SalienceOctaveBelow, offset(s, at, -octave)),
            (SalienceOctaveAbove, offset(s, at, octave)),
            (ResidualOctaveBelow, offset(q, at, -octave)),
            (ResidualOctaveAbove, offset(q, at, octave)),
            (CorrelationOctaveBelow, offset(n, at, -octave)),
            (CorrelationOctaveAbove, offset(n, at, octave)),
            (SalienceTwelfthBelow, offset(s, at, -twelfth)),
            (SalienceTwelfthAbove, offset(s, at, twelfth)),
            (NewEnergy, here.residual_share.min(1.0)),
            (SalienceBefore, near(&context.before.salience, at, 2)),
            (SalienceEarly, near(&context.early.salience, at, 2)),
            (SalienceLate, near(&context.late.salience, at, 2)),
            (SalienceAfter, near(&context.after.salience, at, 2)),
            (ResidualBefore, near(&context.before.residual, at, 2)),
            (ResidualLate, near(&context.late.residual, at, 2)),
            (ResidualAfter, near(&context.after.residual, at, 2)),
            (Memory, near(&self.memory, at, 2)),
            (SinceOnset, (self.since_onset.min(60) as f32) / 60.0),
            (UntilOnset, context.until_onset),
            (Pitch, (at as f32 - 150.0) / 80.0),
            (
                Level,
                (decibels(here.level, here.reference) / 20.0).max(-4.0),
            ),
            (Rank, rank as f32 / CANDIDATES as f32),
            (FirstPartial, partials[0]),
            (EvenPartials, partials[1]),
            (BetweenPartials, partials[2]),
            (Explained, partials[3]),
            (OnsetResidual, near(&self.onset.residual, at, 1)),
            (
                OnsetResidualShare,
                near(&self.onset.residual, at, 1) / self.onset.top_residual,
            ),
            (OnsetCorrelation, near(&self.onset.correlation, at, 1)),
            (
                EarlierResidualShare,
                near(&self.earlier.residual, at, 1) / self.earlier.top_residual,
            ),
            (OnsetFrames, self.onset.frames as f32 / LOOK_AHEAD as f32),
            (OnsetOctaveBelow, offset(&self.onset.residual, at, -octave)),
            (OnsetOctaveAbove, offset(&self.onset.residual, at, octave)),
            (
                SalienceBeforeOnset,
                near(&self.onset.salience_before, at, 1),
            ),
            (
                CorrelationBeforeOnset,
                near(&self.onset.correlation_before, at, 1),
            ),
            (
                SalienceGrowth,
                s[at] - near(&self.onset.salience_before, at, 1),
            ),
            (
                SalienceShareGrowth,
                near(s, at, 1) / top.salience
                    - near(&self.onset.salience_before, at, 1) / self.onset.top_before,
            ),
            (OnsetStrength, self.onset.strength),
            (NewPartials, new_now[0]),
            (NewExplained, new_now[1]),
            (NewPartialsAtOnset, new_then[0]),
            (NewExplainedAtOnset, new_then[1]),
        ])
    }
}

/// The frames around the one described.
struct Context<'a> {
    before: &'a Evidence,
    early: &'a Evidence,
    late: &'a Evidence,
    after: &'a Evidence,
    spectra: &'a Spectra,
    bin_hz: [f64; BANDS],
    until_onset: f32,
    top: Top,
}

/// The highest values of a frame's curves.
struct Top {
    salience: f32,
    residual: f32,
}

impl<'a> Context<'a> {
    fn new(stream: &'a EvidenceStream, frame: usize) -> Self {
        let last = stream.frames() - 1;
        let later = |k: usize| stream.evidence((frame + k).min(last));
        let until = (1..=CONTEXT)
            .find(|&k| later(k).onset > 0.0)
            .unwrap_or(CONTEXT + 1);
        Self {
            before: stream.evidence(frame.saturating_sub(CONTEXT)),
            early: stream.evidence(frame.saturating_sub(CONTEXT / 2)),
            late: later(CONTEXT / 2),
            after: later(CONTEXT),
            spectra: stream.spectra(frame),
            bin_hz: std::array::from_fn(|b| stream.analyser.bands[b].bin_hz),
            until_onset: until as f32 / CONTEXT as f32,
            top: Top {
                salience: highest(&stream.evidence(frame).salience).max(1e-6),
                residual: highest(&stream.evidence(frame).residual).max(1e-6),
            },
        }
    }
}

fn decibels(level: f32, reference: f32) -> f32 {
    20.0 * ((level + 1e-9) / (reference + 1e-9)).log10()
}

/// Turns samples into candidates, frame by frame.
pub struct CandidateStream {
    /// The evidence behind the candidates.
    pub evidence: EvidenceStream,
    describer: Describer,
    current: FrameCandidates,
    described: usize,
}

impl CandidateStream {
    /// A stream for a source of `rate_hz` samples a second.
    pub fn new(rate_hz: f64) -> Self {
        Self {
            evidence: EvidenceStream::new(rate_hz),
            describer: Describer::default(),
            current: FrameCandidates::default(),
            described: 0,
        }
    }

    /// Takes the next samples.
    pub fn push(&mut self, samples: &[f32]) {
        self.evidence.push(samples);
    }

    /// No more samples will come.
    pub fn finish(&mut self) {
        self.evidence.finish();
    }

    /// The next frame's candidates, or `None` when more samples are needed.
    pub fn advance(&mut self) -> Option<&FrameCandidates> {
        while self.evidence.frames() <= self.described + LOOK_AHEAD {
            if self.evidence.advance().is_none() {
                break;
            }
        }
        let needed = if self.evidence.exhausted() {
            self.described + 1
        } else {
            self.described + LOOK_AHEAD + 1
        };
        if self.evidence.frames() < needed {
            return None;
        }
        self.describer
            .describe(&self.evidence, self.described, &mut self.current);
        self.described += 1;
        Some(&self.current)
    }
}
