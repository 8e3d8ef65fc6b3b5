//! What is compared.

use crate::modes::Version;

/// One of the things that are compared.
#[derive(Debug, Clone)]
pub struct Item {
    /// As it was typed, or the path of a recording.
    pub input: String,
    /// What it is, as it sounds.
    pub version: Version,
}
