//! Takes mono samples a block at a time, gives a pitch track: one frame every 10 ms.
