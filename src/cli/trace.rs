//! `whichmode trace`: what one stage saw, for measuring and plotting.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::{Value, json};

use super::progress::{input, with_bar};
use super::{ExitStatus, terminal};
use crate::answer::{Options, identify_input};
use crate::error::Result;
use crate::histogram::BIN_CENTS;
use crate::pitch::FRAME_S;

const EXAMPLES: &str = "Examples:
  whichmode trace --stage notes lesson.flac
  whichmode trace --stage pitch --json lesson.flac";

/// Show what one stage saw in a recording
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct TraceArgs {
    /// Which stage
    #[arg(long, value_enum)]
    stage: Stage,
    /// Print comma-separated values without a header (the default)
    #[arg(long, conflicts_with = "json")]
    csv: bool,
    /// Print JSON: one object, a list for each column
    #[arg(long)]
    json: bool,
    /// A sound file, or - for standard input
    file: PathBuf,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Stage {
    /// time_s,f0_hz,confidence every 10 ms; f0 is 0 where no note sounds
    Pitch,
    /// start_s,end_s,midi,confidence
    Notes,
    /// cents,share in bins of 10 cents above C
    Histogram,
    /// pitch_class,probability of belonging to the set
    Scale,
}

/// Runs the command.
pub fn run(args: &TraceArgs) -> ExitStatus {
    let table = super::guarded(|| table(args.stage, &args.file));
    let printed = table
        .map_err(|error| error.at(&args.file))
        .and_then(|table| print(&table, args.json));
    super::ended(printed.map(|()| ExitStatus::Done))
}

/// Columns with their names and how many decimals each is printed with.
struct Table {
    columns: &'static [(&'static str, usize)],
    rows: Vec<Vec<f64>>,
}

fn table(stage: Stage, file: &std::path::Path) -> Result<Table> {
    let options = Options {
        keep_pitch: true,
        ..Options::default()
    };
    let answer = with_bar(|watch| identify_input(input(file)?, &options, watch))?;
    if stage == Stage::Pitch {
        let track = answer.pitch.unwrap_or_default();
        let row = |(k, f): (usize, &crate::pitch::PitchFrame)| {
            vec![
                track.start_s + k as f64 * FRAME_S,
                f64::from(f.f0_hz),
                f64::from(f.confidence),
            ]
        };
        let rows = track.sounding().iter().enumerate().map(row).collect();
        return Ok(Table {
            columns: &[("time_s", 3), ("f0_hz", 4), ("confidence", 4)],
            rows,
        });
    }
    if stage == Stage::Notes {
        let rows = answer
            .notes
            .notes
            .iter()
            .map(|n| vec![n.start_s, n.end_s, n.midi, n.confidence])
            .collect();
        return Ok(Table {
            columns: &[("start_s", 4), ("end_s", 4), ("midi", 4), ("confidence", 4)],
            rows,
        });
    }
    if stage == Stage::Histogram {
        let rows = answer
            .histogram
            .bins
            .iter()
            .enumerate()
            .map(|(k, share)| vec![k as f64 * BIN_CENTS, *share])
            .collect();
        return Ok(Table {
            columns: &[("cents", 0), ("share", 6)],
            rows,
        });
    }
    let rows = answer
        .scale
        .class_probabilities
        .iter()
        .enumerate()
        .map(|(k, p)| vec![k as f64, *p])
        .collect();
    Ok(Table {
        columns: &[("pitch_class", 0), ("probability", 6)],
        rows,
    })
}

fn print(table: &Table, as_json: bool) -> Result<()> {
    if as_json {
        let rounded = |x: f64, decimals: usize| {
            let scale = 10f64.powi(decimals as i32);
            (x * scale).round() / scale
        };
        let column = |k: usize, decimals: usize| {
            let values = table.rows.iter().map(|r| rounded(r[k], decimals));
            Value::from(values.collect::<Vec<f64>>())
        };
        let object: serde_json::Map<String, Value> = table
            .columns
            .iter()
            .enumerate()
            .map(|(k, (name, decimals))| (name.to_string(), column(k, *decimals)))
            .collect();
        return terminal::print_json(&json!(object));
    }
    let line = |row: &Vec<f64>| {
        let cells: Vec<String> = row
            .iter()
            .zip(table.columns)
            .map(|(x, (_, decimals))| format!("{x:.decimals$}"))
            .collect();
        cells.join(",") + "\n"
    };
    terminal::print(&table.rows.iter().map(line).collect::<String>())
}
