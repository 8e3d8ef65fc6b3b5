//! The stiff string: its partials are a little wider than a harmonic series, and the first of them is its pitch.
//!
//! Partial n lies at n·f1·√((1 + B·n²) / (1 + B)), f1 the first partial and B the inharmonicity (Fletcher and Rossing,
//! The Physics of Musical Instruments, 1998). So (f_n / n)² is a straight line in n², which weighted least squares fits
//! exactly; partials that a bridge or a body pulls away lose weight.

/// The greatest inharmonicity that is taken for a string; a guitar's lie below 3e-4, a piano's top below 1e-2 but
/// those have too few partials to tell.
pub const MAX_INHARMONICITY: f64 = 1e-3;
/// The least that partials are taken to lie off the formula, in cents, even when measured exactly; set by judgement. Real
/// strings lie off by more, which is estimated from their own partials.
const SCATTER_CENTS: f64 = 0.15;
/// Residuals beyond this many standard deviations lose weight.
const OUTLIER_SIGMAS: f64 = 2.0;
const ROUNDS: usize = 6;
/// With fewer partials stiffness can't be told, and the lowest partial alone says the pitch.
const PARTIALS_FOR_A_LINE: usize = 3;
const CENTS_PER_NEPER: f64 = 1200.0 / std::f64::consts::LN_2;

/// Frequency of partial `n` over that of the first.
pub fn partial_ratio(n: u32, inharmonicity: f64) -> f64 {
    let n = f64::from(n);
    n * ((1.0 + inharmonicity * n * n) / (1.0 + inharmonicity)).sqrt()
}

/// One measured partial.
#[derive(Debug, Clone, Copy)]
pub struct Measured {
    pub n: u32,
    pub hz: f64,
    pub sigma_hz: f64,
}

/// What the partials of one pluck say together.
#[derive(Debug, Clone, Copy)]
pub struct StiffString {
    pub first_hz: f64,
    pub inharmonicity: f64,
    /// Standard uncertainty of `first_hz`, in cents.
    pub sigma_cents: f64,
}

impl StiffString {
    /// Fits the line; with one partial there is nothing but that partial. `None` without any.
    pub fn fit(partials: &[Measured]) -> Option<Self> {
        let first = partials.first()?;
        let mut fitted = Self {
            first_hz: first.hz / f64::from(first.n),
            inharmonicity: 0.0,
            sigma_cents: CENTS_PER_NEPER * first.sigma_hz / first.hz,
        };
        if partials.len() < PARTIALS_FOR_A_LINE {
            fitted.sigma_cents = fitted.sigma_cents.hypot(SCATTER_CENTS);
            return Some(fitted);
        }
        let mut scatter = SCATTER_CENTS;
        for round in 0..ROUNDS {
            let weights: Vec<f64> = partials
                .iter()
                .map(|p| fitted.weight(p, scatter, round > 0))
                .collect();
            fitted = Self::line(partials, &weights)?;
            scatter = fitted.scatter_cents(partials);
        }
        Some(fitted)
    }

    /// How far the partials lie off the formula beyond what measuring them explains: from the median residual, which is
    /// 0.6745 standard deviations where errors are normal.
    fn scatter_cents(&self, partials: &[Measured]) -> f64 {
        let mut off: Vec<f64> = partials
            .iter()
            .map(|p| self.residual_cents(p).abs())
            .collect();
        off.sort_by(f64::total_cmp);
        (off[off.len() / 2] / 0.6745).max(SCATTER_CENTS)
    }

    /// How far a partial lies above its place, in cents.
    pub fn residual_cents(&self, partial: &Measured) -> f64 {
        let place = self.first_hz * partial_ratio(partial.n, self.inharmonicity);
        CENTS_PER_NEPER * (partial.hz / place).ln()
    }

    fn weight(&self, partial: &Measured, scatter: f64, doubt_outliers: bool) -> f64 {
        let sigma = (CENTS_PER_NEPER * partial.sigma_hz / partial.hz).hypot(scatter);
        let off = self.residual_cents(partial).abs() / sigma;
        let trust = if doubt_outliers && off > OUTLIER_SIGMAS {
            OUTLIER_SIGMAS / off
        } else {
            1.0
        };
        trust / (sigma * sigma)
    }

    /// The weighted line through (f_n / n)² over n², its slope kept between no stiffness and the greatest.
    fn line(partials: &[Measured], weights: &[f64]) -> Option<Self> {
        let points = || {
            partials.iter().zip(weights).map(|(p, &w)| {
                let n = f64::from(p.n);
                (n * n, (p.hz / n).powi(2), w)
            })
        };
        let sum: f64 = weights.iter().sum();
        let mean_x = points().map(|(x, _, w)| w * x).sum::<f64>() / sum;
        let mean_y = points().map(|(_, y, w)| w * y).sum::<f64>() / sum;
        let spread: f64 = points().map(|(x, _, w)| w * (x - mean_x).powi(2)).sum();
        let tilt: f64 = points()
            .map(|(x, y, w)| w * (x - mean_x) * (y - mean_y))
            .sum();
        let free = if spread > 0.0 { tilt / spread } else { 0.0 };
        let slope = free.clamp(0.0, MAX_INHARMONICITY * mean_y);
        let intercept = mean_y - slope * mean_x;
        let first_hz = (intercept + slope).sqrt();
        let lever = if slope > 0.0 && spread > 0.0 {
            (mean_x - 1.0).powi(2) / spread
        } else {
            0.0
        };
        let fitted = Self {
            first_hz,
            inharmonicity: slope / intercept,
            sigma_cents: 0.0,
        };
        let misfit: f64 = partials
            .iter()
            .zip(weights)
            .map(|(p, w)| w * fitted.residual_cents(p).powi(2))
            .sum::<f64>()
            / (partials.len() as f64 - 2.0).max(1.0);
        let sigma_cents = ((1.0 / sum + lever) * misfit.max(1.0)).sqrt();
        first_hz.is_finite().then_some(Self {
            sigma_cents,
            ..fitted
        })
    }
}
