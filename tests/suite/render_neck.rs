//! Necks and retunings, against places and changes that players know.

use whichmode::labels::Book;
use whichmode::modes::Notation;
use whichmode::render::Scale;
use whichmode::render::named::scale;
use whichmode::render::neck::boxes::positions;
use whichmode::render::neck::{Neck, svg, text};
use whichmode::render::retune::{Limits, retune};
use whichmode::tuning::{StringNote, Temperament, find, known_sets, parse_notes};

const GUITAR: &str = "E2 A2 D3 G3 B3 E4";

fn read(text: &str) -> Scale {
    let book = Book::own().expect("the book is read");
    scale(text, &book, Notation::International).expect("the scale is read")
}

fn strings(text: &str) -> Vec<StringNote> {
    parse_notes(text).expect("strings are read")
}

fn neck(text: &str, frets: usize) -> Neck {
    Neck::new(strings(text), frets, false).expect("a neck")
}

/// The minor pentatonic on A in fifth position: frets 5 8, 5 7, 5 7, 5 7, 5 8, 5 8 from the lowest string (common practice
/// of guitar teaching, no source).
#[test]
fn the_pentatonic_lies_where_guitarists_know_it() {
    let neck = neck(GUITAR, 15);
    let scale = read("A minor pentatonic");
    let fifth: Vec<Vec<usize>> = (0..6)
        .map(|string| {
            let marks = neck.marks(&scale).into_iter();
            marks
                .filter(|m| m.string == string && (5..=8).contains(&m.fret()))
                .map(|m| m.fret())
                .collect()
        })
        .collect();
    assert_eq!(fifth, [[5, 8], [5, 7], [5, 7], [5, 7], [5, 8], [5, 8]]);
    let whole: Vec<usize> = positions(&scale, &neck, 4)
        .expect("positions")
        .iter()
        .filter(|p| p.is_whole())
        .map(|p| p.first)
        .collect();
    assert!(whole.contains(&5), "{whole:?}");
}

/// Every mark sounds a note of the scale: the open string and its frets are semitones apart (12-tone equal frets).
#[test]
fn marks_are_the_notes_of_the_scale_and_all_of_them() {
    let scale = read("D Dorian kumoi");
    let set = scale.version.expect("a version").set();
    let neck = neck("D2 A2 D3 G3 A3 D4", 17);
    let marks = neck.marks(&scale);
    let sounding = strings("D2 A2 D3 G3 A3 D4")
        .iter()
        .flat_map(|s| (0..=17).map(move |fret| i64::from(s.midi) + fret))
        .filter(|&midi| set.contains(whichmode::units::PitchClass::new(midi)))
        .count();
    assert_eq!(marks.len(), sounding);
    assert!(
        marks
            .iter()
            .all(|m| set.contains(whichmode::units::PitchClass::nearest(m.midi)))
    );
}

/// A neutral third, 350 cents, lies between the third and the fourth fret above its root.
#[test]
fn a_neutral_third_lies_between_frets() {
    let cents = Temperament::parse("0 200 350 500 700 900 1000").expect("cents");
    let scale = read("G Mixolydian").tempered(&cents).expect("tempered");
    let neck = neck("G3", 7);
    let third = neck.marks(&scale)[2].clone();
    assert!((third.place - 3.5).abs() < 1e-9 && !third.is_on_fret());
    assert!(text::write(&scale, &neck).contains("3-50"));
}

#[test]
fn the_text_shows_centre_and_degrees_and_mirrors_for_the_left_hand() {
    let scale = read("E Phrygian");
    let right = squeezed(&text::write(&scale, &neck("E2", 3)));
    assert!(right.contains("E2 [1] ||-b2-|-|-b3-|"), "{right}");
    let left = Neck::new(strings("E2"), 3, true).expect("a neck");
    let left = squeezed(&text::write(&scale, &left));
    assert!(left.contains("|-b3-|-|-b2-|| [1] E2"), "{left}");
}

/// The text with runs of blanks and of hyphens made one, so that the width of cells plays no part.
fn squeezed(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if !(out.ends_with(c) && [' ', '-'].contains(&c)) {
            out.push(c);
        }
    }
    out
}

/// The centre is told by shape and weight, degrees are text, nothing is coloured.
#[test]
fn the_drawing_needs_no_colour() {
    let frame = svg::Frame { first: 0, last: 12 };
    let picture = svg::write(
        &read("D Dorian kumoi"),
        &neck("D2 A2 D3 G3 A3 D4", 12),
        frame,
    );
    let marks = neck("D2 A2 D3 G3 A3 D4", 12).marks(&read("D Dorian kumoi"));
    let centres = marks.iter().filter(|m| m.is_centre).count();
    assert_eq!(
        picture
            .matches("font-weight=\"bold\" fill=\"white\">1</text>")
            .count(),
        centres
    );
    assert_eq!(picture.matches("<circle").count(), marks.len() - centres);
    let colours = picture
        .split("fill=\"")
        .skip(1)
        .map(|rest| rest.split('"').next());
    assert!(
        colours
            .flatten()
            .all(|c| ["white", "black", "none"].contains(&c))
    );
}

