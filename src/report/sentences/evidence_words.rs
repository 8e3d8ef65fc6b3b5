//! The features by which the scale stage judges a centre, in a musician's words.

use Matter::*;
use Side::*;

use crate::report::words::word;
use crate::scale::{Above, CandidateFeature, Clue, Evidence, Feature, Topic};

/// What the features are about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Matter {
    Ending,
    Resting,
    Beginning,
    Time,
    Height,
    Fifths,
    Motion,
    Scale,
    Drone,
}

/// All of them, in the order in which they are told where they weigh the same.
pub const MATTERS: [Matter; 9] = [
    Ending, Resting, Beginning, Time, Height, Fifths, Motion, Scale, Drone,
];

/// What it speaks for where a note has more of a feature than the others have.
#[derive(Clone, Copy, PartialEq)]
enum Side {
    /// That the note is the centre; less of it speaks against that.
    For,
    /// The other way round.
    Against,
    /// Either, as the line may be.
    Either,
}

/// A feature's matter and its side, and the keys of what it says where a note has more or less of it than the others. In
/// the table `{note}` is the note, `{other}` the one a fifth or a fourth above it. What has no key is not told.
type Words = (Matter, Side, &'static str, &'static str);

/// Where each feature's words stand in the table.
#[rustfmt::skip]
fn words(feature: Feature) -> Words {
    use Feature::*;
    match feature {
        LastNote => (Ending, For, "evidence.last_note", "evidence.last_note.not"),
        LastNoteLong => (Ending, For, "evidence.last_note_long", "evidence.last_note_long.not"),
        LastNoteLow => (Ending, For, "evidence.last_note_low", "evidence.last_note_low.not"),
        ShareOfLastQuarter => (Ending, For, "evidence.share_of_last_quarter", "evidence.share_of_last_quarter.not"),
        PhraseEnds => (Resting, For, "evidence.phrase_ends", "evidence.phrase_ends.not"),
        PhraseEndsByLength => (Resting, For, "evidence.phrase_ends_by_length", "evidence.phrase_ends_by_length.not"),
        LastPhraseEnds => (Resting, For, "evidence.last_phrase_ends", "evidence.last_phrase_ends.not"),
        EndsAtLongestRests => (Resting, For, "evidence.ends_at_longest_rests", "evidence.ends_at_longest_rests.not"),
        FirstNote => (Beginning, For, "evidence.first_note", "evidence.first_note.not"),
        FirstLongNote => (Beginning, For, "evidence.first_long_note", "evidence.first_long_note.not"),
        PhraseStarts => (Beginning, For, "evidence.phrase_starts", "evidence.phrase_starts.not"),
        ShareOfFirstQuarter => (Beginning, For, "evidence.share_of_first_quarter", "evidence.share_of_first_quarter.not"),
        ShareOfTime => (Time, For, "evidence.share_of_time", "evidence.share_of_time.not"),
        ShareAgainstStrongest => (Time, For, "evidence.share_against_strongest", "evidence.share_against_strongest.not"),
        ShareOfNotes => (Time, Either, "evidence.share_of_notes", ""),
        MostTime => (Time, For, "evidence.most_time", "evidence.most_time.not"),
        MostNotes => (Time, For, "evidence.most_notes", "evidence.most_notes.not"),
        Absent => (Time, Against, "evidence.absent", ""),
        ShareOfLongNotes => (Time, For, "evidence.share_of_long_notes", "evidence.share_of_long_notes.not"),
        LongestNote => (Time, For, "evidence.longest_note", "evidence.longest_note.not"),
        MeanLength => (Time, For, "evidence.mean_length", "evidence.mean_length.not"),
        LowestNote => (Height, For, "evidence.lowest_note", "evidence.lowest_note.not"),
        FourthAboveLowest => (Height, Either, "evidence.fourth_above_lowest", ""),
        HighestNote => (Height, Against, "evidence.highest_note", "evidence.highest_note.not"),
        TurningPointsBelow => (Height, For, "evidence.turning_points_below", "evidence.turning_points_below.not"),
        TurningPointsAbove => (Height, Against, "evidence.turning_points_above", "evidence.turning_points_above.not"),
        MeanHeight => (Height, Against, "evidence.mean_height", "evidence.mean_height.not"),
        HeightAboveLowest => (Height, Against, "evidence.height_above_lowest", "evidence.height_above_lowest.not"),
        OctaveLeap => (Height, Either, "evidence.octave_leap", ""),
        Octaves => (Height, Either, "evidence.octaves", ""),
        TimeOfFifthAbove => (Fifths, For, "evidence.time_of_fifth_above", "evidence.time_of_fifth_above.not"),
        TimeOfFourthAbove => (Fifths, Either, "evidence.time_of_fourth_above", ""),
        FifthAbove => (Fifths, For, "evidence.fifth_above", "evidence.fifth_above.not"),
        FourthAbove => (Fifths, Either, "evidence.fourth_above", ""),
        ReachedFromFifth => (Fifths, For, "evidence.reached_from_fifth", "evidence.reached_from_fifth.not"),
        ReachedFromFourth => (Fifths, Either, "evidence.reached_from_fourth", ""),
        Repeated => (Motion, Either, "evidence.repeated", ""),
        ShareOfLastNotes => (Ending, For, "evidence.share_of_last_notes", "evidence.share_of_last_notes.not"),
        ShareOfLaterNotes => (Ending, For, "evidence.share_of_later_notes", "evidence.share_of_later_notes.not"),
        LastNoteButOne | LastNoteButTwo | LastNoteOneStepAbove | LastNoteTwoStepsAbove | LastNoteThreeStepsAbove | LastNoteFourStepsAbove | LastNoteOneStepBelow | LastNoteTwoStepsBelow => (Ending, Either, "", ""),
        SecondNote | FirstNoteTwoStepsAbove | FirstNoteFourStepsAbove | FirstNoteThreeStepsBelow => (Beginning, Either, "", ""),
        ReachedByStepFromBelow | ReachedByStepFromAbove | LeftByStep | LeftByLeap | ReachedByLeap | ReachedByScaleStepFromAbove | ReachedByScaleStepFromBelow | LeftByScaleStep | ReachedByScaleLeap => (Motion, Either, "", ""),
        TimeOneStepAbove | TimeTwoStepsAbove | TimeThreeStepsAbove | TimeFourStepsAbove | TimeOneStepBelow => (Time, Either, "", ""),
        EarlierPhraseEndsOneStepAbove | EarlierPhraseEndsTwoStepsAbove | EarlierPhraseEndsFourStepsAbove | EarlierPhraseEndsOneStepBelow => (Resting, Either, "", ""),
        LowestNoteOneStepBelow | LowestNoteTwoStepsBelow | LowestNoteThreeStepsBelow => (Height, Either, "", ""),
        NoteCount | ClassCount | LengthOfLastNote | PhraseEndRate | AgreeingPhraseEnds => (Time, Either, "", ""),
    }
}

