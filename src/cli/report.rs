//! Reports that are looked at, listened to and printed: HTML files beside what the command prints.

use std::path::{Path, PathBuf};

use clap::Args;

use super::interrupt;
use crate::answer::Answer;
use crate::error::{Error, ErrorKind, Result};
use crate::modes::Notation;
use crate::read::read_file;
use crate::render::neck::strings;
use crate::report::html::Html;
use crate::report::html::class::{Submission, class};
use crate::report::html::document::{Sound, document, media_type};
use crate::report::html::recording::{Drawing, recording, title};
use crate::report::html::sheet::sheet;
use crate::report::identify::Identify;
use crate::report::review::ReviewRow;
use crate::report::words::{phrase, word};
use crate::tuning::StringNote;

/// A recording larger than this, in bytes, is not put into a report: mail and browsers bear no more.
const MOST_EMBEDDED: u64 = 24 << 20;
/// Letters of a recording's name that a sheet's file name keeps.
const LONGEST_NAME: usize = 60;

/// Where the report on recordings goes.
#[derive(Args, Clone)]
pub struct ReportArgs {
    /// Also write a page to look at, listen to and print; of several recordings each has its own, FILE-name.html
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// Link the report to the recordings where they lie instead of putting the sound into it
    #[arg(long, requires = "report")]
    link_audio: bool,
}

/// On whose neck a report shows scales.
#[derive(Args, Clone)]
pub struct NeckArgs {
    /// Strings on whose neck the report shows the scale: a named set such as "guitar standard", DADGAD, or notes
    #[arg(long, value_name = "NOTES|SET", requires = "report")]
    strings: Option<String>,
}

impl NeckArgs {
    /// The strings; none where none are given.
    ///
    /// # Errors
    /// They can't be read, or have no neck.
    pub fn strings(&self, notation: Notation) -> Result<Vec<StringNote>> {
        let text = self.strings.as_deref().unwrap_or_default();
        strings(text, notation).map_err(|e| Error::Text(format!("--strings: {e}")))
    }
}

impl ReportArgs {
    /// Whether there is to be one.
    pub fn is_wanted(&self) -> bool {
        self.report.is_some()
    }

    /// Writes the report on a recording, if it is wanted.
    ///
    /// # Errors
    /// It can't be written, or the recording is too large to be put into it.
    pub fn recording(
        &self,
        path: &Path,
        is_one: bool,
        row: &Identify,
        answer: &Answer,
        strings: &[StringNote],
    ) -> Result<()> {
        self.fragment(path, is_one, &title(row), |sound| {
            recording(row, &Drawing::new(answer).on(strings.to_vec()), sound)
        })
    }

    /// Writes any fragment about a recording, if it is wanted. It is made with the link to the sound, if there is to be one.
    ///
    /// # Errors
    /// As [`ReportArgs::recording`].
    pub fn fragment(
        &self,
        path: &Path,
        is_one: bool,
        title: &str,
        make: impl FnOnce(Option<&str>) -> Html,
    ) -> Result<()> {
        let Some(target) = &self.report else {
            return Ok(());
        };
        let target = match is_one {
            true => target.clone(),
            false => beside(target, path),
        };
        let link = link(&target, path, self.link_audio);
        let name = file_name(path);
        let title = phrase("report.title", &[("title", title), ("name", &name)]);
        write_with_sound(
            &target,
            path,
            link.as_deref(),
            &title,
            &make(link.as_deref()),
        )
    }
}

/// The report on a class: an overview and a sheet for each recording, in one folder.
pub struct ClassReport {
    folder: PathBuf,
    link_audio: bool,
    strings: Vec<StringNote>,
    told: Vec<Told>,
}

struct Told {
    name: String,
    path: Option<PathBuf>,
    result: std::result::Result<ReviewRow, String>,
}

impl ClassReport {
    /// An empty report in a folder, which is made.
    ///
    /// # Errors
    /// The folder can't be made.
    pub fn new(folder: &Path, link_audio: bool, strings: Vec<StringNote>) -> Result<Self> {
        std::fs::create_dir_all(folder)
            .map_err(|e| Error::unwritable("the report's folder can't be made", e).at(folder))?;
        Ok(Self {
            folder: folder.to_path_buf(),
            link_audio,
            strings,
            told: Vec::new(),
        })
    }

    /// Adds a submission; its sheet is written when all are known.
    pub fn add(&mut self, name: &str, path: Option<&Path>, result: &Result<ReviewRow>) {
        self.told.push(Told {
            name: name.to_string(),
            path: path.map(Path::to_path_buf),
            result: match result {
                Ok(row) => Ok(row.clone()),
                Err(error) => Err(error.sentence()),
            },
        });
    }

