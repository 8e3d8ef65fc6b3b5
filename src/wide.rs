//! Inner products, where most of the time goes, compiled once more for the wide vector registers that most processors
//! have; which of the two runs is chosen at run time.

use multiversion::multiversion;

/// Inner product of two lists of one length.
#[multiversion(targets("x86_64+avx2+fma"))]
pub fn dot(a: &[f32], b: &[f32]) -> f32 {
    inner_product(a, b)
}

/// Inner product in eight independent sums, which the compiler turns into vector instructions.
#[inline(always)]
fn inner_product(a: &[f32], b: &[f32]) -> f32 {
    let ((wide_a, rest_a), (wide_b, rest_b)) = (a.as_chunks::<8>(), b.as_chunks::<8>());
    let mut sums = [0.0f32; 8];
    for (x, y) in wide_a.iter().zip(wide_b) {
        for k in 0..8 {
            sums[k] += x[k] * y[k];
        }
    }
    let rest: f32 = rest_a.iter().zip(rest_b).map(|(x, y)| x * y).sum();
    sums.iter().sum::<f32>() + rest
}

/// Inner products of `taps` with as many values from every `step`-th place on, for all places where enough are left.
#[multiversion(targets("x86_64+avx2+fma"))]
pub fn filter(values: &[f32], taps: &[f32], step: usize, out: &mut Vec<f32>) {
    for window in values.windows(taps.len()).step_by(step) {
        out.push(inner_product(window, taps));
    }
}

/// How many values [`dot_pair`] takes at once.
pub const STRIDE: usize = 16;

/// `weights · a` and `weights · b`; all three of one length, a multiple of [`STRIDE`].
#[inline]
pub fn dot_pair(weights: &[f32], a: &[f32], b: &[f32]) -> (f32, f32) {
    #[cfg(target_arch = "x86_64")]
    if std::is_x86_feature_detected!("avx2") && std::is_x86_feature_detected!("fma") {
        // SAFETY: the processor has both features.
        return unsafe { dot_pair_avx2(weights, a, b) };
    }
    (dot(weights, a), dot(weights, b))
}

/// The innermost loop of the salience, written out: the compiler's own form of it takes three times as long.
#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn dot_pair_avx2(weights: &[f32], a: &[f32], b: &[f32]) -> (f32, f32) {
    use std::arch::x86_64::{
        _mm_add_ps, _mm_cvtss_f32, _mm_hadd_ps, _mm_movehdup_ps, _mm256_add_ps,
        _mm256_castps256_ps128, _mm256_extractf128_ps, _mm256_fmadd_ps, _mm256_hadd_ps,
        _mm256_loadu_ps, _mm256_setzero_ps,
    };
    let weights = weights.as_chunks::<STRIDE>().0;
    let (a, b) = (a.as_chunks::<STRIDE>().0, b.as_chunks::<STRIDE>().0);
    let mut sums = [_mm256_setzero_ps(); 4];
    for ((w, x), y) in weights.iter().zip(a).zip(b) {
        for half in 0..2 {
            // SAFETY: all three chunks hold 16 values, and 8 half + 8 is at most 16.
            unsafe {
                let w = _mm256_loadu_ps(w.as_ptr().add(8 * half));
                sums[half] =
                    _mm256_fmadd_ps(w, _mm256_loadu_ps(x.as_ptr().add(8 * half)), sums[half]);
                sums[2 + half] =
                    _mm256_fmadd_ps(w, _mm256_loadu_ps(y.as_ptr().add(8 * half)), sums[2 + half]);
            }
        }
    }
    let fours = _mm256_hadd_ps(
        _mm256_add_ps(sums[0], sums[1]),
        _mm256_add_ps(sums[2], sums[3]),
    );
    let twos = _mm_add_ps(
        _mm256_castps256_ps128(fours),
        _mm256_extractf128_ps::<1>(fours),
    );
    let both = _mm_hadd_ps(twos, twos);
    (_mm_cvtss_f32(both), _mm_cvtss_f32(_mm_movehdup_ps(both)))
}
