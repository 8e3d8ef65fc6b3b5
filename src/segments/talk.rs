//! Which frames are talk and which are playing: the likeliest path through the two.
//!
//! How the pitch rests in a frame ([`Rest`]), or how it moves about it (`standing`), speaks for one of the two; a change costs something, little in a pause and much
//! in the middle of a note (A. Viterbi, "Error bounds for convolutional codes", 1967).

use crate::notes::steadiness::Rest;
use crate::pitch::FRAME_S;

/// What a frame says for playing against talk, as a natural logarithm, in singing. Frames lean on their neighbours, so that this is far
/// less than what one alone would say. From the parts of frames in 120 made lessons of seeds 1 and 3, watched on public
/// singing.
pub fn for_playing(rest: Rest) -> f64 {
    match rest {
        Rest::Held => 0.053,
        Rest::Kept => -0.03,
        Rest::Left => -0.031,
        Rest::Adrift => -0.028,
        Rest::Silent => -0.0075,
        Rest::Hissed => -0.25,
        Rest::Fleeting => -0.09,
    }
}

/// What a change costs where there is no pitch. These were chosen on the same lessons.
const CHANGE: f64 = 6.0;
/// What a second of pause takes off that …
const OFF_PER_SECOND: f64 = 6.6;
/// … up to this long.
const LONGEST_S: f64 = 0.5;
/// What a change costs more at the beginning of a note, and within one.
const AT_ONSET: f64 = 3.7;
const WITHIN: f64 = 4.5;

/// Whether each frame is talk; `favours` is what each says for playing.
pub fn is_talk(rests: &[Rest], onsets: &[usize], favours: impl Iterator<Item = f64>) -> Vec<bool> {
    let costs = costs(rests, onsets);
    let (mut playing, mut talk) = (0.0, 0.0);
    let mut turned: Vec<[bool; 2]> = Vec::with_capacity(rests.len());
    for (favour, cost) in favours.zip(&costs) {
        let from_talk = talk - cost > playing;
        let from_playing = playing - cost > talk;
        let before = (playing, talk);
        playing = if from_talk { before.1 - cost } else { before.0 } + favour;
        talk = if from_playing {
            before.0 - cost
        } else {
            before.1
        } - favour;
        turned.push([from_talk, from_playing]);
    }
    let mut state = usize::from(talk > playing);
    let mut path = vec![false; rests.len()];
    for (k, turned) in turned.iter().enumerate().rev() {
        path[k] = state == 1;
        if turned[state] {
            state = 1 - state;
        }
    }
    path
}

/// What a change costs at each frame.
fn costs(rests: &[Rest], onsets: &[usize]) -> Vec<f64> {
    let mut costs: Vec<f64> = vec![CHANGE + WITHIN; rests.len()];
    for &k in onsets.iter().filter(|&&k| k < rests.len()) {
        costs[k] = CHANGE + AT_ONSET;
    }
    let mut first = 0;
    for run in rests.chunk_by(|a, b| (*a == Rest::Silent) == (*b == Rest::Silent)) {
        if run[0] == Rest::Silent {
            let pause_s = (run.len() as f64 * FRAME_S).min(LONGEST_S);
            costs[first..first + run.len()].fill(CHANGE - OFF_PER_SECOND * pause_s);
        }
        first += run.len();
    }
    costs
}
