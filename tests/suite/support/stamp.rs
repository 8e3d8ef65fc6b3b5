//! The line by which a generated table vouches for its numbers: a hash over everything below its header.

/// What the line of the header says before the hash.
pub const NUMBERS: &str = "//! Hash of the table below (FNV-1a): ";

/// FNV-1a with 64 bits (G. Fowler, L. C. Noll, K.-P. Vo, 1991).
pub fn fnv1a(bytes: impl IntoIterator<Item = u8>) -> u64 {
    bytes.into_iter().fold(0xcbf2_9ce4_8422_2325, |h, b| {
        (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3)
    })
}

/// The hash of a table: of all below the header but white space, which a formatter may change.
pub fn hash_of_table(text: &str) -> u64 {
    let below = text.lines().filter(|line| !line.starts_with("//!"));
    fnv1a(
        below
            .flat_map(str::bytes)
            .filter(|b| !b.is_ascii_whitespace()),
    )
}

/// A header of whole lines and a table below it, with the line that vouches for the table between them.
pub fn stamped(header: &str, table: &str) -> String {
    format!(
        "{header}//!\n{NUMBERS}{:016x}.\n\n{table}",
        hash_of_table(table)
    )
}
