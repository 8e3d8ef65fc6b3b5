//! Takes notes and their histogram, gives the set that was played on purpose and its centre, each with a probability and the evidence for it.
