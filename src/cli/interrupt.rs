//! Ctrl-C: the line or file that is being written is written to its end, then the program ends with status 130, as shells
//! expect it (128 and the number of the signal). A second one ends it at once.

use std::io::IsTerminal;
use std::process::exit;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use super::ExitStatus;

static ASKED: AtomicBool = AtomicBool::new(false);
static WRITING: Mutex<()> = Mutex::new(());

/// From now on Ctrl-C ends the program in this way; where the system can't tell of it, in the system's.
pub fn watch() {
    let _untold = ctrlc::set_handler(|| {
        if ASKED.swap(true, Ordering::SeqCst) {
            exit(ExitStatus::Interrupted as i32);
        }
        std::thread::spawn(end);
    });
}

/// Whether Ctrl-C was pressed.
pub fn was_asked() -> bool {
    ASKED.load(Ordering::SeqCst)
}

/// Writes a file that Ctrl-C does not cut off.
pub fn whole<T>(write: impl FnOnce() -> T) -> T {
    let _written = WRITING.lock().unwrap_or_else(PoisonError::into_inner);
    write()
}

fn end() {
    let _line = std::io::stdout().lock();
    let _file = WRITING.lock().unwrap_or_else(PoisonError::into_inner);
    // The rest of a bar is not to stand before the prompt.
    if std::io::stderr().is_terminal() {
        eprintln!();
    }
    exit(ExitStatus::Interrupted as i32);
}
