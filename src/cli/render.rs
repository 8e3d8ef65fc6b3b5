//! `whichmode render`: listening material and staves of any scale that can be named, or of what was heard.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use super::staff::StaffFormat;
use super::{ExitStatus, interrupt, terminal};
use crate::answer::{Options, identify};
use crate::error::{Error, Result};
use crate::labels::{Book, Sense};
use crate::modes::NoteName;
use crate::render::as_heard::heard;
use crate::render::files::{Piece, file_name, pieces, places};
use crate::render::line::Layout;
use crate::render::named::{Arrangement, of_sense, scales};
use crate::render::staff::Sheet;
use crate::render::{Instrument, Scale, sound};
use crate::tuning::Temperament;

/// What stands under the help of commands that write sound.
const HELP: &str = "Examples:
  whichmode render \"D Dorian kumoi\" --out listening
  whichmode render --instrument bowed --tempo 60 \"D Dorian kumoi\" \"D Aeolian hirajoshi\" --out listening
  whichmode render --as abc \"D Dorian kumoi\"

Start quietly: turn the volume down before you play a file for the first time, on headphones above all, and turn it \
up until it is comfortable. All files are equally loud (EBU R 128, -23 LUFS).";

/// Write listening material: scales up and down over their centre, as WAV files or as a staff
#[derive(Args)]
#[command(after_help = HELP)]
pub struct RenderArgs {
    /// Scales: a label "D Dorian kumoi", notes "D E F A B", steps "D: 2 1 4 2 3", cents "C (0 200 350 500 700 900 1050)", a name
    /// "D Shivranjani"; one that goes up one way and down another as "D E F G A B C# / D E F G A Bb C"
    #[arg(value_name = "SCALE", required_unless_present = "as_heard")]
    scales: Vec<String>,
    /// The folder to write to
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Play the line of a recording back as it was understood: in tune, note by note
    #[arg(long, value_name = "FILE", conflicts_with = "scales")]
    as_heard: Option<PathBuf>,
    /// Write a staff instead of sound; without --out it is printed
    #[arg(long = "as", value_name = "FORMAT", value_enum)]
    staff: Option<StaffFormat>,
    /// Each scale from the root it is written with; without this all start on the root of the first
    #[arg(long, conflicts_with = "from_common_notes")]
    in_order: bool,
    /// Each scale on the notes of the first, so that only the centre moves
    #[arg(long)]
    from_common_notes: bool,
    #[command(flatten)]
    playing: PlayingArgs,
    /// A label book of your own (JSON); may be given several times
    #[arg(long, value_name = "FILE")]
    book: Vec<PathBuf>,
    /// Read note names as German ones: H, B, Fis, Es
    #[arg(long)]
    german: bool,
}

/// How a line is played, for all commands that write sound.
#[derive(Args)]
pub struct PlayingArgs {
    /// Beats a minute
    #[arg(long, value_name = "BPM", default_value_t = Layout::default().tempo)]
    tempo: f64,
    /// The octave of the centre; 4 begins at middle C
    #[arg(long, value_name = "NUMBER", default_value_t = Layout::default().octave, allow_negative_numbers = true)]
    octave: i32,
    /// The A above middle C in hertz
    #[arg(long, value_name = "HZ", default_value_t = crate::units::STANDARD_A4_HZ, value_parser = super::values::a4)]
    a4: f64,
    /// equal, pythagorean, just, meantone, or cents above the centre: "0 204 316 702 814"
    #[arg(long, value_name = "NAME|CENTS", default_value = "equal")]
    temperament: String,
    /// What it is played on
    #[arg(long, value_enum, default_value_t = InstrumentArg::Plucked)]
    instrument: InstrumentArg,
    /// Leave out the centre that is held beneath the line
    #[arg(long)]
    no_drone: bool,
    /// Write over files that are there already
    #[arg(long)]
    replace: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum InstrumentArg {
    /// A string plucked with the finger
    Plucked,
    /// A bowed string
    Bowed,
    /// A blown pipe
    Blown,
    /// A tone with hardly an overtone
    Pure,
}

impl PlayingArgs {
    fn layout(&self) -> Result<Layout> {
        let layout = Layout {
            tempo: self.tempo,
            octave: self.octave,
            drone: !self.no_drone,
        };
        layout.check()?;
        Ok(layout)
    }

    fn instrument(&self) -> Instrument {
        match self.instrument {
            InstrumentArg::Plucked => Instrument::Plucked,
            InstrumentArg::Bowed => Instrument::Bowed,
            InstrumentArg::Blown => Instrument::Blown,
            InstrumentArg::Pure => Instrument::Pure,
        }
    }

