//! The pitches a frame may have, each described by numbers that tell a played note from its relatives and its forerunners.

use super::begun::{LOOK_AHEAD, Segment};
use super::curve::{find_peaks, highest, near, offset, parabola};
use super::evidence::{Evidence, EvidenceStream};
use super::partials::{Comb, sharpened};
use super::salience::{GRID, STEPS_PER_OCTAVE};
use super::spectrum::{BANDS, Spectra};

/// Candidates of a frame at the most.
pub const CANDIDATES: usize = 18;
/// As many of them are peaks of the frame itself at the most; the others began at an onset before it.
const OWN_PEAKS: usize = 12;
/// Peaks of the fresh salience that become candidates whatever their rank.
const FRESH_PEAKS: usize = 3;
/// Numbers that describe a candidate.
pub const CANDIDATE_FEATURES: usize = 48;
/// Numbers that describe a frame as a whole, for the question whether a note sounds at all.
pub const FRAME_FEATURES: usize = 18;
/// Frames to either side of an onset in which the pitch may jump.
const ONSET_REACH: usize = 2;
/// Frames of context to either side.
const CONTEXT: usize = 6;
/// Grid steps from a pitch to its third partial: an octave and a fifth.
const TWELFTH: usize = 76;
/// Weights of salience, correlation and fresh salience in the first ranking, from the random search behind
/// an earlier prototype; the fitted model ranks again.
const RANKING: [f32; 3] = [0.42, 0.25, 1.13];
/// Where less than this part of the energy is new, fresh salience gives way to plain salience.
const LEAST_FRESH: f32 = 0.012;
/// Decay a frame of the memory of what has long been sounding: a time constant of two seconds.
const MEMORY_DECAY: f32 = 0.995;
/// Candidates closer than this are one, in grid steps.
const LEAST_DISTANCE: f32 = 1.2;
/// A frame is described relative to a note floor that rises this much a frame, in decibels.
const FLOOR_RISE_DB: f32 = 0.03;

/// One pitch that a frame may have.
#[derive(Debug, Clone, Copy)]
pub struct Candidate {
    /// Position on the grid, between grid points.
    pub position: f32,
    /// What describes it.
    pub features: [f32; CANDIDATE_FEATURES],
}

impl Default for Candidate {
    fn default() -> Self {
        Self {
            position: 0.0,
            features: [0.0; CANDIDATE_FEATURES],
        }
    }
}

/// All that is known of one frame before a path is chosen.
#[derive(Debug, Clone, Default)]
pub struct FrameCandidates {
    /// Best first by the first ranking.
    pub candidates: Vec<Candidate>,
    /// What describes the frame.
    pub frame: [f32; FRAME_FEATURES],
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
    fresh_peaks: Vec<(f32, usize)>,
    floor_db: f32,
    since_onset: usize,
    loudest_since_onset: f32,
    /// What began at the last onset.
    segment: Segment,
    /// What had begun at the one before.
    earlier: Segment,
}

impl Default for Describer {
    fn default() -> Self {
        Self {
            memory: vec![0.0; GRID],
            ranking: vec![0.0; GRID],
            peaks: Vec::with_capacity(GRID),
            fresh_peaks: Vec::with_capacity(GRID),
            floor_db: 0.0,
            since_onset: 0,
            loudest_since_onset: 0.0,
            segment: Segment::blank(),
            earlier: Segment::blank(),
        }
    }
}

