//! Sums of products, where most of the time goes, compiled once more for the wide vector registers that most processors
//! have; which of the two runs is chosen at run time. The one loop that is written out for such registers, and for
//! WebAssembly's, is the only unsafe code of the library. All of it is a package of its own, so that builds in which the rest
//! is hardly optimised, such as that of the tests, have it at full speed.

use multiversion::multiversion;

/// The greater of two numbers, neither of which is NaN: one instruction, also where the standard library's own form, which
/// knows NaN, is a call.
#[inline(always)]
pub fn greater(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

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

/// Values of a [`Stride`].
pub const STRIDE: usize = 16;

/// Weights that lie where the processor fetches them at once: across two such places they would take twice as long.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
#[repr(align(64))]
pub struct Stride(pub [f32; STRIDE]);

/// Weights for many parts of a list of values.
#[derive(Debug, Clone, Default)]
pub struct Kernels {
    weights: Vec<Stride>,
    parts: Vec<Part>,
}

/// A part of the values: so many strides from value `first` on.
#[derive(Debug, Clone, Copy)]
struct Part {
    first: usize,
    strides: usize,
}

impl Part {
    /// What lies there.
    #[inline(always)]
    fn of<'a>(&self, values: &'a [f32]) -> &'a [[f32; STRIDE]] {
        values[self.first..][..self.strides * STRIDE].as_chunks().0
    }
}

impl Kernels {
    /// Adds the weights of a part that begins at value `first`.
    pub fn push(&mut self, first: usize, weights: &[[f32; STRIDE]]) {
        self.weights.extend(weights.iter().map(|w| Stride(*w)));
        let strides = weights.len();
        self.parts.push(Part { first, strides });
    }

    /// Calls `take` with the inner products of each part with two lists, one part after the other.
    #[inline]
    pub fn products(&self, a: &[f32], b: &[f32], take: impl FnMut(f32, f32)) {
        #[cfg(target_arch = "x86_64")]
        if std::is_x86_feature_detected!("avx2") && std::is_x86_feature_detected!("fma") {
            // SAFETY: the processor has both features.
            return unsafe { products_avx2(self, a, b, take) };
        }
        self.each(a, b, take, product_pair);
    }

    /// Calls `take` with what `product` makes of the weights of each part and what lies there in two lists.
    #[inline(always)]
    fn each(
        &self,
        a: &[f32],
        b: &[f32],
        mut take: impl FnMut(f32, f32),
        product: impl Fn(&[Stride], &[[f32; STRIDE]], &[[f32; STRIDE]]) -> (f32, f32),
    ) {
        let mut rest = self.weights.as_slice();
        for part in &self.parts {
            let (weights, others) = rest.split_at(part.strides);
            rest = others;
            let (a, b) = product(weights, part.of(a), part.of(b));
            take(a, b);
        }
    }
}

/// The inner products of weights with two lists, each in eight independent sums.
#[cfg(not(all(target_arch = "wasm32", target_feature = "simd128")))]
fn product_pair(weights: &[Stride], a: &[[f32; STRIDE]], b: &[[f32; STRIDE]]) -> (f32, f32) {
    let product = |values: &[[f32; STRIDE]]| {
        let mut sums = [0.0f32; 8];
        for (Stride(w), x) in weights.iter().zip(values) {
            for k in 0..STRIDE {
                sums[k % 8] += w[k] * x[k];
            }
        }
        sums.iter().sum::<f32>()
    };
    (product(a), product(b))
}

/// The same for WebAssembly's registers of four: each weight is read once for both.
#[cfg(all(target_arch = "wasm32", target_feature = "simd128"))]
fn product_pair(weights: &[Stride], a: &[[f32; STRIDE]], b: &[[f32; STRIDE]]) -> (f32, f32) {
    use std::arch::wasm32::{
        f32x4_add, f32x4_extract_lane, f32x4_mul, f32x4_splat, v128, v128_load,
    };
    let mut sums = [f32x4_splat(0.0); 4];
    for ((Stride(w), x), y) in weights.iter().zip(a).zip(b) {
        for four in 0..STRIDE / 4 {
            // SAFETY: all three chunks hold 16 values, and 4 four + 4 is at most 16.
            let of = |v: &[f32; STRIDE]| unsafe { v128_load(v.as_ptr().add(4 * four).cast()) };
            let (w, half) = (of(w), four % 2);
            sums[half] = f32x4_add(sums[half], f32x4_mul(w, of(x)));
            sums[2 + half] = f32x4_add(sums[2 + half], f32x4_mul(w, of(y)));
        }
    }
    let total = |v: v128| {
        f32x4_extract_lane::<0>(v)
            + f32x4_extract_lane::<1>(v)
            + f32x4_extract_lane::<2>(v)
            + f32x4_extract_lane::<3>(v)
    };
    (
        total(f32x4_add(sums[0], sums[1])),
        total(f32x4_add(sums[2], sums[3])),
    )
}

