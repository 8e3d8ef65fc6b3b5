//! Files of listening material: names that sort, one file for each scale and one with all in a row.

use std::path::{Path, PathBuf};

use super::line::{Layout, Line};
use super::scale::Scale;
use crate::error::{Error, Result};
use crate::modes::Version;

/// Letters of a file's name at the most, so that every file system takes it.
const LONGEST_NAME: usize = 60;

/// One thing to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// The file's name without its ending.
    pub stem: String,
    /// What it holds, in words.
    pub title: String,
    /// What is played.
    pub line: Line,
    /// The version whose key signature a staff takes, where it is one.
    pub version: Option<Version>,
}

/// A piece for each scale, and where there are several one with all in a row, first.
pub fn pieces(scales: &[Scale], layout: &Layout) -> Vec<Piece> {
    let lines: Vec<Line> = scales.iter().map(|s| Line::of(s, layout)).collect();
    let several = scales.len() > 1;
    let row = several.then(|| Piece {
        stem: "00-all-in-a-row".into(),
        title: "all in a row".into(),
        line: Line::in_a_row(&lines, layout),
        version: None,
    });
    let each = scales.iter().zip(lines).enumerate();
    let each = each.map(|(k, (scale, line))| Piece {
        stem: if several {
            format!("{:02}-{}", k + 1, file_name(&scale.title))
        } else {
            file_name(&scale.title)
        },
        title: scale.title.clone(),
        line,
        version: scale.version.filter(|_| !scale.has_two_forms()),
    });
    row.into_iter().chain(each).collect()
}

/// A title as a file's name: letters, digits and hyphens that every system takes.
pub fn file_name(title: &str) -> String {
    let spoken = title.replace(['#', '♯'], "-sharp-");
    let plain = spoken
        .chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' });
    let mut name = String::new();
    for c in plain {
        if c != '-' || !(name.is_empty() || name.ends_with('-')) {
            name.push(c);
        }
    }
    name.truncate(LONGEST_NAME);
    name.trim_end_matches('-').to_string()
}

/// The paths of the pieces in a folder, which is made if need be. A file that is there is not overwritten unless `replace`.
///
/// # Errors
/// [`Error::NotWritable`] where the folder can't be made, [`Error::Text`] where a file is in the way.
pub fn places(
    folder: &Path,
    pieces: &[Piece],
    ending: &str,
    replace: bool,
) -> Result<Vec<PathBuf>> {
    std::fs::create_dir_all(folder)
        .map_err(|e| Error::unwritable("the folder can't be made", e).at(folder))?;
    let path = |piece: &Piece| folder.join(format!("{}.{ending}", piece.stem));
    let paths: Vec<PathBuf> = pieces.iter().map(path).collect();
    match paths.iter().find(|path| !replace && path.exists()) {
        Some(path) => Err(in_the_way(path)),
        None => Ok(paths),
    }
}

/// That a file is there already.
pub fn in_the_way(path: &Path) -> Error {
    Error::Text(format!(
        "{} is there already: add --replace to write over it, or name another place",
        path.display()
    ))
}
