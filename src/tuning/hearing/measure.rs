//! Measures one pluck: rough pitch, partials, the stiff string behind them.

use std::collections::VecDeque;

use whichmode_transforms::Planner64;

use super::opinion;
use super::partial::{self, Partial};
use super::rough;
use super::segments::Segment;
use super::series;
use super::spectrum::{Peak, Spectrum, smooth_len};
use super::stiff::{Measured, StiffString};
use crate::units::cents_between;

/// The attack that is left out, in seconds: a hard pluck starts sharp and glides down within about this time.
const ATTACK_S: f64 = 0.14;
/// … and of a pluck that is soon followed by the next.
const SHORT_ATTACK_S: f64 = 0.06;
/// Left out before the next onset, in seconds, which is known to about a hundredth.
const GUARD_S: f64 = 0.03;
/// The longest window, in seconds: later there is little left of a short-lived string.
const LONGEST_S: f64 = 1.2;
/// The shortest window, in seconds, that a pitch can be measured in to a cent.
const SHORTEST_S: f64 = 0.12;
/// With a window shorter than this, in seconds, less of the attack is left out.
const COMFORTABLE_S: f64 = 0.35;
/// The highest frequency that is looked at, in hertz.
const HIGHEST_HZ: f64 = 10_000.0;
/// A fit that leaves more than this part of the power unexplained is no steady partial …
const UNEXPLAINED: f64 = 0.3;
/// … but the first may leave this much: on harps and xylophones it is split in two that beat.
const FIRST_UNEXPLAINED: f64 = 0.45;
/// Partials of earlier plucks are forgotten when they are older than this, in seconds …
const RING_S: f64 = 10.0;
/// … or weaker than this, of full scale: −90 dB.
const RING_FLOOR: f64 = 3e-5;
/// A peak is new when this part of its amplitude was not there before.
const NEW_SHARE: f64 = 0.3;

/// Partials off the harmonic series are told down to this part of the strongest, −20 dB …
const OVERTONE_SHARE: f64 = 0.1;
/// … when they lie this far from every multiple of the first, in cents: a stiff string's tenth lies 80 off …
const HARMONIC_CENTS: f64 = 40.0;
/// … and not more of them than this.
const MOST_OVERTONES: usize = 4;

/// A tone that sways is read in this many parts …
const PARTS: usize = 7;
/// … of this many seconds, half a turn of a vibrato …
const PART_S: f64 = 0.1;
/// … that lie within this many cents of the middle one.
const SWAY_CENTS: f64 = 60.0;

/// Half the width of a steady partial in a spectrum, in bins, and one more for the bin next to it.
const MAIN_LOBE_BINS: f64 = 3.0;

/// One pluck and what was measured of it.
#[derive(Debug, Clone)]
pub struct Pluck {
    /// Seconds from the start of the sound.
    pub start_s: f64,
    /// Frequency of the first partial.
    pub hz: f64,
    /// Standard uncertainty of the pitch in cents.
    pub sigma_cents: f64,
    /// B of the stiff-string formula; `None` where the overtones are no harmonic series or there are too few.
    pub inharmonicity: Option<f64>,
    /// How many partials the pitch rests on.
    pub partials: usize,
    /// What the second opinion reads, in hertz; `None` where it reads nothing.
    pub second_hz: Option<f64>,
    /// Strong partials that lie on no harmonic series with the first, in hertz, from the lowest: of bars, bowls and bells.
    pub overtones: Vec<f64>,
    /// Amplitude of the other strings' known partials over that of this pluck's.
    pub ringing: f64,
}

/// Measures plucks in order, remembering which partials still ring.
pub struct Measurer {
    rate_hz: f64,
    planner: Planner64,
    ringing: VecDeque<Ringing>,
    /// Whether the segment before was too short to be measured.
    after_short: bool,
}

/// The pluck, the time in seconds from which its partials' amplitudes hold, and the partials.
type Reading = (Pluck, f64, Vec<Partial>);

/// The partials of an earlier pluck.
struct Ringing {
    /// When the amplitudes hold, in seconds from the start of the sound.
    at_s: f64,
    partials: Vec<Partial>,
}

impl Measurer {
    /// For samples at `rate_hz`.
    pub fn new(rate_hz: f64) -> Self {
        Self {
            rate_hz,
            planner: Planner64::new(),
            ringing: VecDeque::new(),
            after_short: false,
        }
    }

    /// Measures a pluck; `None` where nothing new with a steady pitch was struck.
    pub fn measure(&mut self, segment: &Segment) -> Option<Pluck> {
        let reading = self.read(segment);
        self.after_short = self.window(segment).is_none();
        let (pluck, at_s, partials) = reading?;
        self.remember(at_s, &partials);
        Some(pluck)
    }

