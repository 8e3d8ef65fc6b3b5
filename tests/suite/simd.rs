//! Sums of products: every way in which the library adds them up gives what the definition gives, in double precision.

use approx::assert_abs_diff_eq;
use proptest::prelude::*;
use whichmode::simd::{Kernels, LANES, STRIDE, Windows, dot, filter, weigh};

/// Single precision keeps seven digits; the sums here have at most 300 terms of at most 1.
const NEAR: f64 = 1e-4;

fn product(a: &[f32], b: &[f32]) -> f64 {
    a.iter()
        .zip(b)
        .map(|(a, b)| f64::from(*a) * f64::from(*b))
        .sum()
}

fn numbers(length: impl Into<proptest::collection::SizeRange>) -> impl Strategy<Value = Vec<f32>> {
    proptest::collection::vec(-1.0f32..1.0, length)
}

/// Three lists of one length, whole strides or not.
fn three_lists() -> impl Strategy<Value = [Vec<f32>; 3]> {
    (0usize..300).prop_flat_map(|n| [numbers(n), numbers(n), numbers(n)])
}

proptest! {
    #[test]
    fn an_inner_product_is_the_sum_of_products([a, b, _] in three_lists()) {
        assert_abs_diff_eq!(f64::from(dot(&a, &b)), product(&a, &b), epsilon = NEAR);
    }

    /// The loop that is written out, for any number of parts that lie anywhere.
    #[test]
    fn products_of_parts_are_those_of_the_definition(
        parts in proptest::collection::vec((0usize..100, 0usize..12), 0..6),
        [w, a, b] in [numbers(300), numbers(300), numbers(300)],
    ) {
        let strides: &[[f32; STRIDE]] = w.as_chunks().0;
        let mut kernels = Kernels::default();
        parts.iter().for_each(|&(first, count)| kernels.push(first, &strides[..count]));
        let mut found = Vec::new();
        kernels.products(&a, &b, |a, b| found.push([a, b]));
        prop_assert_eq!(found.len(), parts.len());
        for (&(first, count), found) in parts.iter().zip(found) {
            let weights = &w[..count * STRIDE];
            for (values, found) in [&a, &b].into_iter().zip(found) {
                let there = &values[first..][..weights.len()];
                assert_abs_diff_eq!(f64::from(found), product(weights, there), epsilon = NEAR);
            }
        }
    }

    #[test]
    fn a_filter_is_a_product_at_every_step(
        values in numbers(0..300),
        taps in numbers(1..40),
        step in 1usize..8,
    ) {
        let mut out = Vec::new();
        filter(&values, &taps, step, &mut out);
        let expected: Vec<f64> = values.windows(taps.len()).step_by(step).map(|w| product(w, &taps)).collect();
        prop_assert_eq!(out.len(), expected.len());
        for (a, b) in out.iter().zip(expected) {
            assert_abs_diff_eq!(f64::from(*a), b, epsilon = NEAR);
        }
    }

    /// Each window's outputs are the biases and its products with the weights; and the same to the last digit whether
    /// windows are weighed together or one by one.
    #[test]
    fn windows_are_weighed_each_by_itself(
        count in 0usize..11,
        taps in 1usize..4,
        width in 1usize..9,
        gap in 0usize..12,
        step in 0usize..9,
        panels in 1usize..3,
        seed in numbers(700),
    ) {
        let length = count.max(1) * step + taps * gap + width;
        let values: Vec<f32> = seed.iter().cycle().take(length).copied().collect();
        let inputs = taps * width;
        let lanes = |k: usize| std::array::from_fn(|lane| seed[(7 * k + lane) % seed.len()]);
        let weights: Vec<[f32; LANES]> = (0..panels * inputs).map(lanes).collect();
        let bias: Vec<[f32; LANES]> = (0..panels).map(|k| lanes(k + 31)).collect();
        let windows = Windows { values: &values, count, step, taps, width, gap };
        let mut out = vec![0.0; count * panels * LANES];
        weigh(&windows, &weights, &bias, &mut out);
        for k in 0..count {
            let one = Windows { values: &values[k * step..], count: 1, ..windows };
            let mut alone = vec![0.0; panels * LANES];
            weigh(&one, &weights, &bias, &mut alone);
            prop_assert_eq!(&out[k * panels * LANES..(k + 1) * panels * LANES], &alone[..]);
            for output in 0..panels * LANES {
                let (panel, lane) = (output / LANES, output % LANES);
                let expected: f64 = (0..inputs).map(|i| {
                    let value = values[k * step + i / width * gap + i % width];
                    f64::from(value) * f64::from(weights[panel * inputs + i][lane])
                }).sum::<f64>() + f64::from(bias[panel][lane]);
                assert_abs_diff_eq!(f64::from(alone[output]), expected, epsilon = NEAR);
            }
        }
    }
}
