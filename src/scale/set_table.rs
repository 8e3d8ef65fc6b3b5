use super::net::Net;
pub static SET: Net = Net { mean: &[0.0; 20], scale: &[0.0; 20], linear: &[0.0; 20], hidden: &[], bias: &[], output: &[] };
