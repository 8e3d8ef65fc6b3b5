//! The features of a candidate for the centre: their names and their order.

use crate::network::features;

features! {
    /// What carries over to any scale. The first `CARRIES_OVER` of them know of no scale at all; the rest counts in
    /// scale steps.
    pub enum Feature {
        ShareOfTime = "share of time",
        ShareOfNotes = "share of notes",
        MostTime = "most time",
        MostNotes = "most notes",
        Absent = "absent",
        LastNote = "last note",
        LastNoteLong = "last note, long",
        LastNoteLow = "last note, in the lower half",
        LastNoteButOne = "last note but one",
        LastNoteButTwo = "last note but two",
        PhraseEnds = "phrase ends",
        PhraseEndsByLength = "phrase ends, by length",
        LastPhraseEnds = "the two phrase ends before the last",
        EndsAtLongestRests = "end at the longest rests",
        FirstNote = "first note",
        FirstLongNote = "first long note",
        SecondNote = "second note",
        PhraseStarts = "phrase starts",
        ShareOfLongNotes = "share of long notes",
        LongestNote = "longest note",
        MeanLength = "mean length",
        LowestNote = "lowest note",
        FourthAboveLowest = "a fourth above the lowest note",
        HighestNote = "highest note",
        TurningPointsBelow = "turning points below",
        TurningPointsAbove = "turning points above",
        MeanHeight = "mean height",
        HeightAboveLowest = "height above the lowest note",
        TimeOfFifthAbove = "time of the fifth above",
        TimeOfFourthAbove = "time of the fourth above",
        FifthAbove = "fifth above is there",
        FourthAbove = "fourth above is there",
        ReachedFromFifth = "fifth below it falls in",
        ReachedFromFourth = "fourth below it rises in",
        ReachedByStepFromBelow = "reached by step from below",
        ReachedByStepFromAbove = "reached by step from above",
        LeftByStep = "left by step",
        LeftByLeap = "left by leap",
        ReachedByLeap = "reached by leap",
        Repeated = "repeated",
        OctaveLeap = "octave leap",
        Octaves = "octaves in which it sounds",
        ShareOfLastQuarter = "share of the last quarter",
        ShareOfFirstQuarter = "share of the first quarter",
        NoteCount = "all notes (log)",
        ClassCount = "classes",
        LengthOfLastNote = "length of the last note",
        PhraseEndRate = "phrase ends there are",
        AgreeingPhraseEnds = "phrase ends at the same place as the last note",
        ShareAgainstStrongest = "share of time against the strongest",
        LastNoteOneStepAbove = "last note a step above",
        LastNoteTwoStepsAbove = "last note two steps above",
        LastNoteThreeStepsAbove = "last note three steps above",
        LastNoteFourStepsAbove = "last note four steps above",
        LastNoteOneStepBelow = "last note a step below",
        LastNoteTwoStepsBelow = "last note two steps below",
        TimeOneStepAbove = "time of the note a step above",
        TimeTwoStepsAbove = "time of the note two steps above",
        TimeThreeStepsAbove = "time of the note three steps above",
        TimeFourStepsAbove = "time of the note four steps above",
        TimeOneStepBelow = "time of the note a step below",
        EarlierPhraseEndsOneStepAbove = "earlier phrase ends a step above",
        EarlierPhraseEndsTwoStepsAbove = "earlier phrase ends two steps above",
        EarlierPhraseEndsFourStepsAbove = "earlier phrase ends four steps above",
        EarlierPhraseEndsOneStepBelow = "earlier phrase ends a step below",
        FirstNoteTwoStepsAbove = "first note two steps above",
        FirstNoteFourStepsAbove = "first note four steps above",
        FirstNoteThreeStepsBelow = "first note three steps below",
        LowestNoteOneStepBelow = "lowest note a step below",
        LowestNoteTwoStepsBelow = "lowest note two steps below",
        LowestNoteThreeStepsBelow = "lowest note three steps below",
        ReachedByScaleStepFromAbove = "reached by scale step from above",
        ReachedByScaleStepFromBelow = "reached by scale step from below",
        LeftByScaleStep = "left by scale step",
        ReachedByScaleLeap = "reached by scale leap",
        ShareOfLastNotes = "share of the last notes",
        ShareOfLaterNotes = "share of the later notes",
    }
}

/// The first so many features know of no scale at all.
#[cfg(feature = "fitting")]
pub const CARRIES_OVER: usize = Feature::LastNoteOneStepAbove as usize;

features! {
    /// What the note some semitones above the candidate tells of common-practice tunes.
    pub enum Above {
        Time = "time of the note",
        IsThere = "the note is there",
        ReachedFrom = "reached from the note",
        LeftFor = "left for the note",
    }
}

/// Semitones above the candidate that a note may lie.
pub const SEMITONES: std::ops::Range<usize> = 1..12;

impl Above {
    /// Where the feature of the note so many semitones above stands among `COMMON_PRACTICE` features.
    pub fn place(self, semitones: usize) -> usize {
        Feature::COUNT + self as usize * SEMITONES.len() + semitones - SEMITONES.start
    }
}

/// All features of the common-practice estimate: those of [`Feature`], then those of [`Above`] for every interval.
pub const COMMON_PRACTICE: usize =
    Feature::COUNT + Above::COUNT * (SEMITONES.end - SEMITONES.start);

/// One feature of a candidate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CandidateFeature {
    /// One that carries over to any scale.
    AnyScale(Feature),
    /// One of the note so many semitones above.
    Above(Above, usize),
}

/// All features of a candidate, in their order.
pub fn all() -> impl Iterator<Item = CandidateFeature> {
    let above = |&relation| SEMITONES.map(move |up| CandidateFeature::Above(relation, up));
    let any_scale = Feature::ALL.iter().copied().map(CandidateFeature::AnyScale);
    any_scale.chain(Above::ALL.iter().flat_map(above))
}

impl std::fmt::Display for CandidateFeature {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        match self {
            Self::AnyScale(feature) => f.write_str(Feature::NAMES[*feature as usize]),
            Self::Above(relation, up) => {
                let relation = Above::NAMES[*relation as usize];
                write!(f, "{relation} {up} semitones above")
            }
        }
    }
}