    /// Writes the overview, `index.html`, and the sheets.
    ///
    /// # Errors
    /// A file can't be written, or a recording is too large to be put into its sheet.
    pub fn write(&self) -> Result<()> {
        let mut shown: Vec<Submission> = Vec::new();
        let common = self.common_folder();
        for (k, told) in self.told.iter().enumerate() {
            let name = told.name.strip_prefix(&common).unwrap_or(&told.name);
            let sheet_name = sheet_name(k, name);
            self.write_sheet(told, name, &self.folder.join(&sheet_name))?;
            shown.push(Submission {
                file: name,
                result: told.result.as_ref().map_err(String::as_str),
                sound: self.link(told),
                sheet: Some(sheet_name),
                strings: &self.strings,
            });
        }
        let text = document(word("report.class"), &class(&shown), Sound::Left);
        write(&self.folder.join("index.html"), &text)
    }

    /// The folder that all recordings lie in, with the slash behind it: sheets go to students, whom it does not concern.
    fn common_folder(&self) -> String {
        let mut names = self.told.iter().map(|told| told.name.as_str());
        let first = names.next().unwrap_or_default();
        let folder = |name: &str| name.rfind('/').map_or(0, |at| at + 1);
        let mut common = &first[..folder(first)];
        for name in names {
            while !name.starts_with(common) {
                common = &common[..folder(&common[..common.len() - 1])];
            }
        }
        common.to_string()
    }

    fn link(&self, told: &Told) -> Option<String> {
        let path = told.path.as_deref()?;
        link(&self.folder.join("index.html"), path, self.link_audio)
    }

    fn write_sheet(&self, told: &Told, name: &str, target: &Path) -> Result<()> {
        let link = self.link(told);
        let fragment = sheet(&Submission {
            file: name,
            result: told.result.as_ref().map_err(String::as_str),
            sound: link.clone(),
            sheet: None,
            strings: &self.strings,
        });
        match &told.path {
            Some(path) if told.result.is_ok() => {
                write_with_sound(target, path, link.as_deref(), name, &fragment)
            }
            _ => write(target, &document(name, &fragment, Sound::Left)),
        }
    }
}

/// A sheet's file name: the place in the class, and what of the recording's name every system bears.
fn sheet_name(place: usize, name: &str) -> String {
    let stem = Path::new(name).file_stem().unwrap_or_default();
    let plain = |c: char| {
        if c.is_alphanumeric() || c == '-' {
            c
        } else {
            '_'
        }
    };
    let stem: String = stem
        .to_string_lossy()
        .chars()
        .take(LONGEST_NAME)
        .map(plain)
        .collect();
    format!("{:03}-{stem}.html", place + 1)
}

/// Writes a fragment as a whole file: with a link to the sound, else with the sound in it; standard input has none.
fn write_with_sound(
    target: &Path,
    recording: &Path,
    link: Option<&str>,
    title: &str,
    fragment: &Html,
) -> Result<()> {
    let text = match link {
        _ if recording == Path::new("-") => document(title, fragment, Sound::Left),
        Some(link) => document(title, fragment, Sound::Linked(link)),
        None => {
            let bytes = read_file(recording, MOST_EMBEDDED).map_err(too_large)?;
            let kind = media_type(&file_name(recording));
            document(title, fragment, Sound::Embedded(&bytes, kind))
        }
    };
    write(target, &text)
}

fn too_large(error: Error) -> Error {
    match error.kind() {
        ErrorKind::TooLong => Error::TooLong(
            "The recording is too large to be put into a report: add --link-audio.".into(),
        ),
        _ => error,
    }
}

fn write(target: &Path, text: &str) -> Result<()> {
    interrupt::whole(|| std::fs::write(target, text))
        .map_err(|e| Error::unwritable("the report can't be written", e).at(target))
}

/// "report.html" and "take 2.flac" make "report-take 2.html".
fn beside(target: &Path, recording: &Path) -> PathBuf {
    let stem = |path: &Path| {
        let stem = path.file_stem().unwrap_or_default();
        stem.to_string_lossy().into_owned()
    };
    target.with_file_name(format!("{}-{}.html", stem(target), stem(recording)))
}

fn file_name(path: &Path) -> String {
    let name = path.file_name().unwrap_or_default();
    name.to_string_lossy().into_owned()
}

/// The address of a recording from where the report lies, if it is to be linked. What addresses may not hold is written
/// in hexadecimal (RFC 3986).
fn link(target: &Path, recording: &Path, is_wanted: bool) -> Option<String> {
    if !is_wanted || recording == Path::new("-") {
        return None;
    }
    let whole = std::fs::canonicalize(recording).unwrap_or_else(|_| recording.to_path_buf());
    let folder = target.parent().filter(|p| !p.as_os_str().is_empty());
    let folder = std::fs::canonicalize(folder.unwrap_or(Path::new("."))).ok();
    let near = folder.and_then(|f| whole.strip_prefix(f).ok().map(Path::to_path_buf));
    let (path, scheme) = match near {
        Some(near) => (near, ""),
        None => (whole, "file://"),
    };
    let is_plain = |b: u8| b.is_ascii_alphanumeric() || b"-._~/".contains(&b);
    let escaped: String = path
        .to_string_lossy()
        .bytes()
        .map(|b| match is_plain(b) {
            true => char::from(b).to_string(),
            false => format!("%{b:02X}"),
        })
        .collect();
    Some(format!("{scheme}{escaped}"))
}
