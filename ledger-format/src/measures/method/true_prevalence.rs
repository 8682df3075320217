//! The true share behind an apparent one, where the way of looking errs at known rates.

use super::Limits;

/// A true share, before and after it is cut at 0 and 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TruePrevalence {
    /// As the formula gives it; outside 0 to 1 where the errors are not what was thought.
    pub raw: f64,
    /// Its limits, likewise.
    pub raw_limits: Limits,
    /// Cut at 0 and 1.
    pub share: f64,
    /// Cut at 0 and 1.
    pub limits: Limits,
}

/// (AP + Sp − 1) / (Se + Sp − 1), and the limits of the apparent share alike (Rogan and Gladen 1978). None if looking
/// tells no more than chance, Se + Sp ≤ 1.
pub fn rogan_gladen(apparent: f64, limits: Limits, se: f64, sp: f64) -> Option<TruePrevalence> {
    let power = se + sp - 1.0;
    if power <= 1e-12 {
        return None;
    }
    let of = |share: f64| (share + sp - 1.0) / power;
    let (raw, raw_limits) = (of(apparent), Limits { lower: of(limits.lower), upper: of(limits.upper) });
    let cut = |share: f64| share.clamp(0.0, 1.0);
    let limits = Limits { lower: cut(raw_limits.lower), upper: cut(raw_limits.upper) };
    Some(TruePrevalence { raw, raw_limits, share: cut(raw), limits })
}
