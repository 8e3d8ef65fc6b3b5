//! Inner products of one list of weights with two lists at once: the innermost loop of the salience, where most of the
//! time goes, so it is written out for the vector registers where the processor has them.

use super::decimate::dot;

/// How many values the fast loop takes at once; lists whose length is a multiple need no remainder.
pub const STRIDE: usize = 16;

/// `weights · a` and `weights · b`; all three of one length.
#[inline]
pub fn dot_pair(weights: &[f32], a: &[f32], b: &[f32], fast: bool) -> (f32, f32) {
    #[cfg(target_arch = "x86_64")]
    if fast {
        // SAFETY: `fast` comes from `fast()`, which found that the processor has both features.
        return unsafe { dot_pair_avx2(weights, a, b) };
    }
    let _ = fast;
    (dot(weights, a), dot(weights, b))
}

/// Whether the fast loop can run here.
pub fn fast() -> bool {
    #[cfg(target_arch = "x86_64")]
    return std::is_x86_feature_detected!("avx2") && std::is_x86_feature_detected!("fma");
    #[cfg(not(target_arch = "x86_64"))]
    false
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn dot_pair_avx2(weights: &[f32], a: &[f32], b: &[f32]) -> (f32, f32) {
    use std::arch::x86_64::{_mm256_add_ps, _mm256_fmadd_ps, _mm256_loadu_ps, _mm256_setzero_ps, _mm256_storeu_ps};
    let (wide_w, rest_w) = weights.as_chunks::<STRIDE>();
    let ((wide_a, rest_a), (wide_b, rest_b)) = (a.as_chunks::<STRIDE>(), b.as_chunks::<STRIDE>());
    let mut sums = [_mm256_setzero_ps(); 4];
    for ((w, x), y) in wide_w.iter().zip(wide_a).zip(wide_b) {
        for half in 0..2 {
            // SAFETY: all three chunks hold 16 values, and 8 half + 8 is at most 16.
            unsafe {
                let w = _mm256_loadu_ps(w.as_ptr().add(8 * half));
                sums[half] = _mm256_fmadd_ps(w, _mm256_loadu_ps(x.as_ptr().add(8 * half)), sums[half]);
                sums[2 + half] = _mm256_fmadd_ps(w, _mm256_loadu_ps(y.as_ptr().add(8 * half)), sums[2 + half]);
            }
        }
    }
    let mut lanes = [[0.0f32; 8]; 2];
    // SAFETY: both lists hold eight values.
    unsafe {
        _mm256_storeu_ps(lanes[0].as_mut_ptr(), _mm256_add_ps(sums[0], sums[1]));
        _mm256_storeu_ps(lanes[1].as_mut_ptr(), _mm256_add_ps(sums[2], sums[3]));
    }
    let total = |lanes: &[f32; 8], rest: &[f32]| lanes.iter().sum::<f32>() + dot(rest_w, rest);
    (total(&lanes[0], rest_a), total(&lanes[1], rest_b))
}
