//! Measures: what herd staff, trimmer and vet decide by, with honest limits (`spec/measures.md`).
//!
//! Each takes a [`History`], which is a herd over a period, and gives rows with numerators, denominators, limits and
//! the definitions that were used.

pub mod agreement;
pub mod blocks;
pub mod care;
pub mod cost;
mod figure;
pub mod flow;
pub mod herds;
mod history;
mod lactation;
pub mod lesions;
pub mod method;
pub mod outcome;
pub mod pattern;
mod period;
pub mod round;
mod rounds;
mod sightings;
mod spells;
pub mod trend;

pub use figure::{Difference, Figure, Rate, Share};
pub use history::{About, History};
pub use lactation::{Band, Lactation};
pub use method::{LEVEL, Limits};
pub use period::Period;
pub use rounds::{Basis, Round, Saw};
