//! Lines that are sung freely: the set is found through a wide spread and a wandering tuning, what is only touched is no
//! degree, and the review is fair.
//!
//! What is expected is what was written, before a singer's mistakes were put in: random walks over the scale that end on
//! its centre (common practice, no source). Scales: the diatonic modes and the pentatonic of common-practice harmony
//! textbooks. How far singers stray: notes of untrained singers lie a quarter tone off and more (S. Dalla Bella,
//! J.-F. Giguère and I. Peretz, "Singing proficiency in the general population", Journal of the Acoustical Society of
//! America, 2007).

use crate::support::lines;

use lines::{D4, ladder, line};
use whichmode::histogram::Histogram;
use whichmode::labels::Book;
use whichmode::modes::Notation;
use whichmode::notes::NoteList;
use whichmode::render::as_heard::heard as as_heard;
use whichmode::report::html::recording::{Drawing, recording};
use whichmode::report::identify::{DegreeRow, Identify, Origin, OutsideRow};
use whichmode::report::identify_text::identify_text;
use whichmode::report::text::Page;
use whichmode::review::{Assignment, Judgement, Limits, review};
use whichmode::scale::{ScaleEstimate, ScaleOptions, infer, infer_by_key};
use whichmode::units::{PitchClass, PitchClassSet};
use whichmode::{Options, identify_notes};

const MAJOR: [f64; 7] = [2.0, 2.0, 1.0, 2.0, 2.0, 2.0, 1.0];
const PHRYGIAN: [f64; 7] = [1.0, 2.0, 2.0, 2.0, 1.0, 2.0, 2.0];
const PENTATONIC: [f64; 5] = [2.0, 2.0, 3.0, 2.0, 3.0];

/// Numbers that look random and are the same in every run (D. Knuth, "The Art of Computer Programming", volume 2, 1997,
/// 3.3.4, the generator of MMIX).
struct Dice(u64);

