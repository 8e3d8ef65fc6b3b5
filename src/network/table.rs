//! Files of fitted numbers.
//!
//! A file says what its numbers are, where they come from and which features they were fitted on, in which order; a
//! file that was cut, changed by hand or fitted on other features is refused. All numbers are little-endian:
//!
//! | what | how |
//! | --- | --- |
//! | magic | [`MAGIC`] |
//! | hash of the numbers, hash of the feature names | 64 bits each, FNV-1a (G. Fowler, L. C. Noll, K.-P. Vo, 1991) |
//! | where the numbers come from | 32 bits of length, UTF-8 |
//! | how many parts | 32 bits |
//! | each part | name (32 bits of length, UTF-8), rows and columns (32 bits each) |
//! | the numbers of all parts, row by row | 32-bit floating point (IEEE 754) |

use thiserror::Error;

/// What every file of fitted numbers begins with.
pub const MAGIC: [u8; 8] = *b"wm-net 1";

/// Why a file of fitted numbers can't be used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TableError {
    /// It does not begin with the magic.
    #[error("this is no table of fitted numbers, or one of another version")]
    Magic,
    /// It ends too early, goes on too long or has a name that is no text.
    #[error("the table of fitted numbers was cut or lengthened")]
    Length,
    /// The numbers are not those that were written.
    #[error("the numbers of the table are not those that were fitted; write the table again")]
    Numbers,
    /// The features were others, or in another order.
    #[error(
        "the table was fitted on other features, or on these in another order; fit it again, or restore their order"
    )]
    Features,
    /// A part is missing.
    #[error("the table has no part \u{201c}{0}\u{201d}")]
    Missing(String),
    /// A part has another shape than the program expects.
    #[error("the part \u{201c}{0}\u{201d} of the table has another shape than the program expects")]
    Shape(String),
}

/// One part of a table: numbers row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What it is called.
    pub name: String,
    /// How many rows.
    pub rows: usize,
    /// How many columns.
    pub columns: usize,
    /// Its numbers.
    pub numbers: Vec<f32>,
}

/// Fitted numbers and where they come from.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The program and the data that they were fitted with.
    pub provenance: String,
    /// In the order of the file.
    pub parts: Vec<Part>,
}

impl Table {
    /// Reads a table that was fitted on features of these names, in this order.
    pub fn read(
        bytes: &[u8],
        features: impl IntoIterator<Item: AsRef<str>>,
    ) -> Result<Self, TableError> {
        let rest = bytes.strip_prefix(&MAGIC).ok_or(TableError::Magic)?;
        let mut reader = Reader { rest };
        let (numbers, names) = (reader.hash()?, reader.hash()?);
        let provenance = reader.text()?;
        let count = reader.number()?;
        let mut parts = (0..count)
            .map(|_| reader.head())
            .collect::<Result<Vec<Part>, TableError>>()?;
        if fnv1a(reader.rest.iter().copied()) != numbers {
            return Err(TableError::Numbers);
        }
        if hash_of_names(features) != names {
            return Err(TableError::Features);
        }
        for part in &mut parts {
            part.numbers = reader.floats(part.rows, part.columns)?;
        }
        if !reader.rest.is_empty() {
            return Err(TableError::Length);
        }
        Ok(Self { provenance, parts })
    }

    /// The numbers of a part, which must have this shape.
    pub fn part(&self, name: &str, rows: usize, columns: usize) -> Result<&[f32], TableError> {
        let found = self.find(name)?;
        if (found.rows, found.columns) == (rows, columns) {
            Ok(&found.numbers)
        } else {
            Err(TableError::Shape(name.to_string()))
        }
    }

    /// The part of this name.
    pub fn find(&self, name: &str) -> Result<&Part, TableError> {
        let found = self.parts.iter().find(|part| part.name == name);
        found.ok_or_else(|| TableError::Missing(name.to_string()))
    }

