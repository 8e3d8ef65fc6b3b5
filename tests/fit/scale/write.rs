//! Writes fitted scorers as tables that say where they come from.

use std::path::Path;

use whichmode::network::Weights;
use whichmode::network::table::{Part, Table, fnv1a};
use whichmode::scale::fitting::{self, set};

use crate::centre::{Centre, Scorer};
use crate::net::Fitted;

/// What a table was fitted on.
pub struct Inputs {
    /// FNV-1a hash of the melodies.
    hash: u64,
    /// File and folder names without their paths.
    names: String,
}

impl Inputs {
    pub fn new(melodies: &str, args: &[String]) -> Self {
        let name = |a: &String| {
            Path::new(a)
                .file_name()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned()
        };
        Self {
            hash: fnv1a(melodies.bytes()),
            names: args.iter().map(name).collect::<Vec<_>>().join(", "),
        }
    }

    fn table(&self, parts: Vec<Part>) -> Table {
        Table {
            provenance: format!(
                "Fitted by tests/fit/scale on {}; hash of the melodies (FNV-1a): {:016x}.",
                self.names, self.hash
            ),
            parts,
        }
    }
}

pub fn centre_table(path: &Path, inputs: &Inputs, centre: &Centre) {
    let [neutral, common] = &centre.calibrations;
    let mut parts = scorer("neutral", &centre.neutral, neutral);
    parts.extend(scorer("common practice", &centre.common, common));
    let bytes = inputs.table(parts).bytes(fitting::feature_names());
    std::fs::write(path, bytes).expect("the table can be written");
}

pub fn set_table(path: &Path, inputs: &Inputs, set: &Fitted) {
    let bytes = inputs.table(network("set", set)).bytes(set::Feature::NAMES);
    std::fs::write(path, bytes).expect("the table can be written");
}

fn scorer(name: &str, scorer: &Scorer, calibration: &[f32]) -> Vec<Part> {
    let mut parts = network(name, &scorer.net);
    for (k, weights) in scorer.sequence_nets.iter().enumerate() {
        parts.extend(sequence_net(
            &format!("{name}/line {}", k + 1),
            scorer,
            weights,
        ));
    }
    parts.push(Part {
        name: format!("{name}/calibration"),
        rows: 1,
        columns: calibration.len(),
        numbers: calibration.to_vec(),
    });
    parts
}

fn network(name: &str, fitted: &Fitted) -> Vec<Part> {
    let (n, h) = (fitted.features, fitted.hidden);
    let column = |k: usize| (0..h).map(move |j| fitted.rows()[j * n + k]);
    let hidden: Vec<f32> = (0..n).flat_map(column).collect();
    let weights = Weights {
        mean: &fitted.mean,
        scale: &fitted.scale,
        linear: fitted.linear(),
        hidden: &hidden,
        bias: fitted.bias(),
        output: fitted.output(),
        constant: 0.0,
    };
    weights.parts(name)
}

fn sequence_net(name: &str, scorer: &Scorer, weights: &[f32]) -> Vec<Part> {
    let mut rest = weights;
    let parts = fitting::parts(scorer.intervals).into_iter();
    let parts = parts.map(|(part, rows, columns)| {
        let (numbers, after) = rest.split_at(rows * columns);
        rest = after;
        Part {
            name: format!("{name}/{part}"),
            rows,
            columns,
            numbers: numbers.to_vec(),
        }
    });
    parts.collect()
}
