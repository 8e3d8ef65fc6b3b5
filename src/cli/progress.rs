//! A bar on standard error for work on one recording that takes long, and where a recording named on the command line
//! comes from.

use std::path::Path;
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::answer::{Input, Progress};
use crate::error::Result;

/// Work that ends sooner shows no progress.
const QUIET_FOR: Duration = Duration::from_secs(3);

/// What a name on the command line stands for: a file, or standard input for `-`.
pub fn input(path: &Path) -> Result<Input<'static>> {
    if path == Path::new("-") {
        Input::from_reader(std::io::stdin().lock(), "")
    } else {
        Input::open(path)
    }
}

/// Does work that tells how far it has come, with a bar; hidden where standard error is no terminal.
pub fn with_bar<T>(work: impl FnOnce(&mut dyn FnMut(Progress) -> bool) -> Result<T>) -> Result<T> {
    let begun = Instant::now();
    let bar = ProgressBar::no_length();
    bar.set_draw_target(ProgressDrawTarget::hidden());
    let result = work(&mut |progress| {
        if begun.elapsed() >= QUIET_FOR {
            show(&bar, progress);
        }
        true
    });
    bar.finish_and_clear();
    result
}

fn show(bar: &ProgressBar, progress: Progress) {
    if bar.is_hidden() {
        let template = match progress.promised_s {
            Some(_) => "heard {pos} of {len} s, {eta} left {bar:30}",
            None => "heard {pos} s in {elapsed}",
        };
        let style = ProgressStyle::with_template(template);
        bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
        if let Some(promised_s) = progress.promised_s {
            bar.set_length(promised_s as u64);
        }
        bar.set_draw_target(ProgressDrawTarget::stderr());
    }
    bar.set_position(progress.done_s as u64);
}
