//! Standard MIDI files, and bulk dumps of the MIDI Tuning Standard.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let options = whichmode::Options::default();
    if let Ok(list) = whichmode::notes::symbolic::read_midi(bytes) {
        let _answer = whichmode::identify_notes(&list, &options);
    }
    let _dump = whichmode::tuning::Dump::read(bytes);
});
