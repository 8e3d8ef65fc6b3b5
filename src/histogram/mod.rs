//! Takes notes, gives the reference pitch of the recording and the sounding time of each pitch class, in cents and folded over octaves.
