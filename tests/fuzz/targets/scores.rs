//! Standard MIDI files, note lists, bulk dumps of the MIDI Tuning Standard.
#![no_main]

use whichmode::notes::symbolic::{read_lines, read_midi};
use whichmode::tuning::Dump;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let options = whichmode::Options::default();
    if let Ok(list) = read_midi(bytes) {
        let _answer = whichmode::identify_notes(&list, &options);
    }
    for (_, list) in read_lines(bytes) {
        let _answer = list.and_then(|named| whichmode::identify_notes(&named.notes, &options));
    }
    let _dump = Dump::read(bytes);
});
