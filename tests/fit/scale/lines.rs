//! The lines that the centre is fitted on: melodies, excerpts of them, and both carried onto random scales.

use rayon::prelude::*;
use whichmode::histogram::Histogram;
use whichmode::notes::{Note, NoteList};
use whichmode::scale::fitting::{NoteSequence, features};

use crate::corpus::{
    Melody, carry, cut_short, random_scale, random_window, read_mode, scale_run, sources,
};
use crate::mistakes;
use crate::rng::Rng;

/// How often a line is carried onto a scale of its own.
const CARRIED: usize = 2;
/// Excerpts from anywhere that a melody gives.
const WINDOWS: usize = 3;
/// The part of lines that are taken as they might be heard, with mistakes.
const HEARD: f64 = 0.4;
/// The part of those that have an accompaniment which is not all told from them.
const ACCOMPANIED: f64 = 0.25;

/// One line as both kinds of scorer take it.
pub struct Line {
    /// The features of its twelve candidates, one after the other.
    pub rows: Vec<f32>,
    pub sequence: NoteSequence,
    pub notes: usize,
    pub tonic: usize,
    pub tune: usize,
    pub collection: String,
    /// Which classes sound.
    pub sounding: [bool; 12],
    pub variant: String,
    /// 0 major, 1 minor, 2 another mode: what the tune was before it was carried.
    pub mode: usize,
    pub carried: bool,
}

/// All lines of the melodies.
pub fn lines(melodies: &[Melody]) -> Vec<Line> {
    let mut rng = Rng::new(1);
    let mut heard = Vec::new();
    for (m, mode) in all(melodies, &mut rng) {
        let list = if rng.chance(HEARD) {
            heard_as(&m, &mut rng)
        } else {
            note_list(&m)
        };
        heard.push((m, mode, list));
    }
    heard
        .into_par_iter()
        .filter_map(|(m, mode, list)| line(&m, mode, &list))
        .collect()
}

/// Melodies with the mode that they had before they were carried.
fn all(melodies: &[Melody], rng: &mut Rng) -> Vec<(Melody, usize)> {
    let scales = sources(melodies);
    let mut out = Vec::new();
    for m in melodies.iter().filter(|m| m.kind == "real") {
        let mut own = vec![m.clone()];
        if m.variant == "whole" {
            own.extend((0..WINDOWS).map(|_| random_window(m, rng)));
            own.extend(cut_short(m));
        }
        let mode = read_mode(&m.mode);
        if let Some(scale) = scales.get(&m.tune()) {
            for x in own.iter().cycle().take(CARRIED * own.len()) {
                let target = random_scale(rng, scale.len());
                out.push((carry(x, scale, &target), mode));
            }
        }
        if m.variant == "whole" {
            own.push(scale_run(m, rng));
        }
        out.extend(own.into_iter().map(|x| (x, mode)));
    }
    out
}

/// The line as it might be heard.
fn heard_as(m: &Melody, rng: &mut Rng) -> NoteList {
    let mut line = mistakes::uneven(m, rng);
    if rng.chance(ACCOMPANIED) {
        line = mistakes::accompanied(&line, rng);
    }
    mistakes::played(&line, 0.0, rng).0
}

fn note_list(m: &Melody) -> NoteList {
    let note = |n: &(f64, f64, f64)| Note {
        start_s: n.0,
        end_s: n.1,
        midi: n.2,
        confidence: 1.0,
        ornament: None,
    };
    NoteList::from_notes(m.notes.iter().map(note).collect())
}

/// A line with at least one note.
fn line(m: &Melody, mode: usize, list: &NoteList) -> Option<Line> {
    let histogram = Histogram::new(list, None);
    let rows = features(&histogram.notes);
    let sounding = histogram.classes.map(|c| c.count > 0);
    Some(Line {
        sequence: NoteSequence::new(&histogram.notes)?,
        rows: rows.iter().flatten().copied().collect(),
        notes: histogram.notes.len(),
        tonic: m.tonic.rem_euclid(12) as usize,
        tune: m.tune(),
        collection: m.collection.clone(),
        sounding,
        variant: m.variant.clone(),
        mode,
        carried: m.kind == "warp",
    })
}
