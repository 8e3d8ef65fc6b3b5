//! The label book: what published sources call a set with a centre, and who uses the same name for something else.
