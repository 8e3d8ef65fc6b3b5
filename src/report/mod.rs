//! Takes the answers of the stages, gives what programs and people read: JSON and text.
