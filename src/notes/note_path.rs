//! The likeliest sequence of notes under a pitch track.
//!
//! Method: a hidden Markov model with a state for each quarter of a semitone, one for "no note" and one for "on the way":
//! a glide, scoop or turn that holds no pitch (after M. Ryynänen and A. Klapuri, "Automatic transcription of melody, bass
//! line, and chords in polyphonic music", 2008, and M. Mauch and others, "Computer-aided melody note transcription
//! using the Tony software", 2015; from memory), decoded by dynamic programming (A. Viterbi, 1967). A frame costs a note
//! the squared distance of its pitch, or of the middle of its swing; it costs "no note" more the surer and stiller
//! it is. To begin a note, to leap and to repeat one costs less where the sound rises or the tracker was in doubt; to
//! leap costs more where the pitch glides: a scoop into a note is not a note before it.
//!
//! Decisions are made for `CHUNK` frames at a time with `AHEAD` frames of sight, which bounds the memory.

use super::CALM;
use super::cues::{Cue, Cues, median};

/// Lowest state as a MIDI number, and states in all: up to MIDI 108.
const LOWEST_MIDI: f64 = 22.0;
const STATES: usize = 344;
/// Semitones from state to state.
const STEP: f64 = 0.25;
/// The state in which no note sounds.
const NONE: usize = STATES;
/// The state between two held pitches.
const MOVING: usize = STATES + 1;
/// All states.
const ALL: usize = STATES + 2;
/// Frames that are decided at a time.
const CHUNK: usize = 2_000;
/// Frames that are looked at beyond them.
const AHEAD: usize = 500;
/// A note is not repeated within so many frames: both are one attack. Chosen by hand on pitch corpora (seeds 5, 12, 20).
const ATTACK_FRAMES: usize = 7;
/// The same where the recording is not calm: a consonant or a breathy start with the pitch of the vowel, in which the note
/// begins. Chosen by hand on real singing.
const VOICE_ATTACK_FRAMES: usize = 10;
/// Marks a note that begins again on its own pitch.
const AGAIN: u16 = 1 << 15;

/// A note as the path has it: frames `first..end` at about `midi`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathNote {
    /// First frame.
    pub first: usize,
    /// The frame after the last.
    pub end: usize,
    /// Centre of its state as a fractional MIDI number.
    pub midi: f64,
}

