//! Standard MIDI files, and bulk dumps of the MIDI Tuning Standard.
//!
//! A panic of the parser that the library makes an error of its file is let through; one that leaves the library is not.
#![no_main]

libfuzzer_sys::fuzz_target!(
    init: std::panic::set_hook(Box::new(|panic| eprintln!("{panic}"))),
    |bytes: &[u8]| {
        let options = whichmode::Options::default();
        if let Ok(list) = whichmode::notes::symbolic::read_midi(bytes) {
            let _answer = whichmode::identify_notes(&list, &options);
        }
        let _dump = whichmode::tuning::Dump::read(bytes);
    }
);
