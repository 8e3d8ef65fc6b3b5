//! What is believed of each state, in the order of [`States::sets`](super::states::States::sets).

use std::cell::RefCell;
use std::ops::{Deref, DerefMut};

use super::states::Row;
use crate::simd::LANES;

/// Bytes that a processor fetches at once. A row of that length that lies across two of them takes twice as long.
const LINE_BYTES: usize = 64;

/// A row for each set; rows begin where a line of the processor's memory does.
pub struct Belief {
    room: Vec<f32>,
    first: usize,
    rows: usize,
}

thread_local! {
    /// Beliefs that are done with, for the next line: to give their room back to the system and to ask for it again takes as
    /// long as to fill it.
    static DONE_WITH: RefCell<Vec<Belief>> = const { RefCell::new(Vec::new()) };
}

/// More of them than this are given back.
const KEPT: usize = 72;

impl Belief {
    fn of_rows(rows: usize) -> Self {
        let room = vec![0.0; rows * LANES + LINE_BYTES / size_of::<f32>()];
        let aside = room.as_ptr().align_offset(LINE_BYTES);
        // Where the place can't be told, any is right, only slower.
        let first = if aside < LINE_BYTES { aside } else { 0 };
        Self { room, first, rows }
    }
}

impl Deref for Belief {
    type Target = [Row];

    fn deref(&self) -> &[Row] {
        self.room[self.first..][..self.rows * LANES].as_chunks().0
    }
}

impl DerefMut for Belief {
    fn deref_mut(&mut self) -> &mut [Row] {
        self.room[self.first..][..self.rows * LANES]
            .as_chunks_mut()
            .0
    }
}

/// A copy of a belief.
pub fn copied(belief: &[Row]) -> Belief {
    let known = DONE_WITH.with_borrow_mut(Vec::pop);
    let known = known.filter(|known| known.rows == belief.len());
    let mut copy = known.unwrap_or_else(|| Belief::of_rows(belief.len()));
    copy.copy_from_slice(belief);
    copy
}

/// Keeps the room of some beliefs for others.
pub fn done_with(beliefs: impl IntoIterator<Item = Belief>) {
    DONE_WITH.with_borrow_mut(|kept| {
        let room = KEPT - kept.len();
        kept.extend(beliefs.into_iter().take(room));
    });
}
