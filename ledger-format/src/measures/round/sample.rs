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

/// How many cows an assurance scheme has its assessors score.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct SchemeSize {
    /// The scheme, its table and its year.
    pub scheme: &'static str,
    /// Cows to score, chosen at random.
    pub cows: u64,
    /// Cows to score where that many cannot be; null if the scheme has no such number.
    pub at_least: Option<u64>,
    /// Of how many.
    pub of: u64,
}

/// For a herd of so many, at the worst case of one half lame; rounded up. None for an empty herd.
pub(super) fn sizes(herd: u64) -> Vec<SampleSize> {
    let size = |points: u8| {
        let cows = unrounded(herd, points, Z)?;
        Some(SampleSize { points, cows: (cows.ceil() as u64).min(herd), of: herd })
    };
    POINTS.into_iter().filter_map(size).collect()
}

/// What schemes ask for of a herd of so many, as far as their tables go. None for an empty herd.
pub(super) fn schemes(herd: u64) -> Vec<SchemeSize> {
    [welfare_quality(herd), canadian(herd)].into_iter().flatten().filter(|_| herd > 0).collect()
}

/// The table of 2009, up to a herd of 300: 95 %, or where that cannot be done 90 %, at 10 points either side, to the
/// nearest cow and at least 30. The table is from memory; the formula gives each of its numbers.
fn welfare_quality(herd: u64) -> Option<SchemeSize> {
    const LARGEST: u64 = 300;
    let size = |z| Some((unrounded(herd, 10, z)?.round() as u64).max(30).min(herd));
    let (cows, at_least) = (size(Z)?, size(1.64)?);
    (herd <= LARGEST).then_some(SchemeSize {
        scheme: "Welfare Quality protocol for dairy cows, 2009",
        cows,
        at_least: Some(at_least),
        of: herd,
    })
}

/// 14 cows of a herd under 20, 5 % of one over 1,000, and 15 points either side at 95 % between, to the nearest cow.
fn canadian(herd: u64) -> Option<SchemeSize> {
    let cows = match herd {
        0..20 => herd.min(14),
        20..=1_000 => unrounded(herd, 15, Z)?.round() as u64,
        _ => herd.div_ceil(20),
    };
    Some(SchemeSize { scheme: "Canadian dairy cattle assessment, minimum", cows, at_least: None, of: herd })
}

fn unrounded(herd: u64, points: u8, z: f64) -> Option<f64> {
    sample_size::for_prevalence(Some(herd), 0.5, f64::from(points) / 100.0, z)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beyond_a_table_a_scheme_has_no_size() {
        let named = |herd| schemes(herd).iter().map(|size| (size.cows, size.at_least)).collect::<Vec<_>>();
        assert_eq!(named(0), []);
        assert_eq!(named(20), [(20, Some(20)), (14, None)]);
        assert_eq!((named(300).len(), named(301).len()), (2, 1));
        assert_eq!(named(1_001), [(51, None)]);
        assert_eq!(schemes(12)[1].cows, 12);
    }

    #[test]
    fn no_more_cows_are_asked_for_than_there_are() {
        assert_eq!(sizes(0), []);
        assert_eq!(sizes(1).iter().map(|size| size.cows).collect::<Vec<_>>(), [1, 1, 1]);
        assert_eq!(sizes(193).iter().map(|size| size.cows).collect::<Vec<_>>(), [129, 65, 36]);
    }
}
