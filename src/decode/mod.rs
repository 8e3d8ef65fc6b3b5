//! Takes a file or standard input, gives mono samples at their true rate, a block at a time.
