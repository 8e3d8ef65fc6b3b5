//! Fits the tables of the scale stage and writes them to src/scale/.
//!
//! `cargo run --release --features fitting --example fit_scale -- [--set-only] FIT.jsonl [CORPUS...]`
//!
//! FIT.jsonl is the split `fit` of the labelled melodies (id, kind, variant, tonic, mode, notes); each CORPUS is a folder
//! of labelled recordings (manifest.jsonl, audio/), heard through the stages before. The centre is fitted on the
//! melodies alone ([`centre`]), unless `--set-only` leaves it as it is; the set on recordings as well ([`set`]), so that without a CORPUS its table stays as it is.

mod calibration;
mod centre;
mod corpus;
mod heard;
mod lines;
mod mistakes;
mod net;
mod rng;
mod sequence_net;
mod set;
mod write;

use std::path::Path;

fn main() {
    let mut args: Vec<String> = std::env::args().skip(1).collect();
    let set_only = args[0] == "--set-only";
    args.drain(..usize::from(set_only));
    let text = std::fs::read_to_string(&args[0]).expect("the melodies");
    let melodies = corpus::read(&text);
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/scale");
    let corpora = &args[1..];
    if !set_only {
        let centre = centre::fit_centre(&lines::lines(&melodies));
        let inputs = write::Inputs::new(&text, &args[..1]);
        write::centre_table(&folder.join("centre.bin"), &inputs, &centre);
    }
    if !corpora.is_empty() {
        let set = set::fit_set(&melodies, corpora);
        let inputs = write::Inputs::new(&text, &args);
        write::set_table(&folder.join("set.bin"), &inputs, &set);
    }
}
