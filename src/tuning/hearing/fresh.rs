//! What is new with a pluck: the peaks of its spectrum that did not sound before, and those that are no multiples of its pitch.

use super::partial::Partial;
use super::spectrum::{Peak, Spectrum};
use crate::units::cents_between;

/// A peak is new when this part of its amplitude was not there before.
const NEW_SHARE: f64 = 0.3;
/// Half the width of a steady partial in a spectrum, in bins, and one more for the bin next to it.
const MAIN_LOBE_BINS: f64 = 3.0;
/// Partials off the harmonic series are told down to this part of the strongest, −20 dB …
const OVERTONE_SHARE: f64 = 0.1;
/// … when they lie this far from every multiple of the first, in cents: a stiff string's tenth lies 80 off …
const HARMONIC_CENTS: f64 = 40.0;
/// … and not more of them than this.
const MOST_OVERTONES: usize = 4;

/// The peaks with the amplitude that was not there before the pluck.
pub fn new_peaks(
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
pub fn overtones(first_hz: f64, new_peaks: &[Peak]) -> Vec<f64> {
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
