//! What fits into the time there is.

use serde::Serialize;

use super::row::{DueRow, For};

/// A due list cut at the time there is. Nothing is lost: what does not fit is named too.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Fits {
    /// Minutes there are.
    pub minutes_given: u32,
    /// Minutes that the cows that fit take.
    pub minutes_used: u32,
    /// Cows that fit, in order; those that are not for lifting are among them.
    pub cows: Vec<String>,
    /// Cows for which there is no time, in order.
    pub left_over: Vec<String>,
    /// How many those are.
    pub left_over_count: usize,
}

/// What fits, in the order of the list: after the first cow that does not fit, no less pressing one is taken instead.
/// Cows that are not for lifting take no time and stay.
pub fn fits(rows: &[DueRow], minutes: u32) -> Fits {
    let (mut used, mut full) = (0, false);
    let (mut cows, mut left_over) = (Vec::new(), Vec::new());
    for row in rows {
        let needed = if row.for_whom == For::Lifting { u32::from(row.minutes) } else { 0 };
        full |= needed > 0 && used + needed > minutes;
        if full && needed > 0 {
            left_over.push(row.cow.clone());
        } else {
            used += needed;
            cows.push(row.cow.clone());
        }
    }
    Fits { minutes_given: minutes, minutes_used: used, cows, left_over_count: left_over.len(), left_over }
}