/// Costs in units of the negative logarithm of probability; pitches in semitones, levels in decibels.
///
/// From a random search on made-up performances (tests/fit/make_performances.py, seed 1) and a pitch corpus (seed 5);
/// where both agreed, chosen on real singing. Those for calm recordings from a search on the pitch corpus and an
/// identification corpus (seed 11), performances beside it; hardly a singer's recording is calm.
mod cost {
    /// One unit of distance of a frame from a note.
    pub const SPREAD: f64 = 1.04;
    /// A frame costs no more than this for its distance, squared units.
    pub const MOST_DISTANCE: f64 = 1.51;
    /// How much more the distance of a frame counts that stands still.
    pub const STILL_DISTANCE: f64 = 0.2;
    /// Added where the middle of a swing is taken for the pitch.
    pub const SWING: f64 = 0.184;
    /// The part of a frame's distance that counts however unsure it is. Set by hand.
    pub const LEAST_TRUST: f64 = 0.35;
    /// A frame without pitch in a note or on the way.
    pub const NOTE_UNHEARD: f64 = 1.78;
    /// A frame in a note of which the tracker is not sure at all.
    pub const NOTE_UNSURE: f64 = 1.46;
    /// Sureness up to which a frame is unsure, and from which it is sure (the latter set by hand).
    pub const UNSURE_TO: f64 = 0.03;
    pub const SURE_FROM: f64 = 0.9;
    /// A sure frame of pitch, moving, in "no note", and on the way; and how much more of it if it stands still.
    pub const NONE_VOICED: f64 = 1.84;
    pub const MOVING_VOICED: f64 = 0.904;
    pub const STILL: f64 = 2.79;
    /// A note begins out of "no note": without a sign, and at the least with the strongest.
    pub const BEGIN: f64 = 22.22;
    pub const BEGIN_LEAST: f64 = 2.66;
    /// The part of that where it begins out of a glide. Set by hand.
    pub const BEGIN_FROM_MOVING: f64 = 0.5;
    /// A note ends in "no note"; a glide does.
    pub const END: f64 = 4.85;
    pub const STOP: f64 = 0.5;
    /// From a note or "no note" to being on the way.
    pub const MOVE: f64 = 2.19;
    /// A note follows another at once: without a sign, at the least, and how much more where the pitch does not jump.
    pub const LEAP: f64 = 5.88;
    pub const LEAP_LEAST: f64 = 4.54;
    pub const LEAP_GRADUAL: f64 = 6.0;
    /// What is taken off it in calm recordings where the pitch jumps.
    pub const LEAP_CALM: f64 = 1.4;
    /// What is taken off it where the pitch steps from one held pitch to the next. Chosen by hand on pitch corpora (seeds 5, 12,
    /// 20) and a saxophone's slurred semitones; it leaves singing as it is.
    pub const LEAP_STEP: f64 = 4.0;
    /// What is added to it where the recording is loose, and what an unsure frame in a note costs more there. Chosen among
    /// a few on 67 public recordings of singers and 60 performances of Turkish makam, with 59 other singers, 60 other
    /// performances, lines off the grid and a pitch corpus (seed 5) beside them.
    pub const LEAP_LOOSE: f64 = 0.15;
    pub const NOTE_UNSURE_LOOSE: f64 = 0.44;
    /// What an onset of unit strength, at most so strong, takes off; and a decibel of rise, at most so many.
    pub const ONSET: f64 = 4.26;
    pub const MOST_ONSET: f64 = 8.0;
    pub const RISE: f64 = 0.183;
    pub const MOST_RISE_DB: f64 = 12.0;
    /// A note is repeated on its pitch: without a sign …
    pub const AGAIN: f64 = 23.44;
    /// … and what is taken off it for each unit of an onset, decibel of sudden rise, unit of doubt, decibel of dip, and
    /// for a stroke. It may fall below 0: not to repeat a note that is struck again costs something.
    pub const AGAIN_ONSET: f64 = 0.369;
    /// In calm recordings each unit of an onset, at most so strong, takes off more.
    pub const AGAIN_CALM: f64 = 0.5;
    pub const AGAIN_MOST_ONSET: f64 = 16.0;
    pub const AGAIN_RISE: f64 = 0.289;
    pub const AGAIN_DOUBT: f64 = 8.0;
    pub const AGAIN_DIP: f64 = 0.196;
    pub const AGAIN_STRUCK: f64 = 15.85;
    pub const AGAIN_LEAST: f64 = -15.0;
    /// A decibel below the recording's loud frames, from so many on, at the most.
    pub const WEAK: f64 = 0.196;
    pub const WEAK_FROM_DB: f64 = 7.87;
    pub const MOST_WEAK: f64 = 3.0;
    /// The part of what a weak level and a dip cost that a sure and still pitch excuses.
    pub const STILL_EXCUSED: f64 = 0.55;
    /// A decibel of a dip, from so many on.
    pub const DIP: f64 = 0.092;
    pub const DIP_FROM_DB: f64 = 8.66;
    /// A semitone more than an octave from the middle of the recording.
    pub const FAR: f64 = 0.042;
}

/// A pitch that is held no longer than this and glides into a longer note is how that note was reached, in frames.
const SCOOP_HELD: usize = 22;
/// With what it glides it takes no more frames than this.
const SCOOP_FRAMES: usize = 35;
/// A frame is held within this of the pitch, in semitones.
const SCOOP_WITHIN: f64 = 0.3;
/// The note that it leads into lasts longer by this factor, so that notes of one length joined by slides stay notes, …
const SCOOP_LONGER: f64 = 2.6;
/// … or by this one if it takes and holds no more frames than these.
const BRIEF_LONGER: f64 = 1.6;
const BRIEF_FRAMES: usize = 25;
const BRIEF_HELD: usize = 16;
/// The glide between them takes no more frames than this …
const SCOOP_GAP: usize = 8;
/// … and leads no farther than this, in semitones.
const SCOOP_REACH: f64 = 3.0;
/// About the border the level rises by less than this within two frames, in decibels, …
const SCOOP_RISE_DB: f64 = 6.0;
/// … or by less than this if the short pitch stands as a string's, a key's or a wind's does, which is how still it is at the
/// median; chosen on made-up classes (seeds 11 and 12) and a pitch corpus (seed 5), it leaves singing as it is …
const STANDING_RISE_DB: f64 = 1.5;
const STANDING: f64 = 0.8;
/// … and the pitch moves by less than this from frame to frame, in semitones. These were chosen by hand on
/// the same performances as the costs.
const SCOOP_STEP: f64 = 0.7;
/// Frames to either side of the border that are looked at.
const SCOOP_ABOUT: usize = 3;

