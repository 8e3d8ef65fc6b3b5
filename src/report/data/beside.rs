//! Notes outside the set: those of a class that is touched on purpose or more than once, and slips.

use super::identify::{Identify, OutsideRow};

impl Identify {
    /// Whether a note outside the set is one of those that are touched.
    pub fn is_touched(&self, note: &OutsideRow) -> bool {
        let mut times = self.touched.iter().flat_map(|t| &t.times);
        times.any(|&t| t == note.start_s)
    }

    /// The notes outside the set that are not touched.
    pub fn slips(&self) -> Vec<&OutsideRow> {
        let is_slip = |o: &&OutsideRow| !self.is_touched(o);
        self.outside.iter().filter(is_slip).collect()
    }
}
