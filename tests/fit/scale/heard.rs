//! What the tracker makes of recordings whose notes are known, so that the set is fitted on its real mistakes.

use std::path::Path;

use rayon::prelude::*;
use serde::Deserialize;
use whichmode::decode::SoundReader;
use whichmode::notes::{NoteList, transcribe};
use whichmode::pitch::Tracker;

/// A recording of a corpus with the classes that were played on purpose.
#[derive(Deserialize)]
struct Recording {
    file: String,
    group: String,
    #[serde(default)]
    full_set: Vec<usize>,
    #[serde(default)]
    core_set: Vec<usize>,
}

/// Notes as heard, with what is true of each pitch class: in the set, not in it, or too rare to say.
pub struct Heard {
    pub notes: NoteList,
    pub truth: [Option<f32>; 12],
}

/// Hears every recording of a corpus folder (manifest.jsonl, audio/) but those of tuned strings.
pub fn hear(folder: &Path) -> Vec<Heard> {
    let manifest = std::fs::read_to_string(folder.join("manifest.jsonl")).expect("manifest.jsonl");
    let recordings: Vec<Recording> = manifest.lines().map(|l| serde_json::from_str(l).expect("a recording")).collect();
    recordings.par_iter().filter(|r| r.group != "strings").filter_map(|r| heard(folder, r)).collect()
}

fn heard(folder: &Path, recording: &Recording) -> Option<Heard> {
    let mut reader = SoundReader::open(&folder.join(&recording.file)).ok()?;
    let mut tracker = Tracker::new(reader.rate_hz());
    while let Some(block) = reader.next_block().ok()? {
        tracker.push(block);
    }
    let truth = std::array::from_fn(|k| match (recording.core_set.contains(&k), recording.full_set.contains(&k)) {
        (true, _) => Some(1.0),
        (false, true) => None,
        (false, false) => Some(0.0),
    });
    Some(Heard { notes: transcribe(&tracker.finish()), truth })
}
