//! Takes a set with a centre, gives its rotations, parent modes, spelling and the one label that is its own.
