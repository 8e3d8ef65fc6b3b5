//! Mixes the channels of a recording down to one without letting them cancel.
//!
//! A plain mean of two channels in opposite phase (a swapped microphone cable) is silence. So the mix follows the
//! principal axis of the channels' covariance: the direction in which the sound is strongest (H. Hotelling, *Analysis
//! of a complex of statistical variables into principal components*, 1933), found with Jacobi's rotations (C. G. J.
//! Jacobi, 1846). The weights are scaled so that their magnitudes sum to 1: two like channels give their mean, two in
//! opposite phase half their difference, a channel with nothing beside it itself, and nothing can exceed full scale.
//!
//! The covariance forgets with [`MEMORY_S`], so a change in the sound is followed; the weights glide with [`GLIDE_S`]
//! and keep their sign, so the mix never jumps. Only where what came before was all but silent may they jump. A small
//! pull towards the plain mean ([`MEAN_PULL`]) settles what the sound leaves open, such as two unrelated channels of
//! equal power.
//!
//! Known limits: for [`MEMORY_S`] after a change of phase in mid-sound part of the level is lost; of several sources
//! on several channels the strongest rules the mix; a low-frequency effects channel is treated like any other.

/// Seconds after which the covariance has forgotten all but 1/e. Chosen between the length of a note and that of a
/// phrase; no source.
const MEMORY_S: f64 = 0.5;
/// Seconds in which the weights go 1 − 1/e of the way to their target: slow against a period of any pitch in range
/// (27.5 Hz is 36 ms), fast against a note; no source.
const GLIDE_S: f64 = 0.05;
/// Part of the channels' power that is added to the covariance along the plain mean; no source. Two channels that are
/// less correlated than this count as unrelated.
const MEAN_PULL: f64 = 0.1;
/// Power ratio (30 dB) by which a block must exceed all that is remembered for the weights to jump.
const ONSET_RATIO: f64 = 1000.0;
/// Rounds of Jacobi's rotations; they converge quadratically, so this is more than 16 channels need.
const JACOBI_SWEEPS: usize = 12;
/// Two vectors of the widest kind that common processors have.
const DOT_LANES: usize = 16;

/// Mixes interleaved blocks of a fixed number of channels to mono.
pub(super) struct Mixer {
    channels: usize,
    rate_hz: f64,
    /// Mean products of each pair of channels, row by row.
    covariance: Vec<f64>,
    weights: Vec<f64>,
    /// The present block, channel by channel.
    planes: Vec<f32>,
}

impl Mixer {
    /// A mixer that starts from the plain mean. `channels` is at least 1.
    pub(super) fn new(channels: usize, rate_hz: f64) -> Self {
        Self {
            channels,
            rate_hz,
            covariance: vec![0.0; channels * channels],
            weights: vec![1.0 / channels as f64; channels],
            planes: Vec::new(),
        }
    }

    /// How many channels a frame has.
    pub(super) fn channels(&self) -> usize {
        self.channels
    }

    /// Appends the mix of whole interleaved `frames` to `mono`.
    pub(super) fn mix(&mut self, frames: &[f32], mono: &mut Vec<f32>) {
        if self.channels == 1 {
            mono.extend_from_slice(frames);
            return;
        }
        let count = frames.len() / self.channels;
        if count == 0 {
            return;
        }
        self.split(frames, count);
        let seconds = count as f64 / self.rate_hz;
        let block = block_covariance(&self.planes, count);
        let onset =
            trace(&block, self.channels) > ONSET_RATIO * trace(&self.covariance, self.channels);
        let fresh = 1.0 - (-seconds / MEMORY_S).exp();
        for (kept, new) in self.covariance.iter_mut().zip(&block) {
            *kept += fresh * (new - *kept);
        }
        let target = self.target();
        if onset {
            self.weights.clone_from(&target);
        }
        let reach = 1.0 - (-seconds / GLIDE_S).exp();
        let first = mono.len();
        mono.resize(first + count, 0.0);
        for ((weight, target), plane) in self
            .weights
            .iter_mut()
            .zip(target)
            .zip(self.planes.chunks_exact(count))
        {
            let end = *weight + reach * (target - *weight);
            add_gliding(&mut mono[first..], plane, *weight as f32, end as f32);
            *weight = end;
        }
    }

