//! `whichmode tuning`: an instrument's strings, plucked one after another, against the intended set or as they are; from
//! recordings, or live.

mod live;
mod targets;

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use serde_json::json;

use super::ExitStatus;
use super::interrupt;
use super::progress::{input, with_bar};
use super::report::ReportArgs;
use super::terminal;
use crate::answer::{plucks_input, wished_strings};
use crate::error::{Error, Result};
use crate::labels::Book;
use crate::modes::{Notation, NoteName, parse_note};
use crate::read::{read_file, read_text};
use crate::report::html::instrument::instrument;
use crate::report::html::{Html, heard};
use crate::report::terminal::page::Page;
use crate::report::tuning::{HeardReport, TuningReport, write_sets};
use crate::report::words::word;
use crate::tuning::{
    DEFAULT_TOLERANCE_CENTS, Dump, Intention, Pluck, Reference, Scheme, StringNote, StringSet,
    Temperament, Verdict, find, find_by_letters, judge, known_sets, read_sets, usual_strings,
    what_is_it,
};
use live::RawFormat;

/// Reference pitches outside this range, in hertz, are taken for slips of the hand.
const A4_HZ: std::ops::RangeInclusive<f64> = 300.0..=600.0;
/// Wider tolerances than a quarter tone, in cents, make no sense.
const TOLERANCE_CENTS: std::ops::RangeInclusive<f64> = 0.0..=50.0;
/// The most that is read of a file of string sets or a tuning dump, in bytes.
const MOST_BYTES: u64 = 1 << 20;

const EXAMPLES: &str = "Examples:
  whichmode tuning guitar.wav
  whichmode tuning --strings EADGBE guitar.wav
  whichmode tuning --strings \"D4 G3 A3 Bb3\" --a4 auto koto.flac
  whichmode tuning --strings \"C4 rast\" --meaning 1 lyre.wav
  whichmode tuning --strings \"D4 (0 240 480 720 960 1200)\" --dump-out five.syx";

/// Hear an instrument's strings plucked one after another: how far is each from its target?
#[derive(Args)]
#[command(after_help = EXAMPLES)]
pub struct TuningArgs {
    /// The strings in the order in which they are plucked: "D4 G3 A3 Bb3", with cents "D4 E4-50 G4", a named set such as
    /// "koto hirajoshi", EADGBE, or a scale from its first string: "C4 rast", "D4 (0 240 480 720 960)", "C4 (1/1 9/8 5/4
    /// 3/2 5/3 2/1)", a string for each degree, the octave's where it is written; without it you are told what the
    /// instrument is tuned to
    #[arg(long, value_name = "NOTES|SET|SCALE")]
    strings: Option<String>,
    /// Which scale is meant, by its number, where sources use a name in --strings differently
    #[arg(long, requires = "strings", value_name = "NUMBER")]
    meaning: Option<usize>,
    /// A label book of your own (JSON) for names of scales; may be given several times
    #[arg(long, value_name = "FILE")]
    book: Vec<PathBuf>,
    /// The recordings; "-" reads standard input; none to be told what --strings should be
    #[arg(required_unless_present_any = ["list_sets", "live", "strings"], value_name = "FILE")]
    files: Vec<PathBuf>,
    /// The A above middle C in hertz, or "auto" for the one that suits the strings best as they are
    #[arg(long, default_value = "440", value_name = "HZ|auto")]
    a4: String,
    /// Leave the string of this number as it is and tune the others to it
    #[arg(long, value_name = "NUMBER", conflicts_with = "a4")]
    from_string: Option<usize>,
    /// equal, pythagorean, just, meantone, or cents above the root: "0 204 316 702 814"
    #[arg(long, default_value = "equal", value_name = "NAME|CENTS")]
    temperament: String,
    /// The note that fifths and ratios are counted from [default: the centre]
    #[arg(long, value_name = "NOTE")]
    root: Option<String>,
    /// The note that the set is heard from [default: the named set's, else the first string]
    #[arg(long, value_name = "NOTE")]
    centre: Option<String>,
    /// The strings may be plucked in any order
    #[arg(long)]
    any_order: bool,
    /// How far a string may be off, in cents
    #[arg(long, default_value_t = DEFAULT_TOLERANCE_CENTS, value_name = "CENTS", allow_negative_numbers = true)]
    tolerance: f64,
    /// Whose usual pitches to warn by, where --strings are notes: guitar, koto, ukulele …
    #[arg(long, value_name = "NAME")]
    instrument: Option<String>,
    /// String sets of your own (JSON); may be given several times
    #[arg(long, value_name = "FILE")]
    sets: Vec<PathBuf>,
    /// Show the named sets and where they come from
    #[arg(long)]
    list_sets: bool,
    /// Take the targets from a bulk dump of the MIDI Tuning Standard
    #[arg(long, value_name = "FILE", conflicts_with_all = ["temperament", "root"])]
    dump_in: Option<PathBuf>,
    /// Write the strings as they are to a bulk dump of the MIDI Tuning Standard; without a recording as they should be, in
    /// every octave
    #[arg(long, value_name = "FILE")]
    dump_out: Option<PathBuf>,
    #[command(flatten)]
    report: ReportArgs,
    /// Read raw sound from standard input and print each pluck as it is heard; ends with the page
    #[arg(long, conflicts_with_all = ["files", "json", "report"])]
    live: bool,
    /// With --live: samples a second
    #[arg(long, default_value_t = 44_100, value_parser = clap::value_parser!(u32).range(8_000..=192_000), value_name = "HZ")]
    rate: u32,
    /// With --live: how a sample is written
    #[arg(long, value_enum, default_value = "s16le", value_name = "FORMAT")]
    format: RawFormat,
    /// With --live: 1 for mono, 2 for stereo
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=2), value_name = "NUMBER")]
    channels: u8,
    /// Print JSON, one object a line
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub fn run(args: &TuningArgs) -> ExitStatus {
    super::ended(run_all(args))
}

