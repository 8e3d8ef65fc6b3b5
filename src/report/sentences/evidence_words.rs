//! The features by which the scale stage judges a centre, in a musician's words.

use Matter::*;
use Side::*;

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

/// A feature's matter and its side, and what it says where a note has more or less of it than the others. `{}` is the note,
/// `{5}` and `{4}` the notes a fifth and a fourth above it. What has no words is not told.
type Words = (Matter, Side, &'static str, &'static str);

/// What each feature of the scale stage says.
#[rustfmt::skip]
fn words(feature: Feature) -> Words {
    use Feature::*;
    match feature {
        LastNote => (Ending, For, "the line ends on {}", "the line does not end on {}"),
        LastNoteLong => (Ending, For, "the line ends on {} and stays there", "the line does not come to rest on {} at its end"),
        LastNoteLow => (Ending, For, "the line ends low, on {}", "the line does not end low, on {}"),
        ShareOfLastQuarter => (Ending, For, "the last quarter of the line dwells on {}", "the last quarter of the line hardly touches {}"),
        PhraseEnds => (Resting, For, "phrases end on {}", "phrases seldom end on {}"),
        PhraseEndsByLength => (Resting, For, "phrases come to rest on {}", "phrases seldom come to rest on {}"),
        LastPhraseEnds => (Resting, For, "the phrases before the last end on {}", "the phrases before the last end elsewhere than on {}"),
        EndsAtLongestRests => (Resting, For, "the longest rests come after {}", "the longest rests come after other notes than {}"),
        FirstNote => (Beginning, For, "the line begins on {}", "the line does not begin on {}"),
        FirstLongNote => (Beginning, For, "{} is the first long note", "{} is not the first long note"),
        PhraseStarts => (Beginning, For, "phrases begin on {}", "phrases seldom begin on {}"),
        ShareOfFirstQuarter => (Beginning, For, "the first quarter of the line dwells on {}", "the first quarter of the line hardly touches {}"),
        ShareOfTime => (Time, For, "{} sounds for much of the time", "{} sounds for little of the time"),
        ShareAgainstStrongest => (Time, For, "{} sounds longest in all", "other notes sound longer than {}"),
        ShareOfNotes => (Time, Either, "{} is played often", ""),
        MostTime => (Time, For, "{} sounds longest in all", "{} does not sound longest"),
        MostNotes => (Time, For, "{} is played most often", "{} is not played most often"),
        Absent => (Time, Against, "{} is not played", ""),
        ShareOfLongNotes => (Time, For, "{} has many of the long notes", "{} has few of the long notes"),
        LongestNote => (Time, For, "{} is the longest note", "{} is not the longest note"),
        MeanLength => (Time, For, "{} is held longer than most notes", "{} is held no longer than other notes"),
        LowestNote => (Height, For, "{} is the lowest note", "{} is not the lowest note"),
        FourthAboveLowest => (Height, Either, "{} lies a fourth above the lowest note", ""),
        HighestNote => (Height, Against, "{} is the highest note", "{} is not the highest note"),
        TurningPointsBelow => (Height, For, "the line turns back up at {}", "the line seldom turns back up at {}"),
        TurningPointsAbove => (Height, Against, "the line turns back down at {}", "the line seldom turns back down at {}"),
        MeanHeight => (Height, Against, "{} lies high in the line", "{} lies low in the line"),
        HeightAboveLowest => (Height, Against, "{} lies well above the lowest note", "{} lies close above the lowest note"),
        OctaveLeap => (Height, Either, "the line leaps by an octave to {}", ""),
        Octaves => (Height, Either, "{} sounds in several octaves", ""),
        TimeOfFifthAbove => (Fifths, For, "{5}, a fifth above {}, sounds for much of the time", "{5}, a fifth above {}, sounds for little of the time"),
        TimeOfFourthAbove => (Fifths, Either, "{4}, a fourth above {}, sounds for much of the time", ""),
        FifthAbove => (Fifths, For, "{5}, a fifth above {}, is played", "{5}, a fifth above {}, is not played"),
        FourthAbove => (Fifths, Either, "{4}, a fourth above {}, is played", ""),
        ReachedFromFifth => (Fifths, For, "{5} leads by a fifth down (or a fourth up) to {}", "{5} seldom leads by a fifth to {}"),
        ReachedFromFourth => (Fifths, Either, "{4} leads by a fourth down (or a fifth up) to {}", ""),
        Repeated => (Motion, Either, "{} is repeated", ""),
        ShareOfLastNotes => (Ending, For, "the last notes dwell on {}", "the last notes hardly touch {}"),
        ShareOfLaterNotes => (Ending, For, "the later notes dwell on {}", "the later notes hardly touch {}"),
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

const NOT_PLAYED: &str = "{n} is not played";

/// What a feature of the note some semitones above says, `{n}`, where a note has more or less of it than the others.
fn words_above(relation: Above) -> (&'static str, &'static str) {
    match relation {
        Above::Time => (
            "{n} sounds for much of the time",
            "{n} sounds for little of the time",
        ),
        Above::IsThere => ("{n} is played", NOT_PLAYED),
        Above::ReachedFrom => ("{n} leads to {}", "{n} seldom leads to {}"),
        Above::LeftFor => ("{} leads to {n}", "{} seldom leads to {n}"),
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
    /// With `{}` for the note, and `{n}` for another. `None` where it is not told: features overlap, and what one takes
    /// back of another's weight is no reason that a musician would give.
    pub words: Option<String>,
    /// Semitones from the note up to the other.
    pub up: i64,
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
        Clue::Drone => {
            let held = "{} is held beneath the line".to_string();
            Said {
                matter: Drone,
                words: (amount(e, 0.0) == Amount::Much && e.weight > 0.0).then_some(held),
                up: 0,
            }
        }
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
        words: (makes_sense && !words.is_empty())
            .then(|| words.replace("{5}", "{n}").replace("{4}", "{n}")),
        up: if much.starts_with("{4}") { 5 } else { 7 },
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
        words: words.map(str::to_string),
        up: up as i64,
    }
}