    /// Sets the channels apart, one after the other.
    fn split(&mut self, frames: &[f32], count: usize) {
        self.planes.resize(frames.len(), 0.0);
        for (channel, plane) in self.planes.chunks_exact_mut(count).enumerate() {
            let samples = frames[channel..].iter().step_by(self.channels);
            plane
                .iter_mut()
                .zip(samples)
                .for_each(|(kept, &x)| *kept = x);
        }
    }

    /// The weights that the covariance asks for, signed like the present ones.
    fn target(&self) -> Vec<f64> {
        let n = self.channels;
        let power = trace(&self.covariance, n);
        if power <= 0.0 {
            return self.weights.clone();
        }
        let pull = MEAN_PULL * power / n as f64;
        let pulled = self.covariance.iter().map(|c| c + pull).collect();
        let axis = principal_axis(pulled, n);
        let along: f64 = axis.iter().zip(&self.weights).map(|(a, w)| a * w).sum();
        let size: f64 = axis.iter().map(|a| a.abs()).sum();
        let scale = if along < 0.0 { -1.0 / size } else { 1.0 / size };
        axis.iter().map(|a| a * scale).collect()
    }
}

/// Adds `plane` to `sum` with a weight that goes evenly from `start` to `end`.
fn add_gliding(sum: &mut [f32], plane: &[f32], start: f32, end: f32) {
    let step = (end - start) / plane.len() as f32;
    for (k, (sum, &x)) in sum.iter_mut().zip(plane).enumerate() {
        *sum += (start + step * (k as u32 as f32)) * x;
    }
}

/// Mean product of each pair of channels over planes of `count` samples.
fn block_covariance(planes: &[f32], count: usize) -> Vec<f64> {
    let channels = planes.len() / count;
    let plane = |k: usize| &planes[k * count..(k + 1) * count];
    let mut means = vec![0.0; channels * channels];
    for row in 0..channels {
        for column in row..channels {
            let mean = dot(plane(row), plane(column)) / count as f64;
            means[row * channels + column] = mean;
            means[column * channels + row] = mean;
        }
    }
    means
}

/// The sum of products, in several lanes so that the processor can work on them at once.
fn dot(a: &[f32], b: &[f32]) -> f64 {
    let mut lanes = [0.0f32; DOT_LANES];
    let (a, b) = (a.chunks_exact(DOT_LANES), b.chunks_exact(DOT_LANES));
    let rest: f32 = a
        .remainder()
        .iter()
        .zip(b.remainder())
        .map(|(x, y)| x * y)
        .sum();
    for (a, b) in a.zip(b) {
        for k in 0..DOT_LANES {
            lanes[k] += a[k] * b[k];
        }
    }
    lanes.iter().map(|&lane| f64::from(lane)).sum::<f64>() + f64::from(rest)
}

/// The sum of the diagonal of an n × n matrix.
fn trace(matrix: &[f64], n: usize) -> f64 {
    matrix.iter().step_by(n + 1).sum()
}

/// The unit eigenvector of a symmetric n × n matrix with the greatest eigenvalue, by cyclic Jacobi rotations.
fn principal_axis(mut matrix: Vec<f64>, n: usize) -> Vec<f64> {
    let mut axes = vec![0.0; n * n];
    for k in 0..n {
        axes[k * n + k] = 1.0;
    }
    for _ in 0..JACOBI_SWEEPS {
        for p in 0..n {
            for q in p + 1..n {
                rotate(&mut matrix, &mut axes, n, p, q);
            }
        }
    }
    let greatest = (0..n)
        .max_by(|&a, &b| matrix[a * n + a].total_cmp(&matrix[b * n + b]))
        .unwrap_or(0);
    (0..n).map(|row| axes[row * n + greatest]).collect()
}

