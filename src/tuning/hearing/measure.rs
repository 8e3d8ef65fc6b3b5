//! Measures one pluck: rough pitch, partials, the stiff string behind them.

use std::collections::VecDeque;

use whichmode_transforms::Planner64;

use super::bell::{self, BellPartial};
use super::fresh::{new_peaks, overtones};
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

/// A tone that sways is read in this many parts …
const PARTS: usize = 7;
/// … of this many seconds, half a turn of a vibrato …
const PART_S: f64 = 0.1;
/// … that lie within this many cents of the middle one.
const SWAY_CENTS: f64 = 60.0;
/// A vibrato turns between 4 and 8 times a second (Seashore, The Vibrato, 1932), and so stand its lines beside a partial, in
/// hertz, with a little room …
const SWAYS_HZ: (f64, f64) = (3.5, 9.0);
/// … with at least this part of its amplitude, as a sway of 0.6 radians to either side has.
const SIDE_SHARE: f64 = 0.3;

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
    /// The partials of a bell, in hertz, from the hum up; empty where it is none. Its pitch is an octave below the nominal.
    pub bell: Vec<(BellPartial, f64)>,
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
        match reading {
            Some(r) if !self.sways(segment, start, len, r.0.hz) => Some(r),
            unsteady => {
                let parts = self.read_swaying(segment, start, len, before.as_ref());
                parts.or(unsteady)
            }
        }
    }

    /// Whether lines as of a vibrato stand beside this frequency.
    fn sways(&mut self, segment: &Segment, start: usize, len: usize, hz: f64) -> bool {
        let window = &segment.samples[start..start + len];
        let spectrum = Spectrum::new(window, self.rate_hz, &mut self.planner);
        let near = spectrum.peaks((hz - SWAYS_HZ.1).max(1.0), hz + SWAYS_HZ.1);
        let beside = |p: &&Peak| (p.hz - hz).abs() > SWAYS_HZ.0;
        let greatest = |a: f64, p: &Peak| a.max(p.amplitude);
        let sides = near.iter().filter(beside).fold(0.0, greatest);
        sides > SIDE_SHARE * near.iter().fold(0.0, greatest)
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
        if let Some((pluck, partials)) =
            self.bell(segment, (&new_peaks, &peaks), &spectrum, &others)
        {
            return Some((pluck, at_s, partials));
        }
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
            bell: Vec::new(),
            ringing: loudness(&others) / loudness(&partials),
        };
        Some((pluck, at_s, partials))
    }

    /// A bell, whose pitch is an octave below its nominal; YIN can't read it.
    fn bell(
        &self,
        segment: &Segment,
        (new_peaks, peaks): (&[Peak], &[Peak]),
        spectrum: &Spectrum,
        others: &[Partial],
    ) -> Option<(Pluck, Vec<Partial>)> {
        let fitted: Vec<(BellPartial, Partial)> = bell::partials(new_peaks, peaks)?
            .into_iter()
            .filter_map(|(name, peak)| Some((name, partial::fit(spectrum, peak.hz, others)?)))
            .collect();
        let nominal = fitted.iter().find(|p| p.0 == BellPartial::Nominal)?.1;
        if nominal.unexplained > FIRST_UNEXPLAINED {
            return None;
        }
        let pluck = Pluck {
            start_s: segment.onset as f64 / self.rate_hz,
            hz: nominal.hz / 2.0,
            sigma_cents: StiffString::fit(&[first(&nominal)])?.sigma_cents,
            inharmonicity: None,
            partials: fitted.len(),
            second_hz: None,
            overtones: Vec::new(),
            bell: fitted.iter().map(|(name, p)| (*name, p.hz)).collect(),
            ringing: 0.0,
        };
        Some((pluck, fitted.into_iter().map(|(_, p)| p).collect()))
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

fn first(partial: &Partial) -> Measured {
    Measured {
        n: 1,
        hz: partial.hz,
        sigma_hz: partial.sigma_hz,
    }
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
