//! Fits one decaying partial to a few bins of a spectrum, together with the partials of other strings that still ring
//! there.
//!
//! Method: Gauss–Newton least squares on the exact transform of damped exponentials. The model a·e^(st) is analytic in
//! the complex s = −decay + 2πi·frequency, so one complex step improves frequency and decay together. The partials of
//! earlier plucks keep the s that was measured when they were struck; only their amplitude and phase are free. The
//! uncertainty follows from the residual and the normal matrix, as in any least squares.

use std::f64::consts::PI;

use whichmode_transforms::Complex64;

use super::spectrum::Spectrum;

type C = Complex64;

/// Bins to either side of the partial that are fitted.
const HALF_WIDTH: usize = 5;
/// Other partials this many bins beyond the fitted ones still leak into them.
const LEAK_BINS: f64 = 3.0;
/// Another partial nearer than this many bins can't be told apart from the one that is fitted.
const INSEPARABLE_BINS: f64 = 0.12;
/// How many of the others are fitted along, the loudest first.
const MAX_OTHERS: usize = 4;
/// Steps of the iteration; it has settled after four or five.
const STEPS: usize = 8;
/// Decay rates are kept between these, in nepers a second: no growth beyond what noise feigns, no thud.
const DECAY_PER_S: (f64, f64) = (-1.0, 60.0);
/// The decays that the iteration starts from, in nepers a second: a plucked string's, and that of a bowl, a bow or a breath,
/// from which the other start runs away.
const FIRST_DECAYS_PER_S: [f64; 2] = [3.0, 0.2];

/// A fit that leaves less than this part of the power unexplained has settled.
const SETTLED: f64 = 0.45;

/// A decaying partial, as it is at the start of the window it was fitted in.
#[derive(Debug, Clone, Copy)]
pub struct Partial {
    pub hz: f64,
    /// Nepers a second.
    pub decay_per_s: f64,
    pub amplitude: f64,
    /// Standard uncertainty of `hz`.
    pub sigma_hz: f64,
    /// The part of the power in the fitted bins that the fit leaves unexplained, 0 to 1.
    pub unexplained: f64,
}

impl Partial {
    /// −decay + 2πi·frequency, in radians a second.
    pub fn s(&self) -> C {
        C::new(-self.decay_per_s, 2.0 * PI * self.hz)
    }

    /// The same partial `seconds` later.
    pub fn later(self, seconds: f64) -> Self {
        Self {
            amplitude: self.amplitude * (-self.decay_per_s * seconds).exp(),
            ..self
        }
    }
}

/// The partial nearest to `hz`, fitted together with `others` where those reach into its bins. `None` where nothing
/// settles there.
pub fn fit(spectrum: &Spectrum, hz: f64, others: &[Partial]) -> Option<Partial> {
    let bin_hz = spectrum.bin_hz();
    let centre = (hz / bin_hz).round() as usize;
    let bins = centre.checked_sub(HALF_WIDTH)?.max(1)..=centre + HALF_WIDTH;
    if *bins.end() + 1 >= spectrum.bins.len() {
        return None;
    }
    let bins: Vec<usize> = bins.collect();
    let others = nearby(hz, bin_hz, others);
    let fixed: Vec<Vec<C>> = others
        .iter()
        .map(|o| column(spectrum, &bins, o.s()))
        .collect();
    let settled = |decay: f64| iterate(spectrum, &bins, C::new(-decay, 2.0 * PI * hz), &fixed);
    let [plucked, sustained] = FIRST_DECAYS_PER_S;
    settled(plucked)
        .filter(|fit| fit.unexplained < SETTLED)
        .or_else(|| settled(sustained))
}

/// The partial that the iteration settles on from `first`.
fn iterate(spectrum: &Spectrum, bins: &[usize], first: C, fixed: &[Vec<C>]) -> Option<Partial> {
    let (hz, bin_hz) = (first.im / (2.0 * PI), spectrum.bin_hz());
    let (mut s, mut last) = (first, None);
    for _ in 0..STEPS {
        let step = Step::solve(spectrum, bins, s, fixed)?;
        s = limited(s + step.change(bin_hz), hz, bin_hz)?;
        last = Some(step);
    }
    Some(last?.partial(s))
}

/// Of the other partials, those that reach into the fitted bins and can be told from the one at `hz`.
fn nearby(hz: f64, bin_hz: f64, others: &[Partial]) -> Vec<Partial> {
    let reach = (HALF_WIDTH as f64 + LEAK_BINS) * bin_hz;
    let mut near: Vec<Partial> = others
        .iter()
        .filter(|o| {
            let apart = (o.hz - hz).abs();
            apart < reach && apart > INSEPARABLE_BINS * bin_hz
        })
        .copied()
        .collect();
    near.sort_by(|a, b| b.amplitude.total_cmp(&a.amplitude));
    near.truncate(MAX_OTHERS);
    near
}

