//! Fits how sure the centre of a line that is sung freely is: the weights of `src/scale/sung_centre.rs`.
//!
//! Singers are made from the tunes of the split `fit`, which the shipped scorers have seen. So each half of the tunes is
//! judged by scorers that were fitted on the other half.

use std::io::BufReader;

use serde::Deserialize;
use whichmode::notes::symbolic::read_lines;
use whichmode::scale::fitting::{SIGNS, sung};

use crate::calibration;

/// What is known of a first choice, and whether it was right.
type Case = ([f64; SIGNS], bool);

/// A row of `tests/fit/make_singers.py`.
#[derive(Deserialize)]
struct Singer {
    tune: usize,
    centre: i64,
    /// Semitones by which the centre may lie elsewhere too: whoever sings between two keys sings in either.
    also: Vec<i64>,
}

/// Prints what the scorers that were built in say of the singers of some tunes: 1 or 0 for right or wrong, then the signs.
pub fn print_cases(files: &[String], is_judged: impl Fn(usize) -> bool) {
    for file in files {
        let text = std::fs::read_to_string(file).expect("the singers");
        let lists = read_lines(BufReader::new(text.as_bytes()));
        for (row, (_, list)) in text.lines().zip(lists) {
            let singer: Singer = serde_json::from_str(row).expect("a made singer");
            if !is_judged(singer.tune) {
                continue;
            }
            let list = list.expect("notes").notes;
            if let Some((first, signs)) = sung(&list) {
                let first = first.index() as i64;
                let is_at = |by: &i64| (singer.centre + by).rem_euclid(12) == first;
                let is_right = is_at(&0) || singer.also.iter().any(is_at);
                let signs = signs.map(|x| format!("{x:.5}")).join(" ");
                println!("{} {signs}", u8::from(is_right));
            }
        }
    }
}

/// Fits the weights to printed cases and prints them.
pub fn print_weights(files: &[String]) {
    let cases: Vec<Case> = files.iter().flat_map(|file| read(file)).collect();
    let weighed: Vec<_> = cases
        .iter()
        .map(|(signs, right)| (*signs, f64::from(u8::from(*right)), 1.0))
        .collect();
    println!("{} lines: {:.2?}", cases.len(), calibration::fit(&weighed));
}

fn read(file: &str) -> Vec<Case> {
    let text = std::fs::read_to_string(file).expect("printed cases");
    let case = |row: &str| {
        let numbers: Vec<f64> = row
            .split(' ')
            .map(|x| x.parse().expect("a number"))
            .collect();
        let signs = numbers[1..].try_into().expect("all signs");
        (signs, numbers[0] == 1.0)
    };
    text.lines().map(case).collect()
}