/// The notes of a track, in order.
pub fn notes(cues: &Cues) -> Vec<PathNote> {
    join_scoops(cues, notes_of_path(cues))
}

/// Gives each scoop and bend to the note that it leads into.
fn join_scoops(cues: &Cues, notes: Vec<PathNote>) -> Vec<PathNote> {
    let mut out: Vec<PathNote> = Vec::new();
    for mut note in notes {
        while let Some(before) = out.last()
            && is_scoop(cues, before, &note)
        {
            note.first = before.first;
            out.pop();
        }
        out.push(note);
    }
    out
}

/// Whether a short pitch glides into the next one without a new stroke.
fn is_scoop(cues: &Cues, short: &PathNote, into: &PathNote) -> bool {
    let length = short.end - short.first;
    let distance = (short.midi - into.midi).abs();
    if length > SCOOP_FRAMES
        || into.first - short.end > SCOOP_GAP
        || distance == 0.0
        || distance > SCOOP_REACH
    {
        return false;
    }
    let held = held_frames(cues, short);
    let is_brief = length <= BRIEF_FRAMES && held <= BRIEF_HELD;
    let longer = if is_brief { BRIEF_LONGER } else { SCOOP_LONGER };
    if held > SCOOP_HELD || ((into.end - into.first) as f64) < longer * length as f64 {
        return false;
    }
    let about = short.end.saturating_sub(SCOOP_ABOUT)..(into.first + SCOOP_ABOUT).min(cues.count());
    let about: Vec<Cue> = about.map(|k| cues.get(k)).collect();
    let steps = |pair: &[Cue]| {
        pair[0]
            .midi
            .zip(pair[1].midi)
            .is_some_and(|(a, b)| (a - b).abs() < SCOOP_STEP)
    };
    let most_rise_db = if stands(cues, short) {
        STANDING_RISE_DB
    } else {
        SCOOP_RISE_DB
    };
    about.iter().all(|c| c.sudden_rise_db < most_rise_db) && about.windows(2).all(steps)
}

/// Whether the pitch of a note stands.
fn stands(cues: &Cues, note: &PathNote) -> bool {
    let stillness = (note.first..note.end).map(|k| cues.get(k).smooth_stillness);
    median(stillness).is_some_and(|m| m > STANDING)
}

/// Frames of a note that lie near its middle pitch.
fn held_frames(cues: &Cues, note: &PathNote) -> usize {
    let own = (note.first..note.end).filter_map(|k| cues.get(k).midi);
    let pitches: Vec<f64> = own.collect();
    let Some(middle) = median(pitches.iter().copied()) else {
        return 0;
    };
    pitches
        .iter()
        .filter(|p| (*p - middle).abs() < SCOOP_WITHIN)
        .count()
}

fn notes_of_path(cues: &Cues) -> Vec<PathNote> {
    let calm = cues.calm();
    let mut notes: Vec<PathNote> = Vec::new();
    Decoder::new(cues).decide(cues, &mut |k, (state, begins)| {
        if state as usize >= STATES {
            return;
        }
        let goes_on =
            |last: &&mut PathNote| last.end == k && (!begins || is_attack(last, state, calm));
        if let Some(last) = notes.last_mut().filter(goes_on) {
            if begins && calm <= CALM {
                last.first = k;
            }
            last.end = k + 1;
            last.midi = midi_of(state as usize);
        } else {
            notes.push(PathNote {
                first: k,
                end: k + 1,
                midi: midi_of(state as usize),
            });
        }
    });
    notes
}

/// Whether a note that begins again has hardly begun: both are one attack.
fn is_attack(last: &PathNote, state: u16, calm: f64) -> bool {
    let least = if calm > CALM {
        ATTACK_FRAMES
    } else {
        VOICE_ATTACK_FRAMES
    };
    last.end - last.first < least && (last.midi - midi_of(state as usize)).abs() <= STEP
}

