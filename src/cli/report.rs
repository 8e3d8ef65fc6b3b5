//! Reports that are looked at and listened to: one HTML file beside what the command prints.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::answer::Answer;
use crate::error::{Error, Result};
use crate::read::read_file;
use crate::report::html::Html;
use crate::report::html::document::{Sound, document, media_type};
use crate::report::html::recording::{Drawing, recording, title};
use crate::report::html::words::phrase;
use crate::report::identify::Identify;

/// A recording larger than this, in bytes, is not put into a report: mail and browsers bear no more.
const MOST_EMBEDDED: u64 = 24 << 20;

/// Where a report goes.
#[derive(Args, Clone)]
pub struct ReportArgs {
    /// Also write a page to look at, listen to and print; with several recordings one FILE for all
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// Link the report to the recordings where they lie instead of putting the sound into it
    #[arg(long, requires = "report")]
    link_audio: bool,
}

impl ReportArgs {
    /// Whether there is to be one.
    pub fn is_wanted(&self) -> bool {
        self.report.is_some()
    }

    /// Writes the report on a recording, if it is wanted; of several recordings each has its file, with its number.
    pub fn recording(
        &self,
        path: &Path,
        count: usize,
        row: &Identify,
        answer: &Answer,
    ) -> Result<()> {
        let Some(target) = &self.report else {
            return Ok(());
        };
        let target = if count > 1 {
            beside(target, path)
        } else {
            target.clone()
        };
        let fragment = recording(row, &Drawing::new(answer), None);
        let name = file_name(path);
        let title = phrase("report.title", &[("title", &title(row)), ("name", &name)]);
        self.write(&target, path, &title, &fragment)
    }

    /// Writes a fragment as a whole file, with the sound of `recording`.
    pub fn write(
        &self,
        target: &Path,
        recording: &Path,
        title: &str,
        fragment: &Html,
    ) -> Result<()> {
        let name = file_name(recording);
        let text = if recording == Path::new("-") {
            document(title, fragment, Sound::Left)
        } else if self.link_audio {
            document(title, fragment, Sound::Linked(&address(target, recording)))
        } else {
            let bytes = read_file(recording, MOST_EMBEDDED).map_err(|e| match e {
                e if matches!(e.kind(), crate::error::ErrorKind::TooLong) => Error::TooLong(
                    "the recording is too large to be put into a report: add --link-audio".into(),
                ),
                e => e,
            })?;
            document(title, fragment, Sound::Embedded(&bytes, media_type(&name)))
        };
        write(target, &text)
    }
}

/// Writes a file; a full disk or a folder that is not there is told.
pub fn write(target: &Path, text: &str) -> Result<()> {
    std::fs::write(target, text)
        .map_err(|e| Error::unreadable("The report can't be written", e).at(target))
}

/// "report.html" and "take 2.flac" make "report-take 2.html".
fn beside(target: &Path, recording: &Path) -> PathBuf {
    let part = |path: &Path| {
        path.file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned()
    };
    target.with_file_name(format!("{}-{}.html", part(target), part(recording)))
}

fn file_name(path: &Path) -> String {
    path.file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned()
}

/// The address of a recording from where the report lies, with what addresses may not hold written in hexadecimal
/// (RFC 3986).
pub fn address(target: &Path, recording: &Path) -> String {
    let whole = std::fs::canonicalize(recording).unwrap_or_else(|_| recording.to_path_buf());
    let folder = target.parent().filter(|p| !p.as_os_str().is_empty());
    let folder = std::fs::canonicalize(folder.unwrap_or(Path::new("."))).ok();
    let (path, prefix) =
        match folder.and_then(|f| whole.strip_prefix(f).ok().map(Path::to_path_buf)) {
            Some(near) => (near, ""),
            None => (whole, "file://"),
        };
    let plain = |b: u8| b.is_ascii_alphanumeric() || b"-._~/".contains(&b);
    let escaped: String = path
        .to_string_lossy()
        .bytes()
        .map(|b| {
            if plain(b) {
                char::from(b).to_string()
            } else {
                format!("%{b:02X}")
            }
        })
        .collect();
    format!("{prefix}{escaped}")
}