/// What a network that reads the line makes of a topic adds to the weight of a matter; the features say it in words.
fn matter_of(topic: Topic) -> Matter {
    match topic {
        Topic::End => Ending,
        Topic::PhraseEnds => Resting,
        Topic::Beginning => Beginning,
        Topic::Lengths => Time,
        Topic::Height => Height,
        Topic::Motion => Motion,
    }
}

const NOT_PLAYED: &str = "evidence.above.played.not";

/// What a feature of the note some semitones above, `{other}`, says where a note has more or less of it than the others.
fn words_above(relation: Above) -> (&'static str, &'static str) {
    match relation {
        Above::Time => ("evidence.above.time", "evidence.above.time.not"),
        Above::IsThere => ("evidence.above.played", NOT_PLAYED),
        Above::ReachedFrom => ("evidence.above.leads_to", "evidence.above.leads_to.not"),
        Above::LeftFor => ("evidence.above.left_for", "evidence.above.left_for.not"),
    }
}

/// What a feature has to reach for its words to be true of a line, where that is more than the mean note has. Octaves
/// are counted in thirds: from 0.5 on a note sounds in two or more. Engineering judgement, all of them.
fn much_from(feature: Feature) -> f64 {
    use Feature::*;
    match feature {
        Octaves => 0.5,
        ShareAgainstStrongest => 1.0,
        ShareOfTime | TimeOfFifthAbove | TimeOfFourthAbove => 0.2,
        ShareOfFirstQuarter | ShareOfLastQuarter | ShareOfLastNotes => 0.4,
        ShareOfLaterNotes => 0.3,
        _ => 0.0,
    }
}