fn midi_of(state: usize) -> f64 {
    LOWEST_MIDI + STEP * state as f64
}

/// The middle pitch of the surer frames.
fn middle_pitch(cues: &Cues) -> f64 {
    let sure = cues.iter().filter(|c| c.sureness > 0.5);
    median(sure.filter_map(|c| c.midi)).unwrap_or(0.0)
}

/// Costs of the ways into a note at one frame.
struct Entrance {
    /// From "no note".
    begin: f64,
    /// From another pitch.
    leap: f64,
    /// From the same pitch.
    again: f64,
}

struct Decoder {
    middle: f64,
    calm: f64,
    loose: f64,
    costs: Vec<f64>,
    next: Vec<f64>,
    /// State before each state, frame by frame, from the first undecided frame on.
    from: Vec<[u16; ALL]>,
}

impl Decoder {
    fn new(cues: &Cues) -> Self {
        let mut costs = vec![f64::from(f32::MAX); ALL];
        costs[NONE] = 0.0;
        Self {
            middle: middle_pitch(cues),
            calm: cues.calm(),
            loose: cues.loose(),
            next: costs.clone(),
            costs,
            from: Vec::with_capacity(CHUNK + AHEAD),
        }
    }

    /// Tells of each frame its number, its state and whether a note begins there.
    fn decide(mut self, cues: &Cues, tell: &mut impl FnMut(usize, (u16, bool))) {
        let mut told = 0;
        for cue in cues.iter() {
            self.advance(&cue);
            if self.from.len() == CHUNK + AHEAD {
                let decided = self.trace();
                for place in &decided[..CHUNK] {
                    tell(told, *place);
                    told += 1;
                }
                self.from.drain(..CHUNK);
            }
        }
        for place in self.trace() {
            tell(told, place);
            told += 1;
        }
    }

    /// The likeliest states of all undecided frames.
    fn trace(&self) -> Vec<(u16, bool)> {
        let mut state = (0..ALL)
            .min_by(|&a, &b| self.costs[a].total_cmp(&self.costs[b]))
            .unwrap_or(NONE);
        let mut path = vec![(0, false); self.from.len()];
        for (place, from) in path.iter_mut().zip(&self.from).rev() {
            let before = from[state];
            let begins = before & AGAIN > 0 || usize::from(before) != state;
            *place = (state as u16, begins);
            state = usize::from(before & !AGAIN);
        }
        path
    }

    fn advance(&mut self, cue: &Cue) {
        let mut from = [0u16; ALL];
        let best = (0..STATES)
            .min_by(|&a, &b| self.costs[a].total_cmp(&self.costs[b]))
            .unwrap_or(0);
        self.enter_notes(cue, best, &mut from);
        self.enter_others(cue, best, &mut from);
        let lowest = self.next.iter().copied().fold(f64::MAX, f64::min);
        for (cost, next) in self.costs.iter_mut().zip(&self.next) {
            *cost = next - lowest;
        }
        self.from.push(from);
    }

    fn enter_notes(&mut self, cue: &Cue, best: usize, from: &mut [u16; ALL]) {
        let entrance = self.entrance(cue);
        let ways = [
            (self.costs[NONE] + entrance.begin, NONE),
            (
                self.costs[MOVING] + cost::BEGIN_FROM_MOVING * entrance.begin,
                MOVING,
            ),
            (self.costs[best] + entrance.leap, best),
        ];
        let (enter, way) = ways
            .into_iter()
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .unwrap_or(ways[0]);
        let voicing = voicing(cue);
        let base = unlikely(cue, self.calm)
            + if cue.midi.is_some() {
                (cost::NOTE_UNSURE + cost::NOTE_UNSURE_LOOSE * self.loose) * (1.0 - voicing)
            } else {
                cost::NOTE_UNHEARD
            };
        let trust = (cost::LEAST_TRUST + (1.0 - cost::LEAST_TRUST) * voicing)
            * (1.0 + cost::STILL_DISTANCE * self.calm * cue.stillness);
        for state in 0..STATES {
            let stay = self.costs[state];
            let (mut total, mut before) = (stay, state as u16);
            if enter < total {
                (total, before) = (enter, way as u16);
            }
            if stay + entrance.again < total {
                (total, before) = (stay + entrance.again, state as u16 | AGAIN);
            }
            let heard = cue.midi.map_or(0.0, |midi| {
                let pitch = midi_of(state);
                let far = ((pitch - self.middle).abs() - 12.0).max(0.0);
                trust * distance(cue, midi, pitch) + cost::FAR * far
            });
            self.next[state] = total + base + heard;
            from[state] = before;
        }
    }

