//! Reading a curve over the pitch grid, such as a salience: its peaks, its highest value, its value about a place.

use crate::simd::greater;

/// The peaks of a curve over the grid, highest first.
pub fn find_peaks(curve: &[f32], out: &mut Vec<(f32, usize)>) {
    out.clear();
    let is_peak =
        |&k: &usize| curve[k] > 0.0 && curve[k] > curve[k - 1] && curve[k] >= curve[k + 1];
    out.extend((1..curve.len() - 1).filter(is_peak).map(|k| (curve[k], k)));
    out.sort_unstable_by(|a, b| b.0.total_cmp(&a.0));
}

/// Place of a peak between grid points.
pub fn parabola(curve: &[f32], at: usize) -> f32 {
    let [a, b, c] = [curve[at - 1], curve[at], curve[at + 1]];
    let bend = a - 2.0 * b + c;
    let offset = if bend < -1e-9 {
        0.5 * (a - c) / bend
    } else {
        0.0
    };
    at as f32 + offset.clamp(-0.5, 0.5)
}

/// The highest of values that are none of them negative.
pub fn highest(values: &[f32]) -> f32 {
    let (wide, rest) = values.as_chunks::<8>();
    if wide.is_empty() {
        return rest.iter().copied().fold(0.0, greater);
    }
    let mut tops = [0.0f32; 8];
    for chunk in wide {
        tops.iter_mut()
            .zip(chunk)
            .for_each(|(t, v)| *t = if *v > *t { *v } else { *t });
    }
    tops.iter()
        .chain(rest)
        .fold(0.0, |t, v| if *v > t { *v } else { t })
}

/// The highest value within `reach` grid points.
#[inline]
pub fn near(values: &[f32], at: usize, reach: usize) -> f32 {
    let about = &values[at.saturating_sub(reach)..(at + reach + 1).min(values.len())];
    about.iter().copied().fold(0.0, greater)
}

/// The highest value about `steps` away, or 0 outside the grid.
pub fn offset(values: &[f32], at: usize, steps: i64) -> f32 {
    let there = at as i64 + steps;
    if (0..values.len() as i64).contains(&there) {
        near(values, there as usize, 1)
    } else {
        0.0
    }
}
