//! A fixed number of slots for the most recent frames, reused so that no frame allocates.

/// The last `capacity` items of a sequence, addressed by their number in it.
pub struct Ring<T> {
    slots: Vec<T>,
    /// The number that the next item will have.
    pub next: usize,
}

impl<T: Clone> Ring<T> {
    /// Room for `capacity` items, each made from `blank`.
    pub fn new(capacity: usize, blank: T) -> Self {
        Self { slots: vec![blank; capacity], next: 0 }
    }

    /// The slot of the next item, to be filled in place.
    pub fn advance(&mut self) -> &mut T {
        let slot = self.next % self.slots.len();
        self.next += 1;
        &mut self.slots[slot]
    }

    /// The slot that [`Ring::advance`] would hand out, without taking it.
    pub fn peek_next(&mut self) -> &mut T {
        let slot = self.next % self.slots.len();
        &mut self.slots[slot]
    }

    /// Item `number`, which must not be older than the capacity.
    pub fn get(&self, number: usize) -> &T {
        debug_assert!(number < self.next && number + self.slots.len() >= self.next);
        &self.slots[number % self.slots.len()]
    }
}
