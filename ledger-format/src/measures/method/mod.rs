//! Methods of statistics, one idea a file: numbers in, numbers out. What cannot be worked out is none.

use serde::Serialize;

pub mod agreement;
pub mod alpha;
pub mod chart;
pub mod cluster;
pub mod conditional;
pub mod detection;
pub mod difference;
pub mod multiple;
pub mod paired;
pub mod proportion;
pub mod quantile;
pub mod rate;
pub mod recurrence;
pub mod sample_size;
pub mod shrink;
pub mod standardise;
pub mod stratified;
pub mod survival;
pub mod table;
pub mod true_prevalence;

/// The level of every interval shown, unless another is asked for.
pub const LEVEL: f64 = 0.95;

/// The lower and the upper end of an interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Limits {
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}
