//! The reading commands, run as a person runs them.

mod figures;
mod published;
mod rows;
mod scene;
mod width;
