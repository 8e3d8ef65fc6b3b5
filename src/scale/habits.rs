//! Where a singer has the habit of putting each degree of a scale.
//!
//! A third that is always sung low errs by the same cents each time, so that its notes together say less against a scale than so
//! many notes that err by chance. Each degree's place has a normal prior about its own; the likeliest place is taken and
//! what it costs to fit it is approximated (P. Laplace's method, as in D. MacKay, "Information Theory, Inference, and Learning
//! Algorithms", 2003, chapter 27).

/// Standard deviation of a degree's place about its own in cents. Students who sing from a score put their degrees 9 to 14
/// cents from it beyond what their scatter explains; this was chosen with the constants of the tuning.
const HABIT_CENTS: f32 = 20.0;
/// Places are told in steps of so many cents, of which so many make a state of the tuning.
pub const STEP_CENTS: f32 = 10.0;
pub const STEPS_A_STATE: usize = 2;
/// No place lies farther than half a semitone from its own: there it would be another's.
pub const MOST: i32 = 5;

/// The places of the degrees of a line.
#[derive(Default)]
pub struct Habits {
    /// Steps by which each class lies above its own place.
    pub steps: [i32; 12],
    log_evidence: f64,
}

/// What the notes of a class say of where it lies.
#[derive(Clone, Copy, Default)]
pub struct Sums {
    /// Cents, each by the part of a note and the inverse of its variance.
    away: f32,
    /// Those weights.
    weight: f32,
}

impl Sums {
    /// Adds what lies so many cents above its place.
    pub fn add(&mut self, cents: f32, weight: f32) {
        self.away += weight * cents;
        self.weight += weight;
    }
}

/// The standard deviation of notes about the degrees' own places where they scatter by so many cents about those that they have.
pub fn spread_with(cents: f32) -> f32 {
    cents.hypot(HABIT_CENTS)
}

impl Habits {
    /// The likeliest places.
    pub fn of(sums: &[Sums; 12]) -> Self {
        let prior = 1.0 / (HABIT_CENTS * HABIT_CENTS);
        let mut habits = Self::default();
        for (sums, steps) in sums.iter().zip(&mut habits.steps) {
            let cents = sums.away / (sums.weight + prior);
            *steps = ((cents / STEP_CENTS).round() as i32).clamp(-MOST, MOST);
            let cents = STEP_CENTS * *steps as f32;
            let narrowed = 1.0 + sums.weight / prior;
            habits.log_evidence -= f64::from(0.5 * (prior * cents * cents + narrowed.ln()));
        }
        habits
    }

    /// What the places add to the logarithm of how likely a line is.
    pub fn log_evidence(&self) -> f64 {
        self.log_evidence
    }
}