impl Dice {
    fn unit(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Standard normal, as a sum of twelve.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

/// A walk of 40 notes over the scale that ends on its centre, as key and length in beats.
fn walk(dice: &mut Dice, steps: &[f64]) -> Vec<(f64, f64)> {
    let keys = ladder(D4, steps);
    let mut at = 0i64;
    let mut notes: Vec<(f64, f64)> = keys.iter().map(|&k| (k, 1.0)).collect();
    for _ in 0..32 {
        at = (at + [-2, -1, -1, 1, 1, 2][(6.0 * dice.unit()) as usize])
            .clamp(0, keys.len() as i64 - 1);
        notes.push((keys[at as usize], 1.0));
    }
    notes.push((D4, 3.0));
    notes
}

/// The line as a singer may sing it: each note strays by about `spread` cents, the whole sinks by `sinks` cents.
fn sung(notes: &[(f64, f64)], dice: &mut Dice, spread: f64, sinks: f64) -> Vec<(f64, f64)> {
    let count = notes.len() as f64;
    let stray = |(k, &(key, length)): (usize, &(f64, f64))| {
        let cents = spread * dice.normal() - sinks * k as f64 / count;
        (key + cents / 100.0, length)
    };
    notes.iter().enumerate().map(stray).collect()
}

fn heard(list: &NoteList) -> ScaleEstimate {
    infer(list, &Histogram::new(list, None), &ScaleOptions::default())
}

fn set(steps: &[f64]) -> PitchClassSet {
    ladder(D4, steps)
        .into_iter()
        .map(PitchClass::nearest)
        .collect()
}

/// The same notes where the singer's own tuning makes half a semitone of difference.
fn same_but_for_the_key(told: PitchClassSet, written: PitchClassSet) -> bool {
    [-1, 0, 1].iter().any(|&up| told == written.up(up))
}

#[test]
fn a_wide_spread_and_a_sinking_tuning_leave_the_scale() {
    let mut right = 0;
    for seed in 0..12 {
        let mut dice = Dice(seed);
        let steps: &[f64] = [&MAJOR[..], &PHRYGIAN, &PENTATONIC][seed as usize % 3];
        let written = walk(&mut dice, steps);
        let estimate = heard(&line(&sung(&written, &mut dice, 18.0, 50.0)));
        assert!(estimate.is_free());
        right += usize::from(same_but_for_the_key(estimate.set, set(steps)));
    }
    assert!(right >= 10, "{right} of 12");
}

/// A tuning lies no farther than half a semitone from that of the nearest keys (what a semitone is), also where the singer's
/// own turns out to lie beyond after the scale is found.
#[test]
fn a_singer_is_told_by_the_nearest_keys() {
    let options = ScaleOptions::default();
    let mut beyond = 0;
    for seed in 0..24 {
        let mut dice = Dice(seed);
        let mut written = walk(&mut dice, &PENTATONIC);
        written.iter_mut().for_each(|n| n.0 += 0.02 * seed as f64);
        let list = line(&sung(&written, &mut dice, 30.0, -120.0));
        let tuning = |histogram: &Histogram, estimate: &ScaleEstimate| {
            histogram.reference.middle_offset() + estimate.tuning_cents / 100.0
        };
        let grid = Histogram::new(&list, None);
        beyond += usize::from(tuning(&grid, &heard(&list)).abs() > 0.5);
        let (histogram, estimate) = infer_by_key(&list, None, &options, None, None);
        assert!(tuning(&histogram, &estimate).abs() <= 0.5, "line {seed}");
    }
    assert!(beyond > 0);
}

/// An instrument in tune is no free singer.
#[test]
fn a_line_in_tune_is_not_free() {
    let mut dice = Dice(1);
    let written = walk(&mut dice, &MAJOR);
    assert!(!heard(&line(&sung(&written, &mut dice, 5.0, 0.0))).is_free());
}

/// Two short passing notes between degrees are touched: told with their times, no degrees.
#[test]
fn passing_notes_are_touched() {
    let mut dice = Dice(4);
    let mut notes = walk(&mut dice, &PHRYGIAN);
    for at in [12, 25] {
        let above = notes[at].0;
        notes.insert(at + 1, (D4 + 4.0, 0.2));
        notes.insert(at + 2, (above, 1.0));
    }
    let list = line(&notes);
    let estimate = heard(&list);
    assert_eq!(estimate.set, set(&PHRYGIAN));
    let [touched] = estimate.touched.as_slice() else {
        panic!("{:?}", estimate.touched)
    };
    assert_eq!(touched.class, PitchClass::nearest(D4 + 4.0));
    let written: Vec<f64> = [13, 26].map(|k| list.notes[k].start_s).to_vec();
    assert_eq!(touched.times_s, written);
    assert!(touched.share > 0.0 && touched.share < 0.03);
}

/// Ten notes and more are told where a line uses them as equals, and only there.
#[test]
fn many_notes_are_a_scale_only_as_equals() {
    let chromatic: Vec<(f64, f64)> = (0..36).map(|k| (D4 + f64::from(k % 12), 1.0)).collect();
    assert_eq!(heard(&line(&chromatic)).set.len(), 12);
    let mut notes = walk(&mut Dice(2), &MAJOR);
    for (k, other) in [1.0, 3.0, 6.0, 8.0, 10.0].into_iter().enumerate() {
        notes.insert(5 * k + 8, (D4 + other, 0.3));
        notes.insert(5 * k + 20, (D4 + other, 0.3));
    }
    let estimate = heard(&line(&notes));
    assert!(estimate.set.len() <= 9, "{:?}", estimate.set);
}

/// A long line, played loosely, that comes back to three passing notes again and again is of its seven notes all the same; one that uses
/// eight notes as equals is of eight. Expected is what was written: D major with passing notes between its steps, and
/// the octatonic scale (textbooks of harmony).
#[test]
fn a_long_line_is_of_its_own_notes() {
    let long = |steps: &[f64]| -> Vec<(f64, f64)> {
        (0..4)
            .flat_map(|seed| walk(&mut Dice(seed), steps))
            .collect()
    };
    let mut notes = long(&MAJOR);
    for k in 0..36 {
        let passing = D4 + [1.0, 6.0, 8.0][k % 3];
        notes.insert(4 * k + 5, (passing, 0.5));
    }
    let loosely = |notes: &[(f64, f64)]| heard(&line(&sung(notes, &mut Dice(7), 18.0, 0.0)));
    let estimate = loosely(&notes);
    assert_eq!(estimate.set, set(&MAJOR));
    assert_eq!(estimate.touched.len(), 3, "{:?}", estimate.touched);
    let octatonic = [2.0, 1.0, 2.0, 1.0, 2.0, 1.0, 2.0, 1.0];
    assert_eq!(loosely(&long(&octatonic)).set, set(&octatonic));
}

/// A scale that none of the well-known families holds is told of a long ornamented line, too: Neapolitan minor
/// (V. Persichetti, "Twentieth-Century Harmony", 1961), with passing notes beside its third, fourth and sixth.
#[test]
fn a_long_line_is_of_a_rarer_scale() {
    const NEAPOLITAN_MINOR: [f64; 7] = [1.0, 2.0, 2.0, 2.0, 1.0, 3.0, 1.0];
    let mut notes: Vec<(f64, f64)> = (0..4)
        .flat_map(|seed| walk(&mut Dice(seed), &NEAPOLITAN_MINOR))
        .collect();
    for k in 0..30 {
        let passing = D4 + [2.0, 4.0, 6.0][k % 3];
        notes.insert(4 * k + 5, (passing, 0.4));
    }
    let estimate = heard(&line(&sung(&notes, &mut Dice(7), 18.0, 0.0)));
    assert_eq!(estimate.set, set(&NEAPOLITAN_MINOR));
}

/// A neutral second that is sung loosely falls on both sides of the border between two classes: where one of them is a
/// degree it is the whole of it, at its own place, and the other is hardly touched. Expected is what was written.
#[test]
fn a_neutral_degree_of_a_loose_line_is_one() {
    let neutral = [1.5, 1.5, 2.0, 2.0, 1.0, 2.0, 2.0];
    let home = PitchClass::nearest(D4);
    let mut told = 0;
    for seed in 0..6 {
        let mut dice = Dice(seed);
        let written: Vec<(f64, f64)> = (0..4).flat_map(|_| walk(&mut dice, &neutral)).collect();
        let estimate = heard(&line(&sung(&written, &mut dice, 24.0, 0.0)));
        let cents = |class: PitchClass| {
            let degree = estimate.degrees.iter().find(|d| d.class == class)?;
            Some(100.0 * class.above(home) as f64 + degree.mean_cents?)
        };
        let sides = [1, 2].map(|up| home.up(up));
        let Some(second) = cents(sides[0]).xor(cents(sides[1])) else {
            continue;
        };
        let off = second - cents(home).unwrap() - 150.0;
        assert!(off.abs() < 15.0, "{seed}: {off}");
        let beside = estimate.touched.iter().filter(|t| sides.contains(&t.class));
        let share: f64 = beside.map(|t| t.share).sum();
        assert!(share < 0.02, "{seed}: {share}");
        told += 1;
    }
    assert!(told >= 3, "{told} of 6");
}

/// Where the tuning sinks far, the reference that is told, the degree's class and its cents together are where its notes
/// sounded, and the cents in the mean are small. Expected is what was written.
#[test]
fn what_is_told_of_a_sinking_line_is_where_it_sounded() {
    for seed in 0..6 {
        let mut dice = Dice(seed);
        let notes = sung(&walk(&mut dice, &MAJOR), &mut dice, 16.0, 190.0);
        let answer = identify_notes(&line(&notes), &Options::default()).unwrap();
        let reference = 12.0 * (answer.histogram.a4_hz() / 440.0).log2();
        let degrees = answer.scale.degrees.iter();
        let mean: f64 = degrees.filter_map(|d| Some(d.share * d.mean_cents?)).sum();
        assert!(mean.abs() < 30.0, "{seed}: {mean}");
        for degree in answer.scale.degrees.iter().filter(|d| d.count >= 3) {
            let told = reference + degree.class.index() as f64 + degree.mean_cents.unwrap() / 100.0;
            let own = answer.scale.notes.iter().zip(&notes);
            let own = own.filter(|(n, _)| n.class == degree.class);
            let away: Vec<f64> = own
                .map(|(_, &(midi, _))| (midi - told + 6.0).rem_euclid(12.0) - 6.0)
                .collect();
            let mean = away.iter().sum::<f64>() / away.len() as f64;
            assert!(mean.abs() < 0.6, "{seed}: {:?} {mean}", degree.class);
        }
    }
}

/// What is told of such a line where no scale in cents of the book explains it: the sixth with its cents, a sentence on it,
/// none of its notes on the staff or in the picture of the octave as anything but it. Expected is what was written.
#[test]
fn a_neutral_degree_is_told_as_one_everywhere() {
    let neutral = [2.0, 2.0, 2.0, 1.0, 1.5, 1.5, 2.0];
    let book = Book::own().unwrap();
    let mut told = 0;
    for seed in 0..12 {
        let mut dice = Dice(seed);
        let written: Vec<(f64, f64)> = (0..4).flat_map(|_| walk(&mut dice, &neutral)).collect();
        let list = line(&sung(&written, &mut dice, 24.0, 0.0));
        let answer = identify_notes(&list, &Options::default()).unwrap();
        let row = Identify::new(Origin::Id("a".into()), &answer, &book, false);
        let of_sixth = |d: &&DegreeRow| {
            d.cents_from_centre
                .is_some_and(|c| (c - 850.0).abs() < 15.0)
        };
        let (Some(sixth), Some(sentence)) = (row.degrees.iter().find(of_sixth), &row.between_told)
        else {
            continue;
        };
        let cents = sixth.cents_from_centre.unwrap();
        let wanted = format!("Its sixth lies between Bb and B, {cents:.0} cents above D");
        assert!(sentence.starts_with(&wanted), "{seed}: {sentence}");
        assert!(sixth.told().starts_with(&sixth.name) && sixth.told().contains(['+', '-']));
        let mut page = Page::new(80);
        identify_text(&row, &mut page);
        let page = page.finish();
        assert!(page.contains(&format!("{} ", sixth.told())), "{page}");
        let staff = as_heard(&answer, false).unwrap().line.notes;
        let named = |name: &str| staff.iter().filter(|n| n.name.to_string() == name).count();
        assert_eq!(named(&sixth.name), sixth.count, "{seed}");
        let is_beside = |o: &&OutsideRow| o.name.starts_with('B');
        let beside = row.outside.iter().filter(is_beside).count();
        assert_eq!(named("B") + named("Bb"), sixth.count + beside, "{seed}");
        let html = recording(&row, &Drawing::new(&answer), None).finish();
        assert!(html.contains(sentence.as_str()));
        assert!(
            !row.outside.is_empty() || !html.contains("column-outside"),
            "{seed}"
        );
        told += 1;
    }
    assert!(told >= 6, "{told} of 12");
}

/// Who sings what was asked, loosely and sinking, is told so, with a kind word on the intonation.
#[test]
fn a_loose_singer_of_what_was_asked_is_as_assigned() {
    let book = Book::own().unwrap();
    let asked = Assignment::parse(
        "D Ionian",
        Limits::default(),
        &book,
        Notation::International,
    )
    .unwrap();
    let mut right = 0;
    for seed in 20..28 {
        let mut dice = Dice(seed);
        let written = walk(&mut dice, &MAJOR);
        let list = line(&sung(&written, &mut dice, 18.0, 40.0));
        let review = review(&asked, &list, None, &book);
        right += usize::from(review.judgement == Judgement::AsAssigned);
        assert_ne!(review.judgement, Judgement::Unusable);
    }
    assert!(right >= 7, "{right} of 8");
}

/// Of what a singer hits outside the scale only what is held like the other notes is told as a slip: a scoop from below into
/// a degree is none. Expected is what was written: one note beside the scale, and two short ones below degrees.
#[test]
fn a_scoop_of_a_singer_is_no_slip() {
    let book = Book::own().unwrap();
    let limits = Limits::default();
    let asked = Assignment::parse("D Ionian", limits, &book, Notation::International).unwrap();
    for seed in 20..24 {
        let mut dice = Dice(seed);
        let mut written = walk(&mut dice, &MAJOR);
        written.insert(30, (D4 + 8.0, 0.9));
        for at in [24, 12] {
            written.insert(at, (D4 + 6.0, 0.25));
            written.insert(at + 1, (D4 + 7.0, 1.0));
        }
        let list = line(&sung(&written, &mut dice, 16.0, 0.0));
        let review = review(&asked, &list, None, &book);
        assert_eq!(review.judgement, Judgement::AsAssigned);
        let told: Vec<f64> = review.slips.iter().map(|slip| slip.start_s).collect();
        assert_eq!(told, [list.notes[34].start_s], "seed {seed}");
    }
}
