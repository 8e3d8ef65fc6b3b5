//! Bells: the pitch that is heard, the strike note, lies an octave below the nominal, whatever partial is there.
//!
//! A church bell's lowest partials are hum, prime, tierce, quint and nominal, at about 1/2, 1, 6/5, 3/2 and 2 times the strike
//! note; the nominal with those above it makes the ear hear the strike note (Fletcher and Rossing, The Physics of Musical
//! Instruments, 1998, chapter 21). The tierce, a minor third, tells a bell from a string. Bells with a major third are not
//! known as such, nor are tubes, whose strike note is no partial at all.

use super::spectrum::Peak;
use crate::units::cents_between;

/// The partials that are told, over the strike note.
const PARTIALS: [(BellPartial, f64); 6] = [
    (BellPartial::Hum, 0.5),
    (BellPartial::Prime, 1.0),
    (BellPartial::Tierce, 1.2),
    (BellPartial::Quint, 1.5),
    (BellPartial::Nominal, 2.0),
    (BellPartial::Superquint, 3.0),
];
/// How far hum and prime may lie from their places, in cents: founders tune them more or less well.
const LOW_REACH_CENTS: f64 = 120.0;
/// … and the others.
const REACH_CENTS: f64 = 60.0;
/// What is fainter than this part of the strongest peak, −30 dB, is no partial of the bell.
const FAINT: f64 = 0.03;
/// The partials told make up this part of all that is new: the rest are twins and higher ones.
const SHARE: f64 = 0.5;
/// Nothing of a bell sounds below this part of its hum.
const BELOW_HUM: f64 = 0.9;

/// A partial's name among bell founders.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BellPartial {
    /// An octave below the strike note.
    Hum,
    /// At the strike note, more or less.
    Prime,
    /// A minor third above it.
    Tierce,
    /// A fifth above it.
    Quint,
    /// An octave above it.
    Nominal,
    /// An octave and a fifth above it.
    Superquint,
}

/// The peaks of a bell, from its hum up; `None` where they are not a bell's. Its nominal and tierce are new; the others may
/// lie where an earlier bell still rings.
pub fn partials(new_peaks: &[Peak], all_peaks: &[Peak]) -> Option<Vec<(BellPartial, Peak)>> {
    let strongest = new_peaks.iter().fold(0.0, |a: f64, p| a.max(p.amplitude));
    let loud = |peaks: &[Peak]| -> Vec<Peak> {
        let loud = peaks.iter().filter(|p| p.amplitude > FAINT * strongest);
        loud.copied().collect()
    };
    let (new, all) = (loud(new_peaks), loud(all_peaks));
    let total: f64 = new.iter().map(|p| p.amplitude).sum();
    let bells = new
        .iter()
        .filter_map(|nominal| with(*nominal, &new, &all))
        .filter(|bell| bell.iter().map(|p| p.1.amplitude).sum::<f64>() > SHARE * total);
    bells.max_by(|a, b| power(a).total_cmp(&power(b)))
}

fn power(bell: &[(BellPartial, Peak)]) -> f64 {
    bell.iter().map(|(_, p)| p.amplitude.sqrt()).sum()
}

/// The bell that has this nominal; hum, prime and tierce must be there, and nothing new below.
fn with(nominal: Peak, new: &[Peak], all: &[Peak]) -> Option<Vec<(BellPartial, Peak)>> {
    let strike_hz = nominal.hz / 2.0;
    let find = |name: BellPartial, hz: f64| match name {
        BellPartial::Nominal => Some(nominal),
        BellPartial::Hum | BellPartial::Prime => strongest_near(hz, LOW_REACH_CENTS, new)
            .or_else(|| strongest_near(hz, LOW_REACH_CENTS, all)),
        BellPartial::Tierce => strongest_near(hz, REACH_CENTS, new),
        _ => strongest_near(hz, REACH_CENTS, all),
    };
    let found: Vec<(BellPartial, Peak)> = PARTIALS
        .iter()
        .filter_map(|&(name, ratio)| Some((name, find(name, strike_hz * ratio)?)))
        .collect();
    let has = |name| found.iter().any(|f| f.0 == name);
    let whole = [BellPartial::Hum, BellPartial::Prime, BellPartial::Tierce];
    let hum_hz = found.first()?.1.hz;
    let below = new.iter().any(|p| p.hz < BELOW_HUM * hum_hz);
    (whole.into_iter().all(has) && !below).then_some(found)
}

fn strongest_near(hz: f64, reach_cents: f64, peaks: &[Peak]) -> Option<Peak> {
    let near = |p: &&Peak| cents_between(hz, p.hz).abs() < reach_cents;
    let near = peaks.iter().filter(near);
    near.max_by(|a, b| a.amplitude.total_cmp(&b.amplitude))
        .copied()
}
