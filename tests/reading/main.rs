//! The reading commands, run as a person runs them.

mod figures;
mod rows;
mod scene;
mod width;