impl Describer {
    /// Describes `frame`, which must be the one after the last described; its context must be there or past the ends.
    pub fn describe(&mut self, stream: &EvidenceStream, frame: usize, out: &mut FrameCandidates) {
        let here = stream.evidence(frame);
        self.rank(here);
        find_peaks(&self.ranking, &mut self.peaks);
        find_peaks(&here.fresh, &mut self.fresh_peaks);
        self.follow_level(here);
        if here.onset > 0.0 {
            std::mem::swap(&mut self.segment, &mut self.earlier);
            self.segment.read(stream, frame);
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
        for position in self.segment.likely.iter().chain(&self.earlier.likely) {
            self.add(here, context, *position, out);
        }
    }

    /// Adds the peaks of the ranking and of the fresh salience by turns, each as it is and sharpened, until there are enough.
    fn add_peaks(&self, here: &Evidence, context: &Context, out: &mut FrameCandidates) {
        for k in 0..self.peaks.len().max(FRESH_PEAKS) {
            let ranked = self.peaks.get(k).map(|p| parabola(&self.ranking, p.1));
            let fresh = self.fresh_peaks.get(k).filter(|_| k < FRESH_PEAKS);
            let fresh = fresh.map(|p| parabola(&here.fresh, p.1));
            for peak in ranked.into_iter().chain(fresh) {
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
        let fresh = (here.fresh_share / LEAST_FRESH).min(1.0);
        let [salience, correlation, new] = RANKING;
        for k in 0..GRID {
            let s = here.salience[k];
            let newest = fresh * here.fresh[k] + (1.0 - fresh) * s;
            self.ranking[k] = salience * s + correlation * here.correlation[k] + new * newest;
        }
    }

    fn follow_level(&mut self, here: &Evidence) {
        let db = decibels(here.level, here.reference);
        self.floor_db = (self.floor_db + FLOOR_RISE_DB).min(db);
        if here.onset > 0.0 {
            self.since_onset = 0;
            self.loudest_since_onset = 0.0;
        } else {
            self.since_onset += 1;
        }
        self.loudest_since_onset = self.loudest_since_onset.max(here.level);
    }

    fn frame_features(&self, here: &Evidence, context: &Context) -> [f32; FRAME_FEATURES] {
        let best = self.peaks.first().map_or(0, |p| p.1);
        let db = decibels(here.level, here.reference);
        let change = |other: &Evidence| (decibels(here.level, other.level) / 10.0).clamp(-3.0, 3.0);
        [
            self.ranking[best],
            context.top.salience,
            context.top.fresh,
            highest(&here.correlation[..GRID - STEPS_PER_OCTAVE]),
            here.correlation[best],
            here.salience[best],
            (db / 20.0).max(-4.0),
            ((db - self.floor_db) / 20.0).min(4.0),
            (decibels(here.level, self.loudest_since_onset) / 20.0).max(-3.0),
            here.fresh_share.min(1.0),
            (self.since_onset.min(40) as f32) / 40.0,
            change(context.before),
            change(context.after),
            near(&context.after.salience, best, 2),
            self.segment.top_fresh,
            near(&self.segment.fresh, best, 2),
            self.segment.frames as f32 / LOOK_AHEAD as f32,
            self.segment.strength,
        ]
    }

    fn features(
        &self,
        here: &Evidence,
        context: &Context,
        at: usize,
        rank: usize,
    ) -> [f32; CANDIDATE_FEATURES] {
        let top = &context.top;
        let (s, q, n) = (&here.salience, &here.fresh, &here.correlation);
        let best = self.peaks.first().map_or(1.0, |p| p.0).max(1e-6);
        let comb = Comb::new(at, &context.bin_hz);
        let (partials, sounding) = comb.shape(context.spectra);
        let new_now = comb.newness(sounding, &here.fresh_magnitude, &here.fresh_energy);
        let begun = &self.segment;
        let new_then = comb.newness(comb.energy(&begun.sounding), &begun.new, &begun.new_energy);
        let octave = STEPS_PER_OCTAVE as i64;
        let twelfth = TWELFTH as i64;
        [
            s[at],
            q[at],
            n[at],
            s[at] / top.salience,
            q[at] / top.fresh,
            self.ranking[at] / best,
            offset(s, at, -octave),
            offset(s, at, octave),
            offset(q, at, -octave),
            offset(q, at, octave),
            offset(n, at, -octave),
            offset(n, at, octave),
            offset(s, at, -twelfth),
            offset(s, at, twelfth),
            here.fresh_share.min(1.0),
            near(&context.before.salience, at, 2),
            near(&context.early.salience, at, 2),
            near(&context.late.salience, at, 2),
            near(&context.after.salience, at, 2),
            near(&context.before.fresh, at, 2),
            near(&context.late.fresh, at, 2),
            near(&context.after.fresh, at, 2),
            near(&self.memory, at, 2),
            (self.since_onset.min(60) as f32) / 60.0,
            context.until_onset,
            (at as f32 - 150.0) / 80.0,
            (decibels(here.level, here.reference) / 20.0).max(-4.0),
            rank as f32 / CANDIDATES as f32,
            partials[0],
            partials[1],
            partials[2],
            partials[3],
            near(&self.segment.fresh, at, 1),
            near(&self.segment.fresh, at, 1) / self.segment.top_fresh,
            near(&self.segment.correlation, at, 1),
            near(&self.earlier.fresh, at, 1) / self.earlier.top_fresh,
            self.segment.frames as f32 / LOOK_AHEAD as f32,
            offset(&self.segment.fresh, at, -octave),
            offset(&self.segment.fresh, at, octave),
            near(&self.segment.salience_before, at, 1),
            near(&self.segment.correlation_before, at, 1),
            s[at] - near(&self.segment.salience_before, at, 1),
            near(s, at, 1) / top.salience
                - near(&self.segment.salience_before, at, 1) / self.segment.top_before,
            self.segment.strength,
            new_now[0],
            new_now[1],
            new_then[0],
            new_then[1],
        ]
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
    fresh: f32,
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
                fresh: highest(&stream.evidence(frame).fresh).max(1e-6),
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
