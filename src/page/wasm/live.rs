//! Strings that are read while they are plucked: each pluck once, so that a second of listening costs the same after a
//! minute as at the beginning.

use std::cell::RefCell;

use serde_json::{Value, json};
use whichmode::error::{Error, Result};
use whichmode::report::html::instrument::{just_heard, just_plucked};
use whichmode::report::tuning::reading_at_once;
use whichmode::tuning::{Pluck, PluckListener};

use crate::strings::{Meant, judged};

/// What is being listened to.
struct Live {
    listener: PluckListener,
    meant: Meant,
    name: String,
    /// As they were told early; [`end`] measures them over their whole length.
    plucks: Vec<Pluck>,
}

thread_local! {
    static LIVE: RefCell<Option<Live>> = const { RefCell::new(None) };
}

/// Begins to listen, for strings that are meant or for what there is.
pub fn begin(name: String, rate_hz: f64, meant: Meant) -> Value {
    LIVE.set(Some(Live {
        listener: PluckListener::new(rate_hz),
        meant,
        name,
        plucks: Vec::new(),
    }));
    json!({})
}

/// Takes more samples; tells the plucks that are new and, with them, all strings.
pub fn push(samples: &[f32]) -> Result<Value> {
    LIVE.with_borrow_mut(|live| {
        let live = live.as_mut().ok_or_else(not_begun)?;
        live.listener.push(samples);
        let new = live.listener.early();
        if new.is_empty() {
            return Ok(json!({ "told": [] }));
        }
        let told: Vec<String> = new.iter().map(|p| told(p, &live.meant)).collect();
        live.plucks.extend(new);
        let mut reply = judged(&live.name, &live.plucks, &[], &live.meant)?;
        reply["told"] = json!(told);
        Ok(reply)
    })
}

/// Ends the listening; gives the whole answer.
pub fn end() -> Result<Value> {
    let live = LIVE.take().ok_or_else(not_begun)?;
    judged(&live.name, &live.listener.finish(), &[], &live.meant)
}

fn not_begun() -> Error {
    Error::Internal("the listening has not begun".into())
}

fn told(pluck: &Pluck, meant: &Meant) -> String {
    let reading = meant.intention.as_ref().map(|i| reading_at_once(pluck, i));
    match reading.flatten() {
        Some(reading) => just_plucked(&reading),
        None => just_heard(pluck, meant.intention.is_some()),
    }
}
