//! The line as the scale stage takes it: each note with its pitch class, and the sets that it may be of.
//!
//! Most lines lie on the recording's own grid. Some have degrees between its places ([`off_grid`]), and some are sung so
//! freely that it takes the scale to tell what was meant ([`free`]).

use crate::histogram::{Histogram, PlacedNote};
use crate::notes::NoteList;
use crate::scale::estimate::ScaleOptions;
use crate::scale::free::{self, FreeHearing, FreeLine};
use crate::scale::off_grid::{self, OffGrid};
use crate::scale::set::{self, SetEstimate};
use crate::units::{PitchClass, PitchClassSet};

/// Of a free line the notes are placed under this many sets beside the likeliest, unless a set is less likely than this.
const OTHER_SETS: usize = 3;
const OTHER_FROM: f64 = 0.05;

/// The line with its classes.
pub struct Placing {
    /// Its notes.
    pub notes: Vec<PlacedNote>,
    /// How far the tuning that their cents are counted from lies above the recording's own grid, in cents.
    pub tuning_cents: f64,
    /// The sets that it may be of.
    pub sets: SetEstimate,
    /// Whether its degrees lie off the 12-tone grid.
    pub is_off_grid: bool,
    /// The notes as other likely sets would have them, each with the probability of its set: only where that matters.
    pub others: Vec<(f64, Vec<PlacedNote>)>,
    /// Of a line that is sung freely every set that was tried, with its probability.
    pub tried: Vec<(PitchClassSet, f64)>,
}

/// A line whose degrees lie at known places: those that sound are its set, and what else is played much.
pub fn at_places(
    off: OffGrid,
    places: &[f64],
    histogram: &Histogram,
    held: PitchClassSet,
) -> Placing {
    let own = off.own(places);
    let mut placing = between(off, histogram, &ScaleOptions::default());
    placing.sets.set = own.iter().chain(held.iter()).collect();
    placing
}

/// The notes of a line that is sung freely, along the tuning of its time, each with the class that it was meant for; and
/// what was heard of it.
pub fn along_the_tuning(
    list: &NoteList,
    histogram: &Histogram,
    options: &ScaleOptions,
) -> (Vec<PlacedNote>, FreeHearing) {
    let line = freely(list, histogram, options, None);
    (line.meant().notes, line.heard)
}

/// Places the notes of a line; `heard` is what was heard of them, where they are sung freely and that is known.
pub fn place(
    list: &NoteList,
    histogram: &Histogram,
    options: &ScaleOptions,
    heard: Option<FreeHearing>,
) -> Placing {
    let on_grid = &histogram.notes;
    if !free::is_free(on_grid) {
        return off_grid::find(on_grid).map_or_else(
            || on_its_grid(on_grid.clone(), histogram, options),
            |off| between(off, histogram, options),
        );
    }
    let line = freely(list, histogram, options, heard);
    let nearest = line.nearest();
    match off_grid::find(&nearest.notes) {
        Some(off) => Placing {
            tuning_cents: nearest.tuning_cents,
            ..between(off, histogram, options)
        },
        None => sung_freely(line),
    }
}

fn freely<'a>(
    list: &'a NoteList,
    histogram: &'a Histogram,
    options: &ScaleOptions,
    heard: Option<FreeHearing>,
) -> FreeLine<'a> {
    let offset = histogram.reference.middle_offset();
    let hear = || FreeHearing::new(&list.notes, offset, options.set, held(options));
    let heard = heard.unwrap_or_else(hear);
    FreeLine::new(&list.notes, histogram, heard)
}

fn on_its_grid(notes: Vec<PlacedNote>, histogram: &Histogram, options: &ScaleOptions) -> Placing {
    Placing {
        sets: of_notes(&notes, histogram, options),
        notes,
        tuning_cents: 0.0,
        is_off_grid: false,
        others: Vec::new(),
        tried: Vec::new(),
    }
}

/// A line whose degrees lie off the grid.
fn between(off: OffGrid, histogram: &Histogram, options: &ScaleOptions) -> Placing {
    Placing {
        sets: of_notes(&off.by_degree(), histogram, options),
        notes: off.notes,
        tuning_cents: 0.0,
        is_off_grid: true,
        others: Vec::new(),
        tried: Vec::new(),
    }
}

fn sung_freely(line: FreeLine<'_>) -> Placing {
    let likely = line.heard.sets.others.iter().filter(|o| o.1 >= OTHER_FROM);
    let others = likely
        .take(OTHER_SETS)
        .map(|&(set, p)| (p, line.under(set).notes));
    let meant = line.meant();
    Placing {
        others: others.collect(),
        notes: meant.notes,
        tuning_cents: meant.tuning_cents,
        is_off_grid: false,
        tried: line.heard.tried,
        sets: line.heard.sets,
    }
}

fn of_notes(notes: &[PlacedNote], histogram: &Histogram, options: &ScaleOptions) -> SetEstimate {
    if let Some(set) = options.set {
        let classes =
            std::array::from_fn(|k| f64::from(u8::from(set.contains(PitchClass::new(k as i64)))));
        return SetEstimate {
            set,
            confidence: 1.0,
            classes,
            others: Vec::new(),
        };
    }
    let rows = set::features(notes, &histogram.evidence_of(notes), histogram.median_s);
    set::infer(&rows, held(options))
}

/// Classes that are known to belong to the set.
fn held(options: &ScaleOptions) -> PitchClassSet {
    options.centre.into_iter().collect()
}