/// Turns rows and columns p and q of the matrix so that its element (p, q) becomes zero.
fn rotate(matrix: &mut [f64], axes: &mut [f64], n: usize, p: usize, q: usize) {
    let off = matrix[p * n + q];
    if off == 0.0 {
        return;
    }
    let angle = 0.5 * (2.0 * off).atan2(matrix[q * n + q] - matrix[p * n + p]);
    let (sin, cos) = angle.sin_cos();
    for k in 0..n {
        let (a, b) = (matrix[k * n + p], matrix[k * n + q]);
        matrix[k * n + p] = cos * a - sin * b;
        matrix[k * n + q] = sin * a + cos * b;
        let (a, b) = (axes[k * n + p], axes[k * n + q]);
        axes[k * n + p] = cos * a - sin * b;
        axes[k * n + q] = sin * a + cos * b;
    }
    for k in 0..n {
        let (a, b) = (matrix[p * n + k], matrix[q * n + k]);
        matrix[p * n + k] = cos * a - sin * b;
        matrix[q * n + k] = sin * a + cos * b;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// The axis of [[2, 1], [1, 2]] is (1, 1)/√2, by hand; that of a matrix built from a known vector is that vector.
    #[test]
    fn principal_axis_is_the_strongest_direction() {
        let axis = principal_axis(vec![2.0, 1.0, 1.0, 2.0], 2);
        assert_relative_eq!(axis[0], axis[1], epsilon = 1e-12);
        let v = [0.5, -0.1, 0.7, 0.2, -0.3, 0.3];
        let size = v.iter().map(|x| x * x).sum::<f64>().sqrt();
        let mut matrix: Vec<f64> = (0..36).map(|k| v[k / 6] * v[k % 6]).collect();
        (0..6).for_each(|k| matrix[k * 7] += 0.01);
        let axis = principal_axis(matrix, 6);
        let sign = axis[0].signum();
        for (a, x) in axis.iter().zip(v) {
            assert_relative_eq!(sign * a, x / size, epsilon = 1e-9);
        }
    }

    /// Two cables swapped in mid-sound, where the tone crosses zero (80 periods of 40π samples): the mix
    /// never steps by more than the tone itself does, and comes back to its level.
    #[test]
    fn a_change_of_phase_makes_no_step() {
        let tone = |t: usize| (t as f32 * 0.05).sin();
        let sign = |t: usize| if t < 10_053 { 1.0 } else { -1.0 };
        let frames: Vec<f32> = (0..20_000)
            .flat_map(|t| [tone(t), sign(t) * tone(t)])
            .collect();
        let mut mixer = Mixer::new(2, 8000.0);
        let mut mono = Vec::new();
        frames
            .chunks(200)
            .for_each(|block| mixer.mix(block, &mut mono));
        let step = mono
            .windows(2)
            .map(|w| (w[1] - w[0]).abs())
            .fold(0.0, f32::max);
        assert!(step < 0.06, "steps by {step}");
        let end = mono[18_000..].iter().fold(0.0f32, |m, x| m.max(x.abs()));
        assert!(end > 0.9, "ends at level {end}");
    }

    /// Whatever the phase and the balance of two channels, half the stronger one's level is kept. By hand: the mix has
    /// at least half the power of the channels' mean, which is at least half that of the stronger.
    #[test]
    fn no_phase_and_no_balance_loses_more_than_six_decibels() {
        let rate = 8000.0;
        for phase in (0..24).map(|k| k as f32 * 0.2618) {
            for gain in [0.0, 0.3, 0.7, 1.0] {
                let frames: Vec<f32> = (0..16_000)
                    .flat_map(|t| {
                        [
                            (t as f32 * 0.3).sin(),
                            gain * (t as f32 * 0.3 + phase).sin(),
                        ]
                    })
                    .collect();
                let mut mixer = Mixer::new(2, rate);
                let mut mono = Vec::new();
                frames
                    .chunks(1000)
                    .for_each(|block| mixer.mix(block, &mut mono));
                let settled = &mono[8000..];
                let power = settled.iter().map(|x| x * x).sum::<f32>() / settled.len() as f32;
                assert!(
                    power > 0.25 * 0.5,
                    "phase {phase}, gain {gain}: power {power}"
                );
            }
        }
    }
}
