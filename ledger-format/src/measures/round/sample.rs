//! How many cows a sample needs (`measures.md` §23).

use serde::Serialize;

use crate::measures::method::sample_size;

/// The normal point that assurance protocols use for 95 %.
const Z: f64 = 1.96;

/// The widths that are offered, in percentage points to either side.
const POINTS: [u8; 3] = [5, 10, 15];

/// Cows to score so that a share is known to so many points either side, at 95 %.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct SampleSize {
    /// Half the width of the interval, percentage points.
    pub points: u8,
    /// Cows to score, chosen at random.
    pub cows: u64,
    /// Of how many.
    pub of: u64,
}

/// For a herd of so many, at the worst case of one half lame; rounded up. None for an empty herd.
pub(super) fn sizes(herd: u64) -> Vec<SampleSize> {
    let size = |points: u8| {
        let cows = sample_size::for_prevalence(Some(herd), 0.5, f64::from(points) / 100.0, Z)?;
        Some(SampleSize { points, cows: (cows.ceil() as u64).min(herd), of: herd })
    };
    if herd == 0 {
        return Vec::new();
    }
    POINTS.into_iter().filter_map(size).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unrounded(herd: u64, half_width: f64, z: f64) -> f64 {
        sample_size::for_prevalence(Some(herd), 0.5, half_width, z).unwrap()
    }

    #[test]
    fn the_sizes_of_a_welfare_protocol_come_out() {
        // Welfare Quality protocol for dairy cows, 2009 (from memory): 95 % and 90 %, 10 points, at least 30.
        let table =
            [(30, 30, 30), (50, 33, 30), (100, 49, 40), (150, 59, 47), (200, 65, 51), (250, 70, 53), (300, 73, 55)];
        for (herd, a, b) in table {
            let size = |z| (unrounded(herd, 0.10, z).round() as u64).max(30);
            assert_eq!((size(1.96), size(1.64)), (a, b), "herd of {herd}");
        }
    }

    #[test]
    fn the_sizes_of_a_national_assessment_come_out() {
        // Canadian dairy cattle assessment: 95 %, 15 points, rounded to the nearest cow.
        let table = [
            (30, 18),
            (40, 21),
            (50, 23),
            (70, 27),
            (90, 29),
            (100, 30),
            (150, 33),
            (250, 37),
            (350, 38),
            (450, 39),
            (550, 40),
            (700, 40),
        ];
        for (herd, cows) in table {
            assert_eq!(unrounded(herd, 0.15, 1.96).round() as u64, cows, "herd of {herd}");
        }
    }

    #[test]
    fn no_more_cows_are_asked_for_than_there_are() {
        assert_eq!(sizes(0), []);
        assert_eq!(sizes(1).iter().map(|size| size.cows).collect::<Vec<_>>(), [1, 1, 1]);
        assert_eq!(sizes(193).iter().map(|size| size.cows).collect::<Vec<_>>(), [129, 65, 36]);
    }
}
