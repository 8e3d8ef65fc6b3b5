//! Results kept from run to run: a file of JSON Lines, `{"key", "row"}`. The key is made of what the recording holds, of
//! the settings and of the program with its models, so that a recording that was renamed is known again, and one that was
//! replaced, or that another program heard, is heard anew.
//!
//! A line is written as soon as its recording is done. A last line that was cut off when the program was stopped is
//! passed over. A file that holds anything else is not touched.

use std::collections::HashMap;
use std::fs::{File, OpenOptions};
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

use serde::{Deserialize, Deserializer, Serialize};

use crate::cli::interrupt;
use crate::error::{Error, Result};
use crate::report::review::ReviewRow;

/// Bytes of a recording that are read at a time.
const BLOCK: usize = 1 << 16;
/// A result's line is far shorter than this, in bytes.
const LONGEST_LINE: u64 = 16 << 20;
/// What every line begins with.
const LINE_START: &[u8] = b"{\"key\":\"";

/// A key of a result: hashes of the recording and of the settings.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Key(String);

impl Key {
    /// The key of a file with all settings written as text.
    pub fn of_file(path: &Path, settings: &str) -> Result<Self> {
        let content = hash_of(path)?;
        let mut set = Fnv::default();
        set.add(settings.as_bytes());
        Ok(Self(format!("{content}-{:032x}", set.0)))
    }
}

/// What stands for this program in the settings: the hash of its file, which holds the fitted models too; where the
/// system does not give that file, the version.
pub fn program() -> String {
    let own = std::env::current_exe().ok();
    own.and_then(|path| hash_of(&path).ok())
        .unwrap_or_else(|| env!("CARGO_PKG_VERSION").to_string())
}

fn hash_of(path: &Path) -> Result<String> {
    let mut file = crate::read::open(path)?;
    let mut content = Fnv::default();
    let mut block = vec![0; BLOCK];
    loop {
        let read = file
            .read(&mut block)
            .map_err(|e| Error::unreadable("The file can't be read", e))?;
        if read == 0 {
            return Ok(format!("{:032x}", content.0));
        }
        content.add(&block[..read]);
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

/// A line of the file; the row is `None` where it is that of a program whose rows had other fields.
#[derive(Serialize, Deserialize)]
struct Line {
    key: Key,
    #[serde(deserialize_with = "row_if_known")]
    row: Option<ReviewRow>,
}

fn row_if_known<'de, D: Deserializer<'de>>(
    row: D,
) -> std::result::Result<Option<ReviewRow>, D::Error> {
    Ok(serde_json::from_value(serde_json::Value::deserialize(row)?).ok())
}

/// Whether a last line without an end is the beginning of a result.
fn is_cut_result(bytes: &[u8]) -> bool {
    let shared = bytes.len().min(LINE_START.len());
    bytes.len() < LONGEST_LINE as usize && bytes[..shared] == LINE_START[..shared]
}

fn foreign(path: &Path) -> Error {
    let sentence = "This is no file of results of this program, so nothing is written to it; give another name.";
    Error::Text(sentence.to_string()).at(path)
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
    ///
    /// # Errors
    /// The file can't be read and written, or holds something that is no result: then it is left as it is.
    pub fn open(path: &Path) -> Result<Self> {
        let fault =
            |e: std::io::Error| Error::unreadable("The file of results can't be used", e).at(path);
        let mut file = OpenOptions::new()
            .read(true)
            .append(true)
            .create(true)
            .open(path)
            .map_err(fault)?;
        let mut known = HashMap::new();
        let (mut whole, mut ends_in_line) = (0, true);
        let mut reader = BufReader::new(&file);
        loop {
            let mut bytes = Vec::new();
            let bounded = (&mut reader)
                .take(LONGEST_LINE)
                .read_until(b'\n', &mut bytes);
            if bounded.map_err(fault)? == 0 {
                break;
            }
            ends_in_line = bytes.ends_with(b"\n");
            match serde_json::from_slice(&bytes) {
                Ok(Line { key, row }) => {
                    known.extend(Some(key).zip(row));
                    whole += bytes.len() as u64;
                }
                Err(_) if !ends_in_line && is_cut_result(&bytes) => {
                    file.set_len(whole).map_err(fault)?;
                    ends_in_line = true;
                    break;
                }
                Err(_) => return Err(foreign(path)),
            }
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
            row: Some(row.clone()),
        }) else {
            return;
        };
        line.push('\n');
        let mut inner = self.lock();
        if let Err(error) = interrupt::whole(|| inner.file.write_all(line.as_bytes())) {
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
