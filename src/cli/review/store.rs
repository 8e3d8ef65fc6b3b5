//! Results kept from run to run: a file of JSON Lines, `{"key", "row"}`. The key is made of what the recording holds and
//! of the settings, so that a recording that was renamed is known again and one that was replaced is heard anew.
//!
//! A line is written as soon as its recording is done. A last line that was cut off when the program was stopped is
//! passed over.

use std::collections::HashMap;
use std::fs::{File, OpenOptions};
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::report::review::ReviewRow;

/// Bytes of a recording that are read at a time.
const BLOCK: usize = 1 << 16;

/// A key of a result: hashes of the recording and of the settings.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Key(String);

impl Key {
    /// The key of a file with all settings written as text.
    pub fn of_file(path: &Path, settings: &str) -> Result<Self> {
        let mut file = crate::read::open(path)?;
        let mut content = Fnv::default();
        let mut block = vec![0; BLOCK];
        loop {
            let read = file
                .read(&mut block)
                .map_err(|e| Error::NotReadable(format!("the file can't be read: {e}")))?;
            if read == 0 {
                break;
            }
            content.add(&block[..read]);
        }
        let mut set = Fnv::default();
        set.add(settings.as_bytes());
        Ok(Self(format!("{:032x}-{:032x}", content.0, set.0)))
    }
}

/// The 128-bit FNV-1a hash (G. Fowler, L. C. Noll, K.-P. Vo, D. Eastlake, "The FNV Non-Cryptographic Hash Algorithm",
/// IETF draft); fine for telling recordings apart, no protection against forgery.
struct Fnv(u128);

impl Default for Fnv {
    fn default() -> Self {
        Self(0x6c62_272e_07bb_0142_62b8_2175_6295_c58d)
    }
}

impl Fnv {
    fn add(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.0 =
                (self.0 ^ u128::from(byte)).wrapping_mul(0x0000_0000_0100_0000_0000_0000_0000_013b);
        }
    }
}

#[derive(Serialize, Deserialize)]
struct Line {
    key: Key,
    row: ReviewRow,
}

struct Inner {
    known: HashMap<Key, ReviewRow>,
    file: File,
    fault: Option<String>,
}

/// The results file.
pub struct Store {
    inner: Mutex<Inner>,
}

impl Store {
    /// Opens or makes the file and reads what it holds.
    pub fn open(path: &Path) -> Result<Self> {
        let shown = path.display();
        let fault = |e: std::io::Error| {
            Error::NotReadable(format!("the results file {shown} can't be used: {e}"))
        };
        let mut file = OpenOptions::new()
            .read(true)
            .append(true)
            .create(true)
            .open(path)
            .map_err(fault)?;
        let mut known = HashMap::new();
        let mut lines = 0;
        let mut ends_in_line = true;
        let mut reader = BufReader::new(&file);
        let mut bytes = Vec::new();
        while reader.read_until(b'\n', &mut bytes).map_err(fault)? > 0 {
            ends_in_line = bytes.ends_with(b"\n");
            lines += 1;
            if let Ok(Line { key, row }) = serde_json::from_slice(&bytes) {
                known.insert(key, row);
            }
            bytes.clear();
        }
        if lines > 1 && known.is_empty() {
            return Err(Error::Text(format!(
                "{shown} is no results file of this program: give another name after --results"
            )));
        }
        if !ends_in_line {
            file.seek(SeekFrom::End(0))
                .and_then(|_| file.write_all(b"\n"))
                .map_err(fault)?;
        }
        Ok(Self {
            inner: Mutex::new(Inner {
                known,
                file,
                fault: None,
            }),
        })
    }

    /// A result that is known.
    pub fn get(&self, key: &Key) -> Option<ReviewRow> {
        self.lock().known.get(key).cloned()
    }

    /// Keeps a result.
    pub fn put(&self, key: &Key, row: &ReviewRow) {
        let Ok(mut line) = serde_json::to_string(&Line {
            key: key.clone(),
            row: row.clone(),
        }) else {
            return;
        };
        line.push('\n');
        let mut inner = self.lock();
        if let Err(error) = inner.file.write_all(line.as_bytes()) {
            inner.fault = Some(format!("the results could not all be kept: {error}"));
        }
    }

    /// A sentence on why results could not be kept.
    pub fn fault(&self) -> Option<String> {
        self.lock().fault.clone()
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::Fnv;

    /// Test vectors of the authors' reference code (from memory): the empty text and "a".
    #[test]
    fn the_hash_is_fnv_1a() {
        assert_eq!(Fnv::default().0, 0x6c62272e07bb014262b821756295c58d);
        let mut hash = Fnv::default();
        hash.add(b"a");
        assert_eq!(hash.0, 0xd228cb696f1a8caf78912b704e4a8964);
    }
}
