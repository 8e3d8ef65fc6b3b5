//! Strings, sets of strings, temperaments.
#![no_main]

libfuzzer_sys::fuzz_target!(|text: &str| {
    let _strings = whichmode::tuning::parse_notes(text);
    let _sets = whichmode::tuning::read_sets(text);
    let _temperament = whichmode::tuning::Temperament::parse(text);
});
