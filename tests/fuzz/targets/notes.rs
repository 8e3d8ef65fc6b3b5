//! Note lists, one a line.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let options = whichmode::Options::default();
    for (_, list) in whichmode::notes::symbolic::read_lines(bytes) {
        let _answer = list.and_then(|named| whichmode::identify_notes(&named.notes, &options));
    }
});
