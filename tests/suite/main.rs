//! All tests in one program, a module for each part; `cargo test NAME::` runs one part.

mod support;

mod bad_input;
mod bad_output;
mod bad_paths;
mod beneath;
mod cli_faults;
mod decode;
mod decode_hostile;
mod decode_refusals;
mod door;
#[cfg(feature = "fitting")]
mod fit_sequence_net;
mod free;
mod histogram;
mod html;
mod identify;
mod in_cents;
#[cfg(unix)]
mod interrupt;
mod labels;
mod long;
mod modes;
mod off_grid;
mod passages;
mod phrases;
mod pitch;
mod relate;
mod render_neck;
mod render_sound;
mod render_staff;
mod review;
mod review_cli;
mod same_answer;
mod scale;
mod schema;
mod segments;
#[cfg(feature = "fitting")]
mod sequence_net;
mod simd;
mod symbolic;
mod tables;
mod tuning_cli;
mod tuning_heard;
mod tuning_in_cents;
mod tuning_pitch;
mod tuning_targets;
mod tuning_tones;
mod tuning_verdict;
mod two_forms;
mod words;
