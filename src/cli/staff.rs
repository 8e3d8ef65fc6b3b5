//! Writing a staff: to a file, or to standard output.

use std::io::IsTerminal;
use std::path::Path;

use clap::ValueEnum;

use super::{interrupt, terminal};
use crate::error::{Error, Result};
use crate::render::Line;
use crate::render::files::in_the_way;
use crate::render::staff::{Sheet, abc, midi, musicxml};

/// What a staff is written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum StaffFormat {
    /// MusicXML 4.0
    Musicxml,
    /// ABC 2.1
    Abc,
    /// A standard MIDI file
    Midi,
}

impl StaffFormat {
    /// The usual ending of a file's name.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Musicxml => "musicxml",
            Self::Abc => "abc",
            Self::Midi => "mid",
        }
    }

    fn bytes(self, sheet: &Sheet, line: &Line) -> Result<Vec<u8>> {
        match self {
            Self::Musicxml => Ok(musicxml::write(sheet).into_bytes()),
            Self::Abc => Ok(abc::write(sheet).into_bytes()),
            Self::Midi => midi::write(sheet, line),
        }
    }

    /// Writes to a file; one that is there is left alone unless `replace`.
    pub fn write(self, sheet: &Sheet, line: &Line, path: &Path, replace: bool) -> Result<()> {
        if path.exists() && !replace {
            return Err(in_the_way(path));
        }
        let bytes = self.bytes(sheet, line)?;
        interrupt::whole(|| std::fs::write(path, bytes))
            .map_err(|e| Error::unwritable("the staff can't be written", e).at(path))
    }

    /// Prints; a MIDI file only to another program.
    pub fn print(self, sheet: &Sheet, line: &Line) -> Result<()> {
        let bytes = self.bytes(sheet, line)?;
        if self != Self::Midi {
            return terminal::print(&String::from_utf8_lossy(&bytes));
        }
        if std::io::stdout().is_terminal() {
            return Err(Error::Text(
                "a MIDI file is no text: name the place for it with --out".into(),
            ));
        }
        terminal::print_bytes(&bytes)
    }
}
