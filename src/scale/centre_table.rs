use super::centre::DOUBT_INPUTS;
use super::net::Net;
pub static NEUTRAL: Net = Net { mean: &[0.0; 50], scale: &[0.0; 50], linear: &[0.0; 50], hidden: &[], bias: &[], output: &[] };
pub static COMMON: Net = Net { mean: &[0.0; 94], scale: &[0.0; 94], linear: &[0.0; 94], hidden: &[], bias: &[], output: &[] };
pub static NEUTRAL_DOUBT: [f32; DOUBT_INPUTS] = [0.0; DOUBT_INPUTS];
pub static COMMON_DOUBT: [f32; DOUBT_INPUTS] = [0.0; DOUBT_INPUTS];
