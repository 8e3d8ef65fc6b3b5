//! `whichmode neck`: where a scale lies on a neck, and which open strings to change for it.

mod changes;

use std::path::{Path, PathBuf};

use clap::Args;

use super::{ExitStatus, interrupt, terminal};
use crate::error::{Error, Result};
use crate::labels::Book;
use crate::render::neck::boxes::{Position, positions};
use crate::render::neck::{Mark, Neck, WITHOUT_NECK, svg, text};
use crate::render::retune::{Limits, retune};
use crate::render::{Scale, files, named};
use crate::report::sentences::phrasing::listed;
use crate::tuning::{StringNote, StringSet, Temperament, find, known_sets, parse_notes};

/// Instruments whose notes are hammered or cast in.
const FIXED: [&str; 1] = ["handpan"];
const EXAMPLES: &str = "Examples:
  whichmode neck \"D Dorian kumoi\"";

/// Show where a scale lies on a neck, or which open strings to change for it
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct NeckArgs {
    /// The scale: "D Dorian kumoi", "D E F A B", "D: 2 1 4 2 3", "D (1 2 b3 5 6)", cents "C (0 200 350 500 700 900
    /// 1050)", or a name with a root
    #[arg(value_name = "SCALE", required_unless_present = "open")]
    scale: Option<String>,
    /// The open strings, lowest first, "E2 A2 D3 G3 B3 E4", or a named set such as DADGAD
    #[arg(long, value_name = "NOTES|SET", default_value = "guitar standard")]
    strings: String,
    /// How many frets to show
    #[arg(long, value_name = "NUMBER", default_value_t = 15)]
    frets: usize,
    /// Draw the neck as a picture (SVG)
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// List the positions of so many frets in which the scale runs without a gap
    #[arg(long = "box", value_name = "FRETS")]
    span: Option<usize>,
    /// Draw only the position that begins at this fret; 0 is the open position
    #[arg(long, value_name = "FRET", requires = "span")]
    from_fret: Option<usize>,
    /// For left-handed players: the nut on the right
    #[arg(long)]
    left: bool,
    /// Where degrees lie: equal, pythagorean, just, meantone, or cents above the centre; what is off the frets is shown
    /// between them
    #[arg(long, value_name = "NAME|CENTS", default_value = "equal")]
    temperament: String,
    /// Retune open strings: as they are now, "D4 G3 A3 Bb3", or a named set such as "koto hirajoshi"
    #[arg(long, value_name = "NOTES|SET", requires = "to", conflicts_with_all = ["scale", "svg", "span"])]
    open: Option<String>,
    /// The scale that the open strings should give
    #[arg(long, value_name = "SCALE", requires = "open")]
    to: Option<String>,
    /// Raise no string by more semitones than this
    #[arg(
        long,
        value_name = "SEMITONES",
        default_value_t = 1.0,
        allow_negative_numbers = true
    )]
    most_up: f64,
    /// Lower no string by more semitones than this
    #[arg(
        long,
        value_name = "SEMITONES",
        default_value_t = 3.0,
        allow_negative_numbers = true
    )]
    most_down: f64,
    /// Write over a picture that is there already
    #[arg(long)]
    replace: bool,
    /// A label book of your own (JSON); may be given several times
    #[arg(long, value_name = "FILE")]
    book: Vec<PathBuf>,
    /// Read note names as German ones: H, B, Fis, Es
    #[arg(long)]
    german: bool,
}

/// Runs the command.
pub fn run(args: &NeckArgs) -> ExitStatus {
    super::ended(answer(args).map(|()| ExitStatus::Done))
}

fn answer(args: &NeckArgs) -> Result<()> {
    let book = Book::with_files(&args.book)?;
    let temperament = Temperament::parse(&args.temperament)?;
    let read = |text: &str| {
        named::scale(text, &book, super::notation(args.german))?.tempered(&temperament)
    };
    match (&args.open, &args.to, &args.scale) {
        (Some(open), Some(to), _) => retuned(args, open, &read(to)?),
        (_, _, Some(scale)) => shown(args, &read(scale)?),
        _ => Err(Error::Text(
            "name a scale, such as whichmode neck \"D Dorian kumoi\"".into(),
        )),
    }
}

/// The strings of a named set, or notes; with the set's instrument.
fn strings(text: &str, option: &str) -> Result<(Vec<StringNote>, Option<String>)> {
    let sets: Vec<StringSet> = known_sets();
    if let Some(set) = find(&sets, text) {
        return Ok((parse_notes(&set.strings)?, Some(set.instrument.clone())));
    }
    let notes = parse_notes(text).map_err(|e| {
        Error::Text(format!(
            "{option}: {e}; or name a set (whichmode tuning --list-sets shows them)"
        ))
    })?;
    Ok((notes, None))
}