fn run_all(args: &TuningArgs) -> Result<ExitStatus> {
    let sets = all_sets(&args.sets)?;
    if args.list_sets {
        let mut page = terminal::page();
        write_sets(&sets, &mut page);
        terminal::print(&page.finish())?;
        return Ok(ExitStatus::Done);
    }
    if args.dump_out.is_some() && args.files.len() > 1 {
        return Err(Error::Text(
            "--dump-out writes one dump: give one recording at a time".to_string(),
        ));
    }
    let asked = args.strings.as_deref();
    let intention = asked
        .map(|asked| intention(args, asked, &sets))
        .transpose()?;
    let meant = Meant {
        intention: intention.as_ref(),
        sets: &sets,
    };
    if args.live {
        return live::run(args, &meant).map(|()| ExitStatus::Done);
    }
    if let (true, Some(intention)) = (args.files.is_empty(), &intention) {
        return targets::tell(args, intention).map(|()| ExitStatus::Done);
    }
    let mut status = ExitStatus::Done;
    for file in &args.files {
        status = status.max(answer(args, &meant, file)?);
    }
    Ok(status)
}

/// What the strings should be, if that was said, and the named sets.
struct Meant<'a> {
    intention: Option<&'a Intention>,
    sets: &'a [StringSet],
}

fn all_sets(files: &[PathBuf]) -> Result<Vec<StringSet>> {
    let mut sets = known_sets();
    for file in files {
        let text = read_text(file, MOST_BYTES)?;
        sets.extend(read_sets(&text).map_err(|e| e.at(file))?);
    }
    Ok(sets)
}

/// The strings that were asked for.
fn strings(args: &TuningArgs, asked: &str, named: Option<&StringSet>) -> Result<Vec<StringNote>> {
    let book = Book::with_files(&args.book)?;
    let strings = wished_strings(asked, named, args.meaning, &book, Notation::International);
    strings.map_err(|e| {
        Error::Text(format!(
            "--strings: {e}; or name a set (--list-sets shows them), or of several meanings one with --meaning and its number"
        ))
    })
}

fn intention(args: &TuningArgs, asked: &str, sets: &[StringSet]) -> Result<Intention> {
    let named = find(sets, asked).or_else(|| find_by_letters(sets, asked));
    let strings = strings(args, asked, named)?;
    let own_centre = named.and_then(|set| set.centre.as_deref());
    let centre = match args.centre.as_deref().or(own_centre) {
        Some(text) => note(text, "--centre")?,
        None => strings[0].note,
    };
    let instrument = args
        .instrument
        .as_deref()
        .or(named.map(|set| set.instrument.as_str()));
    if !TOLERANCE_CENTS.contains(&args.tolerance) {
        return Err(Error::Text("--tolerance takes cents from 0 to 50".into()));
    }
    let intention = Intention {
        scheme: scheme(args, asked, &strings, centre)?,
        reference: reference(args)?,
        any_order: args.any_order,
        tolerance_cents: args.tolerance,
        centre,
        usual: instrument.and_then(|name| usual_strings(sets, name)),
        strings,
    };
    intention.reference.check(intention.strings.len())?;
    Ok(intention)
}

fn note(text: &str, option: &str) -> Result<NoteName> {
    parse_note(text, Notation::International).ok_or_else(|| {
        Error::Text(format!(
            "{option} {text:?} is no note: write A to G with # or b"
        ))
    })
}

