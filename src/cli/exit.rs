//! What the program says to the shell when it ends.

use std::process::ExitCode;

/// How a run ended; a verdict such as `ambiguous` is an answer, not a failure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ExitStatus {
    /// All was done.
    Done = 0,
    /// Something could not be done, the rest was.
    Incomplete = 1,
    /// The command line was wrong.
    Usage = 2,
    /// The user stopped it (128 and the number of the signal, as shells count).
    Interrupted = 130,
}

impl From<ExitStatus> for ExitCode {
    fn from(status: ExitStatus) -> Self {
        ExitCode::from(status as u8)
    }
}
