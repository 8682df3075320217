//! What fits into the time there is.

use serde::Serialize;

use super::row::{DueRow, For};

/// A due list cut at the time there is. Nothing is lost: what does not fit is listed too.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Fits {
    /// Minutes there are.
    pub minutes_given: u32,
    /// Minutes that the rows that fit take.
    pub minutes_used: u32,
    /// Rows that fit, in order.
    pub rows: Vec<DueRow>,
    /// Rows for which there is no time.
    pub left_over: Vec<DueRow>,
    /// How many those are.
    pub left_over_count: usize,
}

/// What fits, in the order of the list: after the first cow that does not fit, no less pressing one is taken instead.
/// Cows that are not for lifting take no time and stay.
pub fn fits(rows: Vec<DueRow>, minutes: u32) -> Fits {
    let (mut used, mut full) = (0, false);
    let (rows, left_over): (Vec<_>, Vec<_>) = rows.into_iter().partition(|row| {
        if row.for_whom != For::Lifting {
            return true;
        }
        full |= used + u32::from(row.minutes) > minutes;
        used += if full { 0 } else { u32::from(row.minutes) };
        !full
    });
    Fits { minutes_given: minutes, minutes_used: used, rows, left_over_count: left_over.len(), left_over }
}
