//! Takes the plucks of an instrument and the strings it should have, gives the deviation of each string.
