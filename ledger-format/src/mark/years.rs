//! Which file the next line goes to (`mark.md` §9).

/// A device's newest file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Newest {
    /// The year in its name.
    pub year: u16,
    /// The year of its last sealed time.
    pub last_sealed_year: i32,
}

/// Where to seal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum YearFile {
    /// Go on in the newest file.
    GoOn(u16),
    /// Begin a file with this name.
    Begin(u16),
}

/// Decides where the next line goes. `furthest_of_others` is the highest year of any other device's files.
///
/// ```
/// use ledger_format::mark::{Newest, YearFile, year_file};
/// let newest = Newest { year: 2026, last_sealed_year: 2026 };
/// assert_eq!(year_file(2027, Some(newest), None), YearFile::Begin(2027));
/// assert_eq!(year_file(2031, Some(newest), None), YearFile::GoOn(2026)); // a clock that jumped
/// assert_eq!(year_file(1970, Some(newest), None), YearFile::GoOn(2026));
/// ```
pub fn year_file(clock_year: i32, newest: Option<Newest>, furthest_of_others: Option<u16>) -> YearFile {
    let clock = u16::try_from(clock_year.clamp(1970, 9999)).unwrap_or(1970);
    let Some(newest) = newest else { return YearFile::Begin(clock) };
    let next_year = clock == newest.year + 1 && i32::from(clock) <= newest.last_sealed_year + 1;
    let contradicted = furthest_of_others.is_some_and(|year| year > clock);
    if next_year && !contradicted { YearFile::Begin(clock) } else { YearFile::GoOn(newest.year) }
}
