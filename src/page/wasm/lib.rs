//! The library as a module for browsers and Node, behind four plain functions.
//!
//! The caller asks for room ([`room`]), writes a request (JSON, [`requests`]) and, where there is sound, its bytes, calls
//! [`answer`], and reads as many bytes as that gives from [`reply`]. Rooms belong to the module, so nothing is freed by
//! the caller. While it hears, the module calls `progress` with the seconds that were heard and those that the file
//! promises (0 where it promises none). A panic is a trap: the caller throws the instance away and makes a new one.

mod class;
mod hear;
mod live;
mod lookup;
mod requests;
mod strings;

use std::cell::RefCell;

use serde_json::{Value, json};
use whichmode::answer::Progress;

/// The room of the request, and that of the sound.
const REQUEST: usize = 0;
const SOUND: usize = 1;

thread_local! {
    static ROOMS: RefCell<[Vec<u8>; 2]> = const { RefCell::new([Vec::new(), Vec::new()]) };
    static REPLY: RefCell<Vec<u8>> = const { RefCell::new(Vec::new()) };
}

#[cfg(target_arch = "wasm32")]
#[link(wasm_import_module = "page")]
unsafe extern "C" {
    #[link_name = "progress"]
    safe fn told(done_s: f64, promised_s: f64);
}

#[cfg(not(target_arch = "wasm32"))]
fn told(_done_s: f64, _promised_s: f64) {}

/// Tells the caller how far the hearing has come; it is stopped by ending the worker.
fn progress(progress: Progress) -> bool {
    told(progress.done_s, progress.promised_s.unwrap_or(0.0));
    true
}

/// Makes room for so many bytes: 0 is for the request, 1 for the sound. Gives the place, or 0 for another number.
#[unsafe(no_mangle)]
pub extern "C" fn room(which: usize, length: usize) -> *mut u8 {
    ROOMS.with_borrow_mut(|rooms| match rooms.get_mut(which) {
        Some(room) => {
            *room = vec![0; length];
            room.as_mut_ptr()
        }
        None => std::ptr::null_mut(),
    })
}

/// Answers what was written into the rooms, which are empty afterwards; gives the length of the reply.
#[unsafe(no_mangle)]
pub extern "C" fn answer() -> usize {
    let take = |which: usize| ROOMS.with_borrow_mut(|rooms| std::mem::take(&mut rooms[which]));
    let (request, sound) = (take(REQUEST), take(SOUND));
    let reply = match requests::answer(&request, sound) {
        Ok(reply) => reply,
        Err(error) => json!({ "error": { "kind": error.kind(), "message": error.sentence() } }),
    };
    set_reply(&reply)
}

/// Where the reply lies: JSON, good until the next call.
#[unsafe(no_mangle)]
pub extern "C" fn reply() -> *const u8 {
    REPLY.with_borrow(|reply| reply.as_ptr())
}

fn set_reply(value: &Value) -> usize {
    let bytes = value.to_string().into_bytes();
    REPLY.with_borrow_mut(|reply| {
        *reply = bytes;
        reply.len()
    })
}