fn scheme(
    args: &TuningArgs,
    asked: &str,
    strings: &[StringNote],
    centre: NoteName,
) -> Result<Scheme> {
    if let Some(file) = &args.dump_in {
        let dump = Dump::read(&read_file(file, MOST_BYTES)?).map_err(|e| e.at(file))?;
        if !dump.checksum_holds {
            terminal::say(&format!(
                "{}: the dump's checksum is not that of the standard; read all the same",
                file.display()
            ));
        }
        return Ok(Scheme::Dumped(dump));
    }
    let temperament = Temperament::parse(&args.temperament)?;
    if strings.iter().any(|string| string.cents != 0.0) {
        return match temperament {
            Temperament::Equal => Ok(Scheme::InCents(asked.trim().to_string())),
            _ => Err(Error::Text(format!(
                "{}: leave --temperament out",
                word("error.no_temperament")
            ))),
        };
    }
    Ok(Scheme::Tempered {
        temperament,
        root: args
            .root
            .as_deref()
            .map_or(Ok(centre), |text| note(text, "--root"))?,
    })
}

fn reference(args: &TuningArgs) -> Result<Reference> {
    if let Some(string) = args.from_string {
        return Ok(Reference::FromString(string));
    }
    if args.a4 == "auto" {
        return Ok(Reference::Best);
    }
    let hz = args.a4.parse().ok().filter(|hz| A4_HZ.contains(hz));
    hz.map(Reference::A4).ok_or_else(|| {
        Error::Text(format!(
            "--a4 {:?}: write hertz from {} to {}, such as 442, or auto",
            args.a4,
            A4_HZ.start(),
            A4_HZ.end()
        ))
    })
}

fn answer(args: &TuningArgs, meant: &Meant, file: &Path) -> Result<ExitStatus> {
    let name = file.to_string_lossy();
    let heard = super::guarded(|| with_bar(|watch| plucks_input(input(file)?, watch)));
    let said = heard.and_then(|(plucks, warnings)| said(args, meant, &name, &plucks, &warnings));
    match said {
        Ok(text) => {
            terminal::print(&text)?;
            Ok(ExitStatus::Done)
        }
        Err(error) => {
            super::failed(json!({ "file": name }), &name, &error, args.json)?;
            Ok(ExitStatus::Incomplete)
        }
    }
}

/// The answer for these plucks, as it is printed; writes the dump where one is asked for.
fn said(
    args: &TuningArgs,
    meant: &Meant,
    name: &str,
    plucks: &[Pluck],
    warnings: &[String],
) -> Result<String> {
    let Some(intention) = meant.intention else {
        let heard = what_is_it(plucks, meant.sets);
        write_report(args, name, &heard::title(&heard), |own| {
            heard::heard(own, &heard, warnings)
        })?;
        let notes = heard.strings.iter().map(|s| (s.note, s.pluck.hz));
        write_dump(
            args,
            notes.filter_map(|(note, hz)| Some((note?.midi, Some(hz)))),
        )?;
        let report = HeardReport::new(name, &heard, warnings);
        return shown(args, &report, |page| report.write(page));
    };
    let tuning = judge(plucks, intention)?;
    let pitches = tuning.strings.iter();
    write_dump(args, pitches.map(|s| (s.target.midi, s.measured_hz)))?;
    write_report(args, name, word("tuning.strings"), |own| {
        instrument(own, &tuning, warnings)
    })?;
    let report = TuningReport::new(name, &tuning, warnings);
    shown(args, &report, |page| {
        report.write(page);
        if tuning.verdict == Some(Verdict::OtherOrder) {
            page.gap();
            page.paragraph("With --any-order the plucks are judged in whatever order they come.");
        }
    })
}

fn shown(args: &TuningArgs, report: &impl Serialize, write: impl Fn(&mut Page)) -> Result<String> {
    if args.json {
        let line = serde_json::to_string(report);
        return line.map(|line| format!("{line}\n")).map_err(|error| {
            Error::Internal(format!("the answer can't be written as JSON: {error}"))
        });
    }
    let mut page = terminal::page();
    write(&mut page);
    page.gap();
    Ok(page.finish())
}

/// Writes the page on the strings, where that is asked for.
fn write_report(
    args: &TuningArgs,
    name: &str,
    title: &str,
    make: impl FnOnce(&str) -> Html,
) -> Result<()> {
    let file = Path::new(name);
    let own = file.file_name().unwrap_or_default().to_string_lossy();
    let is_one = args.files.len() == 1;
    args.report.fragment(file, is_one, title, |_| make(&own))
}

/// Writes the measured strings, where that is asked for.
fn write_dump(
    args: &TuningArgs,
    pitches: impl IntoIterator<Item = (i32, Option<f64>)>,
) -> Result<()> {
    let Some(file) = &args.dump_out else {
        return Ok(());
    };
    let dump = Dump::of_pitches("whichmode", pitches);
    interrupt::whole(|| std::fs::write(file, dump.write()))
        .map_err(|e| Error::unwritable("the dump can't be written", e).at(file))
}