/// The innermost loop of the salience, written out: the compiler's own form of it takes three times as long.
#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2,fma")]
fn products_avx2(kernels: &Kernels, a: &[f32], b: &[f32], take: impl FnMut(f32, f32)) {
    use std::arch::x86_64::{
        _mm_add_ps, _mm_cvtss_f32, _mm_hadd_ps, _mm_movehdup_ps, _mm256_add_ps,
        _mm256_castps256_ps128, _mm256_extractf128_ps, _mm256_fmadd_ps, _mm256_hadd_ps,
        _mm256_loadu_ps, _mm256_setzero_ps,
    };
    kernels.each(a, b, take, |weights, a, b| {
        let mut sums = [_mm256_setzero_ps(); 4];
        for ((Stride(w), x), y) in weights.iter().zip(a).zip(b) {
            for half in 0..2 {
                // SAFETY: all three chunks hold 16 values, and 8 half + 8 is at most 16.
                let of = |v: &[f32; STRIDE]| unsafe { _mm256_loadu_ps(v.as_ptr().add(8 * half)) };
                let w = of(w);
                sums[half] = _mm256_fmadd_ps(w, of(x), sums[half]);
                sums[2 + half] = _mm256_fmadd_ps(w, of(y), sums[2 + half]);
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
    });
}

/// Outputs that [`weigh`] sums up side by side.
pub const LANES: usize = 16;
/// Windows that it takes at once. Measured: with four the compiler leaves half the speed of wide registers unused.
pub const AT_ONCE: usize = 3;

/// Windows onto a list of values: each `taps` pieces of `width` values, one piece `gap` values after the other, the first
/// window at the beginning and each `step` values after the one before.
#[derive(Debug, Clone, Copy)]
pub struct Windows<'a> {
    /// What is looked at.
    pub values: &'a [f32],
    /// How many windows.
    pub count: usize,
    /// Values from one window to the next.
    pub step: usize,
    /// Pieces of a window.
    pub taps: usize,
    /// Values of a piece.
    pub width: usize,
    /// Values from one piece to the next.
    pub gap: usize,
}

impl<'a> Windows<'a> {
    /// Each row of a matrix by itself.
    pub fn rows(values: &'a [f32], columns: usize) -> Self {
        Self {
            values,
            count: values.len() / columns.max(1),
            step: columns,
            taps: 1,
            width: columns,
            gap: 0,
        }
    }

    /// Piece `tap` of a window.
    #[inline(always)]
    fn piece(&self, window: usize, tap: usize) -> &'a [f32] {
        &self.values[window * self.step + tap * self.gap..][..self.width]
    }
}

/// For each window the biases and its inner products with the weights, one row of `out` after the other. Weights and
/// biases come in panels of [`LANES`] outputs, a panel for all inputs before the next one.
#[multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq+avx512cd+avx2+fma",
    "x86_64+avx2+fma"
))]
pub fn weigh(windows: &Windows, weights: &[[f32; LANES]], bias: &[[f32; LANES]], out: &mut [f32]) {
    let (inputs, columns) = (windows.taps * windows.width, LANES * bias.len());
    for (panel, bias) in bias.iter().enumerate() {
        let weights = &weights[panel * inputs..][..inputs];
        let whole = windows.count / AT_ONCE * AT_ONCE;
        for first in (0..whole).step_by(AT_ONCE) {
            let sums = weigh_some::<AT_ONCE>(windows, first, weights, bias);
            for (k, sums) in sums.iter().enumerate() {
                out[(first + k) * columns + panel * LANES..][..LANES].copy_from_slice(sums);
            }
        }
        for window in whole..windows.count {
            let [sums] = weigh_some::<1>(windows, window, weights, bias);
            out[window * columns + panel * LANES..][..LANES].copy_from_slice(&sums);
        }
    }
}

/// The sums of `N` windows, each added up in the order of its values.
#[inline(always)]
fn weigh_some<const N: usize>(
    windows: &Windows,
    first: usize,
    weights: &[[f32; LANES]],
    bias: &[f32; LANES],
) -> [[f32; LANES]; N] {
    let mut sums = [*bias; N];
    for (tap, weights) in weights.chunks_exact(windows.width).enumerate() {
        let pieces: [&[f32]; N] = std::array::from_fn(|k| windows.piece(first + k, tap));
        for (i, weights) in weights.iter().enumerate() {
            for k in 0..N {
                for lane in 0..LANES {
                    sums[k][lane] += pieces[k][i] * weights[lane];
                }
            }
        }
    }
    sums
}
