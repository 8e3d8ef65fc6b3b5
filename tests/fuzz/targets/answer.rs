//! From the bytes of a sound file to the answer.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let options = whichmode::Options::default();
    if let Ok(answer) = whichmode::identify_bytes(bytes.to_vec(), "", &options) {
        assert!(answer.scale.set_confidence.is_finite());
    }
});
