//! Pages of text for a terminal.

pub mod identify;
pub mod labels;
pub mod page;
pub mod passages;
pub mod relate;
pub mod review;
