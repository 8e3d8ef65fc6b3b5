//! The fitted scorers of the centre, one for each prior: a small network of the features of a candidate, networks that read
//! the line note by note, and the curve that tells how sure their first choice is.

use std::sync::LazyLock;

use crate::network::table::{Table, TableError};
use crate::network::{Activation, Network};
use crate::scale::calibration::CALIBRATION_INPUTS;
use crate::scale::estimate::Prior;
use crate::scale::feature_list::{self, COMMON_PRACTICE, Feature};
use crate::scale::features::Row;
use crate::scale::sequence::{Intervals, NoteFeature, NoteSequence};
use crate::scale::sequence_net::{SequenceNet, mean};

/// The part that the networks of the line have in a score; the features have the rest. Chosen on collections left out of
/// the fit, between a half and the whole, where it matters little.
const SEQUENCE_PART: f64 = 0.8;
/// Networks of the line that are fitted without assumption.
pub const NEUTRAL_NETS: usize = 2;
/// Networks of the line that are fitted to common-practice tunes.
pub const COMMON_NETS: usize = 1;

/// The file that was fitted.
pub const TABLE: &[u8] = include_bytes!("centre.bin");

pub static SCORERS: LazyLock<Scorers> = LazyLock::new(|| {
    Scorers::read(TABLE).unwrap_or_else(|error| panic!("src/scale/centre.bin: {error}"))
});

/// The calibration curves of the shipped file, the neutral one first.
#[cfg(feature = "fitting")]
pub fn shipped_calibrations() -> [[f32; CALIBRATION_INPUTS]; 2] {
    [Prior::Neutral, Prior::CommonPractice].map(|prior| {
        let curve = &SCORERS.of(prior).calibration;
        std::array::from_fn(|k| curve[k])
    })
}

/// Names of all features that the scorers take, in their order.
pub fn feature_names() -> impl Iterator<Item = String> {
    let notes = NoteFeature::NAMES.iter();
    let flags = [Intervals::Steps, Intervals::Semitones]
        .into_iter()
        .flat_map(Intervals::flags);
    let of_sequence = notes.chain(flags).map(|name| (*name).to_string());
    feature_list::all()
        .map(|feature| feature.to_string())
        .chain(of_sequence)
}

/// What was fitted for both priors.
pub struct Scorers {
    neutral: Scorer,
    common_practice: Scorer,
}

/// What was fitted for one prior.
pub struct Scorer {
    /// Scores the features of a candidate.
    pub network: Network,
    /// Features that the network takes.
    pub features: usize,
    /// Read the line note by note.
    pub sequence_nets: Vec<SequenceNet>,
    /// Weights of the calibration curve.
    pub calibration: Vec<f32>,
}

impl Scorers {
    /// Reads a fitted file.
    pub fn read(bytes: &[u8]) -> Result<Self, TableError> {
        let table = Table::read(bytes, feature_names())?;
        Ok(Self {
            neutral: Scorer::read(
                &table,
                "neutral",
                Feature::COUNT,
                Intervals::Steps,
                NEUTRAL_NETS,
            )?,
            common_practice: Scorer::read(
                &table,
                "common practice",
                COMMON_PRACTICE,
                Intervals::Semitones,
                COMMON_NETS,
            )?,
        })
    }

    /// The scorer of a prior.
    pub fn of(&self, prior: Prior) -> &Scorer {
        match prior {
            Prior::Neutral => &self.neutral,
            Prior::CommonPractice => &self.common_practice,
        }
    }
}

impl Scorer {
    fn read(
        table: &Table,
        name: &str,
        features: usize,
        intervals: Intervals,
        sequence_nets: usize,
    ) -> Result<Self, TableError> {
        let sequence_net =
            |k: usize| SequenceNet::read(table, &format!("{name}/line {}", k + 1), intervals);
        let calibration = table.part(&format!("{name}/calibration"), 1, CALIBRATION_INPUTS)?;
        Ok(Self {
            network: Network::read(table, name, features, Activation::Rectified, f32::INFINITY)?,
            features,
            sequence_nets: (0..sequence_nets)
                .map(sequence_net)
                .collect::<Result<_, _>>()?,
            calibration: calibration.to_vec(),
        })
    }

    /// What each network of the line says of the twelve candidates, C first.
    pub fn of_line(&self, sequence: Option<&NoteSequence>) -> Vec<[f32; 12]> {
        let read = |s: &NoteSequence| {
            let nets = self.sequence_nets.iter();
            nets.map(|n| n.scores(s, &s.features)).collect()
        };
        sequence.map_or_else(Vec::new, read)
    }

    /// The scores of the candidates from their features and from [`Scorer::of_line`].
    pub fn scores(&self, rows: &[Row; 12], of_line: &[[f32; 12]]) -> [f64; 12] {
        let mut scores = mean(of_line);
        let mut classes = scores.iter_mut();
        let features = rows.iter().map(|row| &row[..self.features]);
        self.network.each_score(features, |score| {
            if let Some(of_class) = classes.next() {
                *of_class = joined(f64::from(score), *of_class);
            }
        });
        scores
    }
}

/// The score of a candidate from what its features and what the networks of the line say of it.
pub fn joined(features: f64, sequence: f64) -> f64 {
    (1.0 - SEQUENCE_PART) * features + SEQUENCE_PART * sequence
}
