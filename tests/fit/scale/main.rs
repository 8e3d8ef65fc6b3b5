//! Fits the tables of the scale stage and writes them to src/scale/.
//!
//! `cargo run --release --features fitting --example fit_scale -- [--set-only] FIT.jsonl [CORPUS...]`
//!
//! `cargo run --release --features fitting --example fit_scale -- --half odd|even FIT.jsonl`
//! `… fit_scale -- --cases odd|even SINGERS.jsonl...`
//! `… fit_scale -- --sung CASES...`
//!
//! FIT.jsonl is the split `fit` of the labelled melodies (id, kind, variant, tonic, mode, notes); each CORPUS is a folder
//! of labelled recordings (manifest.jsonl, audio/), heard through the stages before. The centre is fitted on the
//! melodies alone ([`centre`]), unless `--set-only` leaves it as it is; the set on recordings as well ([`set`]), so that without a CORPUS its table stays as it is.
//!
//! `--half` fits the centre on half of the tunes only. Built with that, `--cases` prints what is said of singers
//! (`tests/fit/make_singers.py`) of the other half's tunes, and `--sung` fits to both how sure the centre of a line that is sung freely is
//! ([`sung_centre`]). Bring the shipped centre.bin back between these.

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
mod sung_centre;
mod write;

use std::path::{Path, PathBuf};

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let is_odd = |half: &String| match half.as_str() {
        "odd" => true,
        "even" => false,
        other => panic!("odd or even, not {other}"),
    };
    match args[0].as_str() {
        "--half" => fit_half(is_odd(&args[1]), &args[2..]),
        "--cases" => {
            sung_centre::print_cases(&args[2..], |tune| centre::is_odd(tune) == is_odd(&args[1]))
        }
        "--sung" => sung_centre::print_weights(&args[1..]),
        "--set-only" => fit_tables(true, &args[1..]),
        _ => fit_tables(false, &args),
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src/scale")
}

fn fit_half(odd: bool, args: &[String]) {
    let text = std::fs::read_to_string(&args[0]).expect("the melodies");
    let centre = centre::fit_half(&lines::lines(&corpus::read(&text)), odd);
    let inputs = write::Inputs::new(&text, args);
    write::centre_table(&folder().join("centre.bin"), &inputs, &centre);
}

fn fit_tables(set_only: bool, args: &[String]) {
    let text = std::fs::read_to_string(&args[0]).expect("the melodies");
    let melodies = corpus::read(&text);
    let corpora = &args[1..];
    if !set_only {
        let centre = centre::fit_centre(&lines::lines(&melodies));
        let inputs = write::Inputs::new(&text, &args[..1]);
        write::centre_table(&folder().join("centre.bin"), &inputs, &centre);
    }
    if !corpora.is_empty() {
        let set = set::fit_set(&melodies, corpora);
        let inputs = write::Inputs::new(&text, args);
        write::set_table(&folder().join("set.bin"), &inputs, &set);
    }
}