    fn enter_others(&mut self, cue: &Cue, best: usize, from: &mut [u16; ALL]) {
        let note = (self.costs[best], best);
        let none = (self.costs[NONE], NONE);
        let moving = (self.costs[MOVING], MOVING);
        let nearest = |ways: [(f64, usize); 3]| {
            ways.into_iter()
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .unwrap_or(ways[0])
        };
        let heard = voicing(cue) * (1.0 + cost::STILL * cue.stillness);
        let voiced = cue.midi.is_some();
        let (total, before) = nearest([
            none,
            (note.0 + cost::END, note.1),
            (moving.0 + cost::STOP, moving.1),
        ]);
        self.next[NONE] = total
            + if voiced {
                cost::NONE_VOICED * heard
            } else {
                0.0
            };
        from[NONE] = before as u16;
        let (total, before) = nearest([
            moving,
            (note.0 + cost::MOVE, note.1),
            (none.0 + cost::MOVE, none.1),
        ]);
        self.next[MOVING] = total
            + if voiced {
                cost::MOVING_VOICED * heard
            } else {
                cost::NOTE_UNHEARD
            };
        from[MOVING] = before as u16;
    }

    fn entrance(&self, cue: &Cue) -> Entrance {
        let onset = cue.onset.min(cost::MOST_ONSET);
        let rise = cue.rise_db.min(cost::MOST_RISE_DB);
        let struck = if onset > 0.0 {
            cost::ONSET * onset + cost::RISE * (rise - 2.0).max(0.0)
        } else {
            0.5 * cost::RISE * (rise - 3.0).max(0.0)
        };
        let sudden = (cue.sudden_rise_db.min(15.0) - 1.0).max(0.0);
        let again = cost::AGAIN
            - cost::AGAIN_ONSET * onset
            - cost::AGAIN_CALM * self.calm * (cue.onset.min(cost::AGAIN_MOST_ONSET))
            - cost::AGAIN_RISE * sudden
            - cost::AGAIN_DOUBT * cue.doubt
            - cost::AGAIN_DIP * cue.recent_dip_db.min(12.0)
            - if cue.is_struck {
                cost::AGAIN_STRUCK
            } else {
                0.0
            };
        Entrance {
            begin: (cost::BEGIN - struck).max(cost::BEGIN_LEAST),
            leap: (cost::LEAP - struck).max(cost::LEAP_LEAST) + cost::LEAP_LOOSE * self.loose
                - cost::LEAP_CALM * self.calm * cue.abruptness
                - cost::LEAP_STEP * cue.step
                + cost::LEAP_GRADUAL * (1.0 - cue.abruptness),
            again: again.max(cost::AGAIN_LEAST),
        }
    }
}

/// 0 to 1: how far the tracker's confidence says that a note sounds.
fn voicing(cue: &Cue) -> f64 {
    ((cue.sureness - cost::UNSURE_TO) / (cost::SURE_FROM - cost::UNSURE_TO)).clamp(0.02, 1.0)
}

/// What speaks against a note at any pitch: a weak level, a dip.
fn unlikely(cue: &Cue, calm: f64) -> f64 {
    let weak = cost::WEAK * (cue.below_db - cost::WEAK_FROM_DB).max(0.0);
    let dip = (cue.dip_db - cost::DIP_FROM_DB).clamp(0.0, 15.0);
    let excused = cost::STILL_EXCUSED * calm * cue.stillness * voicing(cue);
    (1.0 - excused) * (weak.min(cost::MOST_WEAK) + cost::DIP * dip)
}

/// Squared distance of a frame from a pitch, or of the middle of its swing.
fn distance(cue: &Cue, midi: f64, pitch: f64) -> f64 {
    let square = |from: f64| ((from - pitch) / cost::SPREAD).powi(2);
    let swing = cue.middle.map_or(f64::MAX, |m| square(m) + cost::SWING);
    square(midi).min(swing).min(cost::MOST_DISTANCE)
}
