//! Staves: what is written holds the notes of the line. `tests/read_back` reads the same files by other programs.

use whichmode::labels::Book;
use whichmode::modes::{Notation, NoteName, parse_note};
use whichmode::notes::symbolic::read_midi;
use whichmode::render::line::Layout;
use whichmode::render::named::scale;
use whichmode::render::staff::{Sheet, abc, midi, musicxml};
use whichmode::render::{Line, Scale};
use whichmode::units::PitchClass;

fn read(text: &str) -> Scale {
    let book = Book::own().expect("the book is read");
    scale(text, &book, Notation::International).expect("the scale is read")
}

fn written(scale: &Scale) -> (Sheet, Line) {
    let line = Line::of(scale, &Layout::default());
    (
        Sheet::new(&scale.title, scale.version.as_ref(), &line, false),
        line,
    )
}

fn note(text: &str) -> NoteName {
    parse_note(text, Notation::International).expect("a note")
}

/// Signatures of the seven modes on D, sharps positive (common practice, no source).
#[test]
fn key_signatures_are_those_of_the_modes() {
    let signs = [
        ("D Ionian", 2),
        ("D Dorian", 0),
        ("D Phrygian", -2),
        ("D Lydian", 3),
        ("D Mixolydian", 1),
        ("D Aeolian", -1),
        ("D Locrian", -3),
    ];
    for (text, fifths) in signs {
        let key = written(&read(text)).0.key.expect("a signature");
        assert_eq!(key.fifths, fifths, "{text}");
    }
    for text in ["D Dorian kumoi", "D melodic minor", "D major pentatonic"] {
        assert_eq!(written(&read(text)).0.key, None, "{text} has no signature");
    }
}

/// MusicXML 4.0: `<fifths>`, `<alter>`, `<stem>none`, `<senza-misura>`; and no bar line that is seen.
#[test]
fn musicxml_is_unmeasured() {
    let text = musicxml::write(&written(&read("F# Dorian")).0);
    for part in [
        "<score-partwise version=\"4.0\">",
        "<fifths>4</fifths><mode>dorian</mode>",
        "<senza-misura/>",
        "<step>F</step><alter>1</alter><octave>4</octave>",
    ] {
        assert!(text.contains(part), "{part} in\n{text}");
    }
    assert_eq!(
        text.matches("<measure ").count(),
        text.matches("<bar-style>none</bar-style>").count()
    );
    assert_eq!(
        text.matches("<note>").count(),
        text.matches("<stem>none</stem>").count()
    );
}

/// ABC 2.1: capitals for the octave from middle C, small letters above, `^` `_` `=` before a note.
#[test]
fn abc_spells_the_line() {
    let text = abc::write(&written(&read("C Phrygian hirajoshi")).0);
    let body: Vec<&str> = text.lines().skip_while(|l| !l.starts_with("K:")).collect();
    assert_eq!(body[0], "K:none");
    assert_eq!(body[1], "C2 _D F G _A !breath!c2");
    let text = abc::write(&written(&read("D Dorian")).0);
    assert!(text.contains("K:Ddor\nD2 E F G A B c !breath!d2"), "{text}");
}

/// A neutral third is a quarter tone below the major one (350 cents, common practice); 725 lie 25 from any sign.
#[test]
fn degrees_between_the_twelve_get_quarter_tones_or_cents() {
    let scale = Scale::from_cents("invented".into(), note("C"), &[0.0, 350.0, 725.0]);
    let (sheet, _) = written(&scale);
    let text = musicxml::write(&sheet);
    let third = "<step>E</step><alter>-0.5</alter><octave>4</octave>";
    assert!(text.contains(third), "{text}");
    assert!(text.contains("<words>+25 cents</words>"), "{text}");
    assert!(abc::write(&sheet).contains("\"^+25c\"G"));
}

/// Our own reader of MIDI is checked against other writers elsewhere; here it has to give back the pitches of the line,
/// bends among them, and the held centre.
#[test]
fn midi_holds_the_pitches_and_the_drone() {
    for scale in [
        read("Bb Lydian dominant"),
        Scale::from_cents(
            "invented".into(),
            note("C"),
            &[0.0, 150.0, 350.0, 498.0, 702.0],
        ),
    ] {
        let (sheet, line) = written(&scale);
        let list =
            read_midi(&midi::write(&sheet, &line).expect("it is written")).expect("it is read");
        assert_eq!(list.notes.len(), line.notes.len(), "{}", scale.title);
        for (heard, played) in list.notes.iter().zip(&line.notes) {
            assert!(
                (heard.midi - played.midi).abs() < 0.001,
                "{} for {}",
                heard.midi,
                played.midi
            );
            assert!((heard.start_s - played.start_s).abs() < 0.002);
        }
        let drone = list.drones.first().expect("a drone");
        assert_eq!(PitchClass::nearest(drone.midi), scale.root.pitch_class());
    }
}
