//! Scales that rise with other degrees than they fall with, on invented lines from all twelve roots.
//!
//! Melodic minor rises 2-1-2-2-2-2-1 and falls 2-1-2-2-1-2-2 (common-practice textbooks). The in scale rises 1-4-2-3-2
//! and falls with its top degree lowered, 1-4-2-1-4 (Uehara Rokushiro, Zokugaku senritsu ko, 1895; from memory). Other
//! scales are the same both ways (common practice, no source).

use crate::support::lines;

use lines::{D4, ladder, line, up_and_down, walk};
use proptest::prelude::*;
use whichmode::labels::Book;
use whichmode::notes::NoteList;
use whichmode::report::identify::{Identify, Origin};
use whichmode::report::identify_text::headline;
use whichmode::scale::ScaleEstimate;
use whichmode::units::{PitchClass, PitchClassSet};
use whichmode::{Answer, Options, identify_notes};

struct Pair {
    name: &'static str,
    rising: &'static [f64],
    falling: &'static [f64],
    /// Places of the ladder that a tune goes through, each degree of the upper part met both ways.
    tune: &'static [usize],
}

const PAIRS: [Pair; 2] = [
    Pair {
        name: "melodic minor",
        rising: &[2.0, 1.0, 2.0, 2.0, 2.0, 2.0, 1.0],
        falling: &[2.0, 1.0, 2.0, 2.0, 1.0, 2.0, 2.0],
        tune: &[
            0, 1, 2, 1, 2, 3, 4, 5, 6, 7, 6, 5, 4, 3, 4, 5, 6, 7, 6, 5, 4, 5, 6, 7, 6, 5, 4, 3, 2,
            1, 0,
        ],
    },
    Pair {
        name: "in",
        rising: &[1.0, 4.0, 2.0, 3.0, 2.0],
        falling: &[1.0, 4.0, 2.0, 1.0, 4.0],
        tune: &[
            0, 1, 2, 1, 2, 3, 4, 5, 4, 3, 2, 3, 4, 5, 4, 3, 4, 5, 4, 3, 2, 1, 0,
        ],
    },
];

/// Scales that are the same both ways.
const PLAIN: [(&str, &[f64]); 6] = [
    ("major", &[2.0, 2.0, 1.0, 2.0, 2.0, 2.0, 1.0]),
    ("natural minor", &[2.0, 1.0, 2.0, 2.0, 1.0, 2.0, 2.0]),
    ("harmonic minor", &[2.0, 1.0, 2.0, 2.0, 1.0, 3.0, 1.0]),
    ("kumoi", &[2.0, 1.0, 4.0, 2.0, 3.0]),
    ("hirajoshi", &[2.0, 1.0, 4.0, 1.0, 4.0]),
    ("octatonic", &[2.0, 1.0, 2.0, 1.0, 2.0, 1.0, 2.0, 1.0]),
];

fn heard(list: &NoteList) -> ScaleEstimate {
    heard_in(list).scale
}

fn heard_in(list: &NoteList) -> Answer {
    identify_notes(list, &Options::default()).unwrap()
}

fn answer(list: &NoteList) -> Identify {
    let origin = Origin::Id("invented".to_string());
    Identify::new(origin, &heard_in(list), &Book::own().unwrap(), false)
}

fn set(keys: &[f64]) -> PitchClassSet {
    keys.iter().map(|&k| PitchClass::nearest(k)).collect()
}

fn less(all: PitchClassSet, taken: PitchClassSet) -> PitchClassSet {
    all.iter().filter(|&c| !taken.contains(c)).collect()
}

/// Each pair from each root, as a tune and as the bare scale up and down, with both ladders.
fn written() -> impl Iterator<Item = (String, NoteList, Vec<f64>, Vec<f64>)> {
    PAIRS.iter().flat_map(|pair| {
        (0..12).flat_map(move |up| {
            let root = D4 + f64::from(up);
            let (rising, falling) = (ladder(root, pair.rising), ladder(root, pair.falling));
            let tunes = [
                ("tune", walk(&rising, &falling, pair.tune)),
                ("scale", up_and_down(&rising, &falling)),
            ];
            tunes.map(|(kind, notes)| {
                let what = format!("{} from {root}, {kind}", pair.name);
                (what, line(&notes), rising.clone(), falling.clone())
            })
        })
    })
}