fn column(spectrum: &Spectrum, bins: &[usize], s: C) -> Vec<C> {
    bins.iter().map(|&k| spectrum.shape(s, k)).collect()
}

/// Keeps the decay plausible; `None` when the frequency runs away.
fn limited(s: C, hz: f64, bin_hz: f64) -> Option<C> {
    let decay = (-s.re).clamp(DECAY_PER_S.0, DECAY_PER_S.1);
    let moved = s.im / (2.0 * PI) - hz;
    (moved.is_finite() && moved.abs() < 2.0 * bin_hz).then(|| C::new(-decay, s.im))
}

/// One solved linear step: amplitude and correction of s, with their uncertainty.
struct Step {
    amplitude: C,
    correction: C,
    sigma_s: f64,
    unexplained: f64,
}

impl Step {
    fn solve(spectrum: &Spectrum, bins: &[usize], s: C, fixed: &[Vec<C>]) -> Option<Self> {
        let nudge = C::new(0.0, 0.01 * spectrum.bin_hz());
        let shape = column(spectrum, bins, s);
        let slope: Vec<C> = column(spectrum, bins, s + nudge)
            .iter()
            .zip(column(spectrum, bins, s - nudge))
            .map(|(above, below)| (above - below) / (nudge * 2.0))
            .collect();
        let mut columns = vec![&shape, &slope];
        columns.extend(fixed);
        let target: Vec<C> = bins.iter().map(|&k| spectrum.bins[k]).collect();
        let (solution, slope_variance) = least_squares(&columns, &target)?;
        let residual: f64 = (0..bins.len())
            .map(|i| {
                let model: C = columns.iter().zip(&solution).map(|(c, x)| c[i] * x).sum();
                (target[i] - model).norm_sqr()
            })
            .sum();
        let power: f64 = target.iter().map(|x| x.norm_sqr()).sum();
        let freedom = bins.len().checked_sub(columns.len()).filter(|&n| n > 0)? as f64;
        let amplitude = solution[0];
        Some(Self {
            amplitude,
            correction: solution[1] / amplitude,
            sigma_s: (residual / freedom * slope_variance).sqrt() / amplitude.norm(),
            unexplained: residual / power.max(f64::MIN_POSITIVE),
        })
    }

    /// The correction of s, at most one bin long.
    fn change(&self, bin_hz: f64) -> C {
        let longest = 2.0 * PI * bin_hz;
        let length = self.correction.norm();
        if length > longest {
            self.correction * (longest / length)
        } else {
            self.correction
        }
    }

    fn partial(&self, s: C) -> Partial {
        Partial {
            hz: s.im / (2.0 * PI),
            decay_per_s: -s.re,
            amplitude: self.amplitude.norm(),
            sigma_hz: self.sigma_s / (2.0 * PI) / 2f64.sqrt(),
            unexplained: self.unexplained,
        }
    }
}

/// Complex64 linear least squares by the normal equations; also gives the variance factor of the second unknown.
fn least_squares(columns: &[&Vec<C>], target: &[C]) -> Option<(Vec<C>, f64)> {
    let dot = |a: &[C], b: &[C]| -> C { a.iter().zip(b).map(|(x, y)| x.conj() * y).sum() };
    let scales: Vec<f64> = columns.iter().map(|c| dot(c, c).re.sqrt()).collect();
    let n = columns.len();
    let mut rows: Vec<Vec<C>> = (0..n)
        .map(|i| {
            let mut row: Vec<C> = (0..n)
                .map(|j| dot(columns[i], columns[j]) / (scales[i] * scales[j]))
                .collect();
            row.push(dot(columns[i], target) / scales[i]);
            row.push(C::new(f64::from(u8::from(i == 1)), 0.0));
            row
        })
        .collect();
    eliminate(&mut rows)?;
    let solution = (0..n).map(|i| rows[i][n] / scales[i]).collect();
    Some((solution, rows[1][n + 1].re.max(0.0) / scales[1].powi(2)))
}

/// Gauss–Jordan elimination with row pivots; `None` when the equations don't determine the unknowns.
fn eliminate(rows: &mut [Vec<C>]) -> Option<()> {
    let n = rows.len();
    for i in 0..n {
        let pivot = (i..n).max_by(|&a, &b| rows[a][i].norm().total_cmp(&rows[b][i].norm()))?;
        rows.swap(i, pivot);
        let head = rows[i][i];
        if !head.norm().is_finite() || head.norm() < 1e-12 {
            return None;
        }
        rows[i].iter_mut().for_each(|x| *x /= head);
        let row = rows[i].clone();
        for (j, other) in rows.iter_mut().enumerate() {
            if j != i {
                let factor = other[i];
                other
                    .iter_mut()
                    .zip(&row)
                    .for_each(|(x, y)| *x -= factor * y);
            }
        }
    }
    Some(())
}
