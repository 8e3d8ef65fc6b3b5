//! Takes an assignment and what was heard in a submission, gives a verdict that a student can act on.