fn shown(args: &NeckArgs, scale: &Scale) -> Result<()> {
    let (open, instrument) = strings(&args.strings, "--strings")?;
    if let Some(name) = instrument.filter(|name| WITHOUT_NECK.contains(&name.as_str())) {
        return Err(Error::Text(format!(
            "a {name} has no neck: to tune it to the scale, ask whichmode neck --open {:?} --to {:?}",
            args.strings, scale.title
        )));
    }
    let neck = Neck::new(open, args.frets, args.left)?;
    let mut frame = svg::Frame {
        first: 0,
        last: args.frets,
    };
    match args.span {
        None => terminal::print(&text::write(scale, &neck))?,
        Some(span) => {
            let all = positions(scale, &neck, span)?;
            let chosen = args.from_fret.map(|fret| at_fret(&all, fret)).transpose()?;
            tell_positions(scale, &neck, &all, span, chosen)?;
            if let Some(position) = chosen {
                frame = svg::Frame {
                    first: position.first,
                    last: position.last,
                };
            }
        }
    }
    match &args.svg {
        Some(path) => write_picture(path, &svg::write(scale, &neck, frame), args.replace),
        None => Ok(()),
    }
}

fn at_fret(all: &[Position], fret: usize) -> Result<&Position> {
    let last = all.iter().map(|p| p.first).max().unwrap_or(0);
    all.iter()
        .rev()
        .find(|p| p.first <= fret && fret <= last)
        .ok_or_else(|| {
            Error::Text(format!(
                "--from-fret {fret}: the last position on this neck begins at fret {last}"
            ))
        })
}

fn write_picture(path: &Path, picture: &str, replace: bool) -> Result<()> {
    if path.exists() && !replace {
        return Err(files::in_the_way(path));
    }
    interrupt::whole(|| std::fs::write(path, picture))
        .map_err(|e| Error::unwritable("the picture can't be written", e).at(path))
}

fn tell_positions(
    scale: &Scale,
    neck: &Neck,
    all: &[Position],
    span: usize,
    chosen: Option<&Position>,
) -> Result<()> {
    let mut page = terminal::page();
    page.heading(&format!("{}: positions of {span} frets", scale.title));
    let whole: Vec<&Position> = all.iter().filter(|p| p.is_whole()).collect();
    let fewest = all.iter().map(|p| p.lacking.len()).min().unwrap_or(0);
    let told = if whole.is_empty() {
        page.paragraph(
            "No position holds an octave of it without a gap; these lack the fewest notes.",
        );
        all.iter().filter(|p| p.lacking.len() == fewest).collect()
    } else {
        whole
    };
    let rows: Vec<Vec<String>> = told
        .into_iter()
        .map(|p| position_row(scale, neck, p))
        .collect();
    page.table(&rows, 2);
    if let Some(position) = chosen {
        page.gap();
        page.paragraph("Drawn:");
        page.table(&[position_row(scale, neck, position)], 2);
    }
    terminal::print(&page.finish())
}

fn position_row(scale: &Scale, neck: &Neck, position: &Position) -> Vec<String> {
    let place = match position.first {
        0 => format!("open to fret {}", position.last),
        first => format!("frets {first} to {}", position.last),
    };
    let ends = position.lowest().zip(position.highest());
    let reach = ends.map_or(String::new(), |(low, high)| {
        format!("{} to {}", note_text(low), note_text(high))
    });
    let centres: Vec<String> = position
        .marks
        .iter()
        .filter(|m| m.is_centre)
        .map(|m| format!("{} fret {}", neck.strings[m.string], m.fret()))
        .collect();
    let lacking: Vec<String> = position
        .lacking
        .iter()
        .filter_map(|&midi| lacking_text(scale, midi))
        .collect();
    let lacks = if lacking.is_empty() {
        String::new()
    } else {
        format!("; lacks {}", listed(&lacking))
    };
    let centre = format!("{} at {}{lacks}", scale.root, listed(&centres));
    vec![place, reach, centre]
}

/// "Eb3", spelled as in the scale.
fn note_text(mark: &Mark) -> String {
    spelled(mark.tone.name, mark.midi)
}

fn lacking_text(scale: &Scale, midi: f64) -> Option<String> {
    let root = scale.root.pitch_class().index() as f64;
    let apart = |cents: f64| ((midi - root - cents / 100.0 + 6.0).rem_euclid(12.0) - 6.0).abs();
    let tones = scale.all_tones();
    let tone = tones
        .iter()
        .min_by(|a, b| apart(a.cents).total_cmp(&apart(b.cents)))?;
    Some(spelled(tone.name, midi))
}

fn spelled(note: crate::modes::NoteName, midi: f64) -> String {
    let class = note.pitch_class().index() as f64;
    let midi = (class + 12.0 * ((midi - class) / 12.0).round()) as i32;
    let cents = 0.0;
    StringNote { note, midi, cents }.to_string()
}

fn retuned(args: &NeckArgs, open: &str, scale: &Scale) -> Result<()> {
    let (strings, instrument) = strings(open, "--open")?;
    if let Some(name) = instrument.filter(|name| FIXED.contains(&name.as_str())) {
        return Err(Error::Text(format!(
            "a {name} can't be retuned: its notes are hammered into it by the maker"
        )));
    }
    let limits = Limits {
        most_up: args.most_up,
        most_down: args.most_down,
    };
    let found = retune(&strings, scale, limits)?;
    let mut page = terminal::page();
    changes::tell(&strings, scale, &found, &mut page);
    terminal::print(&page.finish())
}
