//! What the strings should be, where there is no recording to hold against it: told, and carried out to other machines.

use super::{TuningArgs, write_dump};
use crate::cli::terminal;
use crate::error::{Error, Result};
use crate::report::tuning::TuningReport;
use crate::report::words::word;
use crate::tuning::{Intention, Reference, StringNote, judge};
use crate::units::cents_between;

/// MIDI keys.
const KEYS: i32 = 128;

/// Prints the targets, and writes them to the dump where one is asked for.
pub fn tell(args: &TuningArgs, intention: &Intention) -> Result<()> {
    let Reference::A4(a4_hz) = intention.reference else {
        return Err(Error::Text(
            "without a recording the A4 must be given in hertz, such as --a4 442".into(),
        ));
    };
    let targets_hz = intention.scheme.targets_hz(&intention.strings, a4_hz)?;
    write_dump(args, in_every_octave(&intention.strings, &targets_hz))?;
    if args.json {
        let silent = judge(&[], intention)?;
        return terminal::print_json(&TuningReport::new("", &silent, &[]));
    }
    let mut page = terminal::page();
    page.heading(&format!(
        "What the strings should be, in cents above the first, A4 = {a4_hz} Hz, temperament {}",
        intention.scheme.name()
    ));
    page.table(&rows(&intention.strings, &targets_hz), 0);
    page.gap();
    page.paragraph(word("strings.caution"));
    terminal::print(&page.finish())
}

fn rows(strings: &[StringNote], targets_hz: &[f64]) -> Vec<Vec<String>> {
    let head = ["string", " cents", "  hertz"];
    let row = |(k, (string, hz)): (usize, (&StringNote, &f64))| {
        vec![
            format!("{:>2} {string}", k + 1),
            format!("{:>6.1}", cents_between(targets_hz[0], *hz) + 0.0),
            format!("{hz:>7.2}"),
        ]
    };
    let strings = strings.iter().zip(targets_hz).enumerate();
    std::iter::once(head.map(str::to_owned).to_vec())
        .chain(strings.map(row))
        .collect()
}

/// Each string's pitch on its own key, and on that of the same note in every other octave.
fn in_every_octave(strings: &[StringNote], targets_hz: &[f64]) -> Vec<(i32, Option<f64>)> {
    let strings = || strings.iter().zip(targets_hz);
    let pitch = |key: i32| {
        let own = strings().find(|(string, _)| string.midi == key);
        let same = || strings().find(|(string, _)| (string.midi - key) % 12 == 0);
        let (string, hz) = own.or_else(same)?;
        Some(hz * (f64::from(key - string.midi) / 12.0).exp2())
    };
    (0..KEYS).map(|key| (key, pitch(key))).collect()
}