    /// The file of these numbers, fitted on features of these names.
    #[cfg(feature = "fitting")]
    pub fn bytes(&self, features: impl IntoIterator<Item: AsRef<str>>) -> Vec<u8> {
        let numbers = self.parts.iter().flat_map(|part| &part.numbers);
        let numbers: Vec<u8> = numbers.flat_map(|x| x.to_le_bytes()).collect();
        let mut bytes = MAGIC.to_vec();
        bytes.extend(fnv1a(numbers.iter().copied()).to_le_bytes());
        bytes.extend(hash_of_names(features).to_le_bytes());
        put_text(&mut bytes, &self.provenance);
        put_number(&mut bytes, self.parts.len());
        for part in &self.parts {
            put_text(&mut bytes, &part.name);
            put_number(&mut bytes, part.rows);
            put_number(&mut bytes, part.columns);
        }
        bytes.extend(numbers);
        bytes
    }
}

/// What is left of a file.
struct Reader<'a> {
    rest: &'a [u8],
}

impl<'a> Reader<'a> {
    fn take(&mut self, count: usize) -> Result<&'a [u8], TableError> {
        let (taken, rest) = self
            .rest
            .split_at_checked(count)
            .ok_or(TableError::Length)?;
        self.rest = rest;
        Ok(taken)
    }

    fn hash(&mut self) -> Result<u64, TableError> {
        let (bytes, rest) = self.rest.split_first_chunk().ok_or(TableError::Length)?;
        self.rest = rest;
        Ok(u64::from_le_bytes(*bytes))
    }

    fn number(&mut self) -> Result<usize, TableError> {
        let (bytes, rest) = self.rest.split_first_chunk().ok_or(TableError::Length)?;
        self.rest = rest;
        usize::try_from(u32::from_le_bytes(*bytes)).map_err(|_| TableError::Length)
    }

    fn text(&mut self) -> Result<String, TableError> {
        let length = self.number()?;
        let text = str::from_utf8(self.take(length)?).map_err(|_| TableError::Length)?;
        Ok(text.to_string())
    }

    /// A part without its numbers.
    fn head(&mut self) -> Result<Part, TableError> {
        Ok(Part {
            name: self.text()?,
            rows: self.number()?,
            columns: self.number()?,
            numbers: Vec::new(),
        })
    }

    fn floats(&mut self, rows: usize, columns: usize) -> Result<Vec<f32>, TableError> {
        let count = rows.checked_mul(columns).and_then(|n| n.checked_mul(4));
        let bytes = self.take(count.ok_or(TableError::Length)?)?;
        let floats = bytes.as_chunks().0.iter();
        Ok(floats.map(|four| f32::from_le_bytes(*four)).collect())
    }
}

#[cfg(feature = "fitting")]
fn put_number(bytes: &mut Vec<u8>, number: usize) {
    let number = u32::try_from(number).expect("tables are smaller than four thousand million");
    bytes.extend(number.to_le_bytes());
}

#[cfg(feature = "fitting")]
fn put_text(bytes: &mut Vec<u8>, text: &str) {
    put_number(bytes, text.len());
    bytes.extend(text.as_bytes());
}

/// The hash of names in their order, each closed by a zero.
fn hash_of_names(names: impl IntoIterator<Item: AsRef<str>>) -> u64 {
    names.into_iter().fold(EMPTY, |hash, name| {
        let bytes = name.as_ref().bytes().chain([0]);
        hashed_on(hash, bytes)
    })
}

/// FNV-1a with 64 bits.
pub fn fnv1a(bytes: impl IntoIterator<Item = u8>) -> u64 {
    hashed_on(EMPTY, bytes)
}

/// The hash of nothing.
const EMPTY: u64 = 0xcbf2_9ce4_8422_2325;

fn hashed_on(hash: u64, bytes: impl IntoIterator<Item = u8>) -> u64 {
    let step = |h: u64, b: u8| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3);
    bytes.into_iter().fold(hash, step)
}