    /// Writes the scales as sound, one file each and one with all in a row, and says what was written.
    pub fn write(&self, scales: &[Scale], folder: &Path) -> Result<()> {
        self.write_pieces(&self.pieces(scales)?, folder)
    }

    /// Writes every meaning of a name from one root, in the order in which they are told.
    pub fn write_senses(&self, senses: &[Sense], root: NoteName, folder: &Path) -> Result<()> {
        let scales: Vec<Scale> = senses.iter().map(|sense| of_sense(sense, root)).collect();
        self.write(&scales, folder)
    }

    fn pieces(&self, scales: &[Scale]) -> Result<Vec<Piece>> {
        let temperament = Temperament::parse(&self.temperament)?;
        let tempered: Vec<Scale> = scales
            .iter()
            .map(|scale| scale.tempered(&temperament))
            .collect::<Result<_>>()?;
        Ok(pieces(&tempered, &self.layout()?))
    }

    /// Writes the scales as staves to a folder; a single one is printed where there is none.
    fn write_staves(
        &self,
        scales: &[Scale],
        format: StaffFormat,
        folder: Option<&Path>,
    ) -> Result<()> {
        let pieces = self.pieces(scales)?;
        let sheet =
            |piece: &Piece| Sheet::new(&piece.title, piece.version.as_ref(), &piece.line, false);
        let Some(folder) = folder else {
            let [piece] = pieces.as_slice() else {
                return Err(Error::Text(
                    "several scales are several files: add --out DIR".into(),
                ));
            };
            return format.print(&sheet(piece), &piece.line);
        };
        let paths = places(folder, &pieces, format.ending(), self.replace)?;
        for (piece, path) in pieces.iter().zip(&paths) {
            format.write(&sheet(piece), &piece.line, path, self.replace)?;
        }
        let rows = pieces.iter().zip(&paths);
        let rows: Vec<Vec<String>> = rows
            .map(|(piece, path)| vec![path.display().to_string(), piece.title.clone()])
            .collect();
        let mut page = terminal::page();
        page.table(&rows, 0);
        terminal::print(&page.finish())
    }

    fn write_pieces(&self, pieces: &[Piece], folder: &Path) -> Result<()> {
        let paths = places(folder, pieces, "wav", self.replace)?;
        let mut rows = Vec::new();
        for (piece, path) in pieces.iter().zip(&paths) {
            let samples = sound::samples(&piece.line, self.instrument(), self.a4)?;
            interrupt::whole(|| sound::write_wav(path, &samples))?;
            let seconds = samples.len() as f64 / f64::from(sound::RATE_HZ);
            rows.push(vec![
                path.display().to_string(),
                format!("{seconds:.0} s"),
                piece.title.clone(),
            ]);
        }
        let mut page = terminal::page();
        page.table(&rows, 0);
        page.paragraph("Start quietly.");
        terminal::print(&page.finish())
    }
}

/// Runs the command.
pub fn run(args: &RenderArgs) -> ExitStatus {
    super::ended(answer(args).map(|()| ExitStatus::Done))
}

fn answer(args: &RenderArgs) -> Result<()> {
    let book = Book::with_files(&args.book)?;
    let arrangement = match (args.in_order, args.from_common_notes) {
        (true, _) => Arrangement::AsWritten,
        (_, true) => Arrangement::CommonNotes,
        _ => Arrangement::SameRoot,
    };
    let scales = scales(
        &args.scales,
        arrangement,
        &book,
        super::notation(args.german),
    )?;
    match (args.staff, &args.out, &args.as_heard) {
        (None, None, _) => Err(Error::Text(
            "--out DIR is missing: say where to write".into(),
        )),
        (None, Some(folder), None) => args.playing.write(&scales, folder),
        (None, Some(folder), Some(file)) => args
            .playing
            .write_pieces(&[as_heard(file, !args.playing.no_drone)?], folder),
        (Some(format), folder, None) => {
            args.playing
                .write_staves(&scales, format, folder.as_deref())
        }
        (Some(_), _, Some(_)) => Err(Error::Text(
            "for a staff of what was heard ask whichmode identify FILE --as musicxml, abc or midi"
                .into(),
        )),
    }
}

/// The line of a recording or score, as it was understood.
fn as_heard(file: &Path, drone: bool) -> Result<Piece> {
    let answer = identify(file, &Options::default())?;
    let heard = heard(&answer, drone).map_err(|error| error.at(file))?;
    let name = file.file_stem().unwrap_or_default().to_string_lossy();
    Ok(Piece {
        stem: format!("{}-as-heard", file_name(&name)),
        title: heard.title(),
        version: heard.signed(),
        line: heard.line,
    })
}