/// The same for the time of any note of the scale.
const MUCH_TIME: f64 = 0.2;

/// Features of which a note that is not played has none, which other features say better.
fn is_of_played(feature: Feature) -> bool {
    use Feature::*;
    matches!(feature, ShareOfTime | TimeOfFifthAbove | TimeOfFourthAbove)
}

/// What a piece of evidence is about, and what it says.
pub struct Said {
    pub matter: Matter,
    /// With `{note}` for the note, and `{other}` for another. `None` where it is not told: features overlap, and what one takes
    /// back of another's weight is no reason that a musician would give.
    pub words: Option<&'static str>,
    /// Semitones from the note up to the other.
    pub up: i64,
}

/// Features that are about the note a fourth above; others that name one are about that a fifth above.
fn is_of_fourth(feature: Feature) -> bool {
    use Feature::*;
    matches!(feature, TimeOfFourthAbove | FourthAbove | ReachedFromFourth)
}

/// How much of a feature a note has.
#[derive(Clone, Copy, PartialEq)]
enum Amount {
    /// So much that it can be said.
    Much,
    /// No less than the mean note, and not much.
    Middling,
    /// Less than the mean note.
    Little,
    None,
}

fn amount(e: &Evidence, much_from: f64) -> Amount {
    match e.value {
        v if v > e.usual && v >= much_from => Amount::Much,
        v if v > e.usual => Amount::Middling,
        0.0 => Amount::None,
        _ => Amount::Little,
    }
}

/// Puts a piece of evidence into words.
pub fn said(e: &Evidence) -> Said {
    match e.what {
        Clue::Feature(CandidateFeature::AnyScale(feature)) => said_of(e, feature),
        Clue::Feature(CandidateFeature::Above(relation, up)) => said_above(e, relation, up),
        Clue::Topic(topic) => Said {
            matter: matter_of(topic),
            words: None,
            up: 0,
        },
        Clue::Drone => Said {
            matter: Drone,
            words: (amount(e, 0.0) == Amount::Much && e.weight > 0.0)
                .then(|| word("evidence.drone")),
            up: 0,
        },
    }
}

fn said_of(e: &Evidence, feature: Feature) -> Said {
    let (matter, side, much, little) = words(feature);
    let amount = amount(e, much_from(feature));
    let is_for = e.weight > 0.0;
    let makes_sense = match side {
        For => (amount == Amount::Much) == is_for,
        Against => (amount == Amount::Much) != is_for,
        Either => true,
    };
    let words = match amount {
        Amount::Much => much,
        Amount::Middling => "",
        Amount::None if is_of_played(feature) => "",
        Amount::Little | Amount::None => little,
    };
    Said {
        matter,
        words: (makes_sense && !words.is_empty()).then(|| word(words)),
        up: if is_of_fourth(feature) { 5 } else { 7 },
    }
}

/// What a feature of the note some semitones above says.
fn said_above(e: &Evidence, relation: Above, up: usize) -> Said {
    let (much, little) = words_above(relation);
    let is_time = relation == Above::Time;
    let words = match amount(e, if is_time { MUCH_TIME } else { 0.0 }) {
        Amount::Much => Some(much),
        Amount::Middling => None,
        Amount::None if is_time => Some(NOT_PLAYED),
        Amount::Little | Amount::None => Some(little),
    };
    Said {
        matter: Scale,
        words: words.map(word),
        up: up as i64,
    }
}
