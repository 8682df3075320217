//! The reading commands, run as a person runs them.

mod rows;
mod scene;
mod width;