/// From the koto's hirajoshi to its kumoijoshi: strings 3, 8 and 13 go a semitone down, 4 and 9 a whole tone up, as the
/// note of that set says (common practice, from memory; both tunings are named sets of their own).
#[test]
fn the_koto_is_retuned_as_players_do() {
    let sets = known_sets();
    let of = |name: &str| strings(&find(&sets, name).expect("a set").strings);
    let (from, to) = (of("koto hirajoshi"), of("koto kumoijoshi"));
    let limits = Limits {
        most_up: 2.0,
        most_down: 3.0,
    };
    let found = retune(&from, &read("D Locrian hirajoshi"), limits).expect("a way");
    assert_eq!((found.count, found.lacking.len()), (1, 0));
    let mut tuned: Vec<f64> = from.iter().map(|s| f64::from(s.midi)).collect();
    for change in &found.ways[0] {
        tuned[change.string] += change.cents / 100.0;
    }
    let wanted: Vec<f64> = to.iter().map(|s| f64::from(s.midi)).collect();
    assert_eq!(tuned, wanted);
}

/// Against every assignment tried one by one: fewest degrees lacking, then the least movement, over small sets of strings
/// that share no pitch class, so that octaves play no part.
#[test]
fn no_assignment_of_strings_is_better() {
    let limits = Limits {
        most_up: 1.0,
        most_down: 3.0,
    };
    for (open, to) in [
        ("C4 D4 F4 G4 A4", "D Dorian kumoi"),
        ("E4 G4 A4 B4 D5", "E Phrygian hirajoshi"),
        ("D4 E4 G4 A4 B4", "D Dorian"),
    ] {
        let strings = strings(open);
        let scale = read(to);
        let found = retune(&strings, &scale, limits).expect("a way");
        let degrees: Vec<i32> = scale
            .rising
            .iter()
            .map(|t| t.name.pitch_class().index() as i32)
            .collect();
        let best = every_way(&strings, &degrees, -3, 1);
        let lacking = found.lacking.len() as i32;
        assert_eq!(
            (lacking, found.total_cents),
            (best.0, 100.0 * f64::from(best.1)),
            "{open} to {to}"
        );
        assert_eq!(found.count as i32, best.2, "{open} to {to}");
    }
}

/// Degrees lacking, semitones moved, and in how many ways: tried one by one.
fn every_way(strings: &[StringNote], degrees: &[i32], down: i32, up: i32) -> (i32, i32, i32) {
    let moves = (up - down + 1) as usize;
    let mut best = (i32::MAX, i32::MAX, 0);
    for number in 0..moves.pow(strings.len() as u32) {
        let by = |k: usize| down + (number / moves.pow(k as u32) % moves) as i32;
        let tuned: Vec<i32> = strings
            .iter()
            .enumerate()
            .map(|(k, s)| s.midi + by(k))
            .collect();
        let classes: Vec<i32> = tuned.iter().map(|midi| midi.rem_euclid(12)).collect();
        let crosses =
            tuned.windows(2).any(|w| w[0] > w[1]) || tuned[tuned.len() - 1] > tuned[0] + 12;
        if crosses || classes.iter().any(|class| !degrees.contains(class)) {
            continue;
        }
        let lacking = degrees.iter().filter(|d| !classes.contains(d)).count() as i32;
        let cost: i32 = (0..strings.len()).map(|k| by(k).abs()).sum();
        if (lacking, cost) < (best.0, best.1) {
            best = (lacking, cost, 0);
        }
        best.2 += i32::from((lacking, cost) == (best.0, best.1));
    }
    best
}

/// A scale off the twelve notes lies between the frets: the third and the seventh of rast are quarter tones (Recueil des travaux
/// du Congres de Musique Arabe, 1934; from memory), each half a fret below that of the major scale.
#[test]
fn a_scale_in_cents_lies_between_the_frets() {
    for text in ["C (0 200 350 500 700 900 1050)", "C maqam rast"] {
        let scale = read(text);
        let cents: Vec<f64> = scale.rising.iter().map(|tone| tone.cents).collect();
        assert_eq!(
            cents,
            [0.0, 200.0, 350.0, 500.0, 700.0, 900.0, 1050.0],
            "{text}"
        );
        let third = scale.rising[2];
        assert_eq!(
            (third.note_text().as_str(), third.degree_text().as_str()),
            ("E-50", "3-50")
        );
    }
    let neck = neck(GUITAR, 15);
    let rast = read("C (0 200 350 500 700 900 1050)");
    let between = neck.marks(&rast).into_iter().filter(|m| !m.is_on_fret());
    assert!(between.clone().count() >= 12);
    for mark in between {
        assert_eq!(mark.fret() as f64 - mark.place, 0.5, "{mark:?}");
    }
    let own = read("C makam rast").tempered(&Temperament::Just);
    assert!(own.is_err(), "its cents are its own");
}
