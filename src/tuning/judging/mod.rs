//! Takes plucks and what was meant, gives the judgement on each string and on the set.
//!
//! Method: plucks are assigned to strings by dynamic programming (Bellman 1957); each deviation is weighed before it
//! becomes advice, since a string that is tightened too far can break: advice never rests on one reading alone.

mod action;
mod assign;
mod doubts;
mod free;
mod heard;
mod intention;
mod judge;
mod octaves;
mod reading;
mod set;
mod verdict;

pub use action::Action;
pub use doubts::{Doubt, Reason};
pub use free::{Fit, Heard, HeardNote, NearSet, what_is_it};
pub use intention::{DEFAULT_TOLERANCE_CENTS, Intention};
pub use judge::judge;
pub use reading::{Care, Interval, OtherPluck, StringReading, Tuning};
pub use set::WrongNote;
pub use verdict::Verdict;
