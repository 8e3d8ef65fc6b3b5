//! Finds WAV files that were never finished, as when a recorder lost its power: the sizes in their header are still
//! those of an empty file, with the sound behind it. Read with sizes that mean "unknown", such a file gives its sound.
//!
//! Source of the layout: *Multimedia Programming Interface and Data Specifications 1.0* (IBM and Microsoft, 1991); that
//! the greatest size means "unknown" is common practice of programs that write into a pipe.

/// A size field: where it stands and what is read there instead of what the file has.
pub(super) type Patch = (u64, [u8; 4]);

const UNKNOWN: [u8; 4] = [0xff; 4];
/// Chunks begin after "RIFF", the size and "WAVE", and have eight bytes before their contents.
const FIRST_CHUNK: usize = 12;
const CHUNK_HEADER: usize = 8;

/// The size fields to be read as unknown; none for a file that is in order or no WAV.
pub(super) fn patches(head: &[u8], length: u64) -> Vec<Patch> {
    if !head.starts_with(b"RIFF") || head.get(8..12) != Some(b"WAVE") {
        return Vec::new();
    }
    let ends_later =
        |at: usize| size_at(head, at).is_some_and(|size| length > at as u64 + 4 + u64::from(size));
    match empty_data_chunk(head) {
        Some(data) if ends_later(4) && ends_later(data + 4) => {
            vec![(4, UNKNOWN), (data as u64 + 4, UNKNOWN)]
        }
        _ => Vec::new(),
    }
}

/// Where the chunk of the samples begins, if it is said to be empty.
fn empty_data_chunk(head: &[u8]) -> Option<usize> {
    let mut at = FIRST_CHUNK;
    loop {
        let size = size_at(head, at + 4)? as usize;
        if head.get(at..at + 4)? == b"data" {
            return (size == 0).then_some(at);
        }
        // Chunks are padded to an even length.
        at = at.checked_add(CHUNK_HEADER + size + size % 2)?;
    }
}

fn size_at(head: &[u8], at: usize) -> Option<u32> {
    head.get(at..at.checked_add(4)?)?
        .try_into()
        .ok()
        .map(u32::from_le_bytes)
}

/// Lays the patches over `bytes`, which were read from `from` on.
pub(super) fn lay_over(patches: &[Patch], from: u64, bytes: &mut [u8]) {
    for (at, patch) in patches {
        for (place, &value) in (*at..).zip(patch) {
            let here = place
                .checked_sub(from)
                .and_then(|k| bytes.get_mut(k as usize));
            if let Some(byte) = here {
                *byte = value;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_an_unfinished_wav_is_patched() {
        let mut head = b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0".to_vec();
        head.extend([0; 16]);
        head.extend(b"data\0\0\0\0");
        assert_eq!(patches(&head, 44), []);
        assert_eq!(patches(&head, 5000), [(4, UNKNOWN), (40, UNKNOWN)]);
        head[4..8].fill(0);
        assert_eq!(patches(&head, 5000).len(), 2);
        // Finished: the RIFF chunk reaches the end of the file, with another chunk behind the empty one.
        head[4..8].copy_from_slice(&4992u32.to_le_bytes());
        assert_eq!(patches(&head, 5000), []);
        head[16..20].fill(0xff);
        assert_eq!(patches(&head, 5000), []);
    }

    #[test]
    fn patches_are_laid_over_any_read() {
        let patch = [(4, UNKNOWN)];
        let mut bytes = [0; 3];
        lay_over(&patch, 6, &mut bytes);
        assert_eq!(bytes, [0xff, 0xff, 0]);
        lay_over(&patch, 100, &mut bytes);
        assert_eq!(bytes, [0xff, 0xff, 0]);
    }
}