#[test]
fn both_forms_are_right_from_every_root() {
    let mut wrong = Vec::new();
    for (what, list, rising, falling) in written() {
        let estimate = heard(&list);
        let forms = estimate.two_forms.map(|f| (f.rising, f.falling));
        let centre = Some(PitchClass::nearest(rising[0]));
        if forms != Some((set(&rising), set(&falling))) || estimate.centre != centre {
            wrong.push(format!(
                "{what}: {forms:?} centre {:?}, set {:?}",
                estimate.centre, estimate.set
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The two forms together are no scale of eight or nine notes: the version, its steps and the notes named are one form.
#[test]
fn the_union_is_not_called_a_scale() {
    for (what, list, rising, falling) in written() {
        let answer = answer(&list);
        let forms = answer.two_forms.as_ref().expect(&what);
        let size = rising.len() - 1;
        assert_eq!(
            answer.version.as_ref(),
            Some(&forms.rising.version),
            "{what}"
        );
        assert_eq!(answer.steps.as_ref().map(Vec::len), Some(size), "{what}");
        assert_eq!(answer.note_names, forms.rising.note_names, "{what}");
        assert_eq!(forms.falling.note_names.len(), falling.len() - 1);
        let union = set(&[rising, falling.clone()].concat()).len();
        for other in &answer.alternatives {
            assert!(
                other.version.is_none() || other.pitch_classes.len() != union,
                "{what}: {other:?}"
            );
        }
        let headline = headline(&answer);
        assert!(
            headline.contains("rising") && headline.contains("falling"),
            "{headline}"
        );
    }
}

#[test]
fn a_plain_scale_has_one_form() {
    for (name, steps) in PLAIN {
        for up in 0..12 {
            let keys = ladder(D4 + f64::from(up), steps);
            let estimate = heard(&line(&up_and_down(&keys, &keys)));
            assert_eq!(estimate.two_forms, None, "{name} up {up}");
        }
    }
}

/// A degree that is only left out one way has no partner that takes its place: one scale, not two forms.
#[test]
fn a_degree_left_out_one_way_is_no_second_form() {
    let full = ladder(D4, &[2.0, 1.0, 2.0, 2.0, 1.0, 2.0, 2.0]);
    let gapped: Vec<f64> = full.iter().copied().filter(|k| k - D4 != 8.0).collect();
    for (rising, falling) in [(&full, &gapped), (&gapped, &full)] {
        let list = line(&up_and_down(rising, falling));
        assert_eq!(heard(&list).two_forms, None);
    }
}

/// Places of a ladder that a tune goes through by steps, up or down as told, turning at the ends.
fn wandering(ups: &[bool], places: usize) -> Vec<usize> {
    let mut at = 0;
    ups.iter()
        .map(|&up| {
            at = if up && at + 1 < places || at == 0 {
                at + 1
            } else {
                at - 1
            };
            at
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..Default::default() })]

    /// However a tune goes through one scale by steps, it has one form.
    #[test]
    fn no_walk_over_a_plain_scale_has_two_forms(
        which in 0..PLAIN.len(),
        ups in prop::collection::vec(any::<bool>(), 8..60),
    ) {
        let keys = ladder(D4, PLAIN[which].1);
        let list = line(&walk(&keys, &keys, &wandering(&ups, keys.len())));
        prop_assert_eq!(heard(&list).two_forms, None, "{}", PLAIN[which].0);
    }

    /// A tune that wanders over a pair by steps may show too little of it to tell, but what is said to be of one direction
    /// alone was written so.
    #[test]
    fn what_goes_one_way_was_written_so(
        which in 0..PAIRS.len(),
        ups in prop::collection::vec(any::<bool>(), 8..80),
    ) {
        let (rising, falling) = (ladder(D4, PAIRS[which].rising), ladder(D4, PAIRS[which].falling));
        let list = line(&walk(&rising, &falling, &wandering(&ups, rising.len())));
        if let Some(forms) = heard(&list).two_forms {
            prop_assert!(less(forms.rising, forms.falling).is_subset(less(set(&rising), set(&falling))));
            prop_assert!(less(forms.falling, forms.rising).is_subset(less(set(&falling), set(&rising))));
        }
    }
}