    /// Measures a pluck that is still sounding, as far as it has been heard.
    pub fn look(&mut self, segment: &Segment) -> Option<Pluck> {
        self.read(segment).map(|(pluck, ..)| pluck)
    }

    /// Reads the steady part against what sounded before; where a pluck was cut in two too early, against nothing; where it
    /// sways, in short parts.
    fn read(&mut self, segment: &Segment) -> Option<Reading> {
        let (start, len) = self.window(segment)?;
        let before = self.before(segment);
        let mut reading = self.read_window(segment, start, len, before.as_ref());
        if reading.is_none() && self.after_short {
            reading = self.read_window(segment, start, len, None);
        }
        reading.or_else(|| self.read_swaying(segment, start, len, before.as_ref()))
    }

    /// A tone with vibrato, whose partials are no lines over the whole window: the middle of short parts' readings, as
    /// uncertain as they differ.
    fn read_swaying(
        &mut self,
        segment: &Segment,
        start: usize,
        len: usize,
        before: Option<&Spectrum>,
    ) -> Option<Reading> {
        let part = smooth_len((PART_S * self.rate_hz) as usize);
        let step = len.checked_sub(PARTS * part)? / (PARTS - 1) + part;
        let mut readings: Vec<Reading> = (0..PARTS)
            .filter_map(|i| self.read_window(segment, start + i * step, part, before))
            .collect();
        readings.sort_by(|a, b| a.0.hz.total_cmp(&b.0.hz));
        let middle = readings.get(readings.len() / 2)?.0.hz;
        let apart = |r: &Reading| cents_between(middle, r.0.hz);
        readings.retain(|r| apart(r).abs() < SWAY_CENTS);
        if 2 * readings.len() <= PARTS {
            return None;
        }
        let count = readings.len() as f64;
        let mean = readings.iter().map(apart).sum::<f64>() / count;
        let squares = readings.iter().map(|r| (apart(r) - mean).powi(2));
        let spread = (squares.sum::<f64>() / count).sqrt();
        let (pluck, at_s, partials) = readings.swap_remove(readings.len() / 2);
        let pluck = Pluck {
            hz: middle * (mean / 1200.0).exp2(),
            sigma_cents: spread.hypot(pluck.sigma_cents),
            ..pluck
        };
        Some((pluck, at_s, partials))
    }

    fn read_window(
        &mut self,
        segment: &Segment,
        start: usize,
        len: usize,
        before: Option<&Spectrum>,
    ) -> Option<Reading> {
        let at_s = (segment.onset + start - segment.before) as f64 / self.rate_hz;
        let window = &segment.samples[start..start + len];
        let spectrum = Spectrum::new(window, self.rate_hz, &mut self.planner);
        let others = self.still_ringing(at_s);
        let top_hz = HIGHEST_HZ.min(0.45 * self.rate_hz);
        let peaks = spectrum.peaks(rough::PITCH_HZ.0, top_hz);
        let new_peaks = new_peaks(&peaks, &spectrum, &others, before);
        let pitch = rough::pitch(&new_peaks, spectrum.bin_hz())?;
        let (partials, string) = partials(pitch, &spectrum, &peaks, &others)?;
        let measured = partials.len();
        let loudness = |partials: &[Partial]| partials.iter().map(|p| p.amplitude).sum::<f64>();
        let pluck = Pluck {
            start_s: segment.onset as f64 / self.rate_hz,
            hz: string.first_hz,
            sigma_cents: string.sigma_cents,
            inharmonicity: (measured > 2).then_some(string.inharmonicity),
            partials: measured,
            second_hz: opinion::second(window, self.rate_hz),
            overtones: overtones(string.first_hz, &new_peaks),
            ringing: loudness(&others) / loudness(&partials),
        };
        Some((pluck, at_s, partials))
    }

    /// First sample and length of the steady part.
    fn window(&self, segment: &Segment) -> Option<(usize, usize)> {
        let samples = |s: f64| (s * self.rate_hz) as usize;
        let end = segment.samples.len().checked_sub(samples(GUARD_S))?;
        let late = segment.before + samples(ATTACK_S);
        let start = if end < late + samples(COMFORTABLE_S) {
            segment.before + samples(SHORT_ATTACK_S)
        } else {
            late
        };
        let len = smooth_len(end.checked_sub(start)?.min(samples(LONGEST_S)));
        (len >= samples(SHORTEST_S)).then_some((start, len))
    }

