//! From the bytes of a sound file to the answer.
//!
//! A panic of a decoder that the library makes an error of its file is let through; one that leaves the library is not.
#![no_main]

libfuzzer_sys::fuzz_target!(
    init: std::panic::set_hook(Box::new(|panic| eprintln!("{panic}"))),
    |bytes: &[u8]| {
        let options = whichmode::Options::default();
        if let Ok(answer) = whichmode::identify_bytes(bytes.to_vec(), "", &options) {
            assert!((0.0..=1.0).contains(&answer.scale.set_confidence));
        }
    }
);