    /// The spectrum of what sounded just before the onset.
    fn before(&mut self, segment: &Segment) -> Option<Spectrum> {
        let guard = (GUARD_S * self.rate_hz) as usize;
        let end = segment.before.checked_sub(guard)?;
        let len = smooth_len(end);
        (len > guard).then(|| {
            Spectrum::new(
                &segment.samples[end - len..end],
                self.rate_hz,
                &mut self.planner,
            )
        })
    }

    fn still_ringing(&mut self, at_s: f64) -> Vec<Partial> {
        self.ringing.retain(|r| at_s - r.at_s < RING_S);
        self.ringing
            .iter()
            .flat_map(|r| r.partials.iter().map(|p| p.later(at_s - r.at_s)))
            .filter(|p| p.amplitude > RING_FLOOR)
            .collect()
    }

    /// Files the partials; where an earlier pluck had one at the same place, this one replaces it.
    fn remember(&mut self, at_s: f64, partials: &[Partial]) {
        for earlier in &mut self.ringing {
            earlier.partials.retain(|e| {
                partials
                    .iter()
                    .all(|p| (e.hz - p.hz).abs() > 3.0 * p.sigma_hz + 0.05)
            });
        }
        self.ringing.push_back(Ringing {
            at_s,
            partials: partials.to_vec(),
        });
    }
}

/// The peaks with the amplitude that was not there before the pluck.
fn new_peaks(
    peaks: &[Peak],
    spectrum: &Spectrum,
    others: &[Partial],
    before: Option<&Spectrum>,
) -> Vec<Peak> {
    let bin_hz = spectrum.bin_hz();
    let old = |peak: &Peak| -> f64 {
        let known: f64 = others
            .iter()
            .filter(|o| (o.hz - peak.hz).abs() < 1.5 * bin_hz)
            .map(|o| {
                let k = (o.hz / bin_hz).round() as usize;
                o.amplitude * spectrum.shape(o.s(), k).norm()
            })
            .sum();
        let hidden = |b: &&Spectrum| {
            let reach = MAIN_LOBE_BINS * b.bin_hz();
            others.iter().all(|o| (o.hz - peak.hz).abs() > reach)
        };
        known.max(
            before
                .filter(hidden)
                .map_or(0.0, |b| b.amplitude_near(peak.hz)),
        )
    };
    peaks
        .iter()
        .map(|p| Peak {
            hz: p.hz,
            amplitude: p.amplitude - old(p),
        })
        .zip(peaks)
        .filter(|(new, peak)| new.amplitude > NEW_SHARE * peak.amplitude)
        .map(|(new, _)| new)
        .collect()
}

/// The strong new peaks above the first partial that are no multiples of it, from the lowest; empty where it is a string.
fn overtones(first_hz: f64, new_peaks: &[Peak]) -> Vec<f64> {
    let strongest = new_peaks.iter().fold(0.0, |a: f64, p| a.max(p.amplitude));
    let above = new_peaks
        .iter()
        .filter(|p| p.hz > 1.5 * first_hz && p.amplitude > OVERTONE_SHARE * strongest);
    let harmonic = |p: &&Peak| {
        let n = (p.hz / first_hz).round();
        cents_between(n * first_hz, p.hz).abs() < HARMONIC_CENTS
    };
    let (on, off): (Vec<&Peak>, Vec<&Peak>) = above.partition(harmonic);
    if on.len() > off.len() {
        return Vec::new();
    }
    let mut found: Vec<f64> = Vec::new();
    for peak in off {
        let near = |&hz: &f64| cents_between(hz, peak.hz).abs() < HARMONIC_CENTS;
        if !found.iter().any(near) {
            found.push(peak.hz);
        }
    }
    found.truncate(MOST_OVERTONES);
    found
}

/// Fits the pluck's partials one by one, and the string behind them.
fn partials(
    pitch: f64,
    spectrum: &Spectrum,
    peaks: &[Peak],
    others: &[Partial],
) -> Option<(Vec<Partial>, StiffString)> {
    let fitted: Vec<(u32, Partial)> = series::members(pitch, peaks, spectrum.bin_hz())
        .into_iter()
        .filter_map(|m| Some((m.n, partial::fit(spectrum, m.peak.hz, others)?)))
        .filter(|(n, fit)| {
            fit.unexplained
                < if *n == 1 {
                    FIRST_UNEXPLAINED
                } else {
                    UNEXPLAINED
                }
        })
        .collect();
    let measured: Vec<Measured> = fitted
        .iter()
        .map(|&(n, fit)| Measured {
            n,
            hz: fit.hz,
            sigma_hz: fit.sigma_hz,
        })
        .collect();
    let string = StiffString::fit(&measured);
    let partials = fitted.into_iter().map(|(_, fit)| fit).collect();
    Some((partials, string?))
}
