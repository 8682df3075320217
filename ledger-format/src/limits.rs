//! Every bound of the format, in one place, each with its reason.

/// Longest typed line that is read, in bytes after cleaning: a page of free words, not a pasted file.
pub const TYPED_LINE_BYTES: usize = 2_000;

/// Longest body of a sealed line, in bytes: a typed line plus the words that its canonical spelling adds.
pub const BODY_BYTES: usize = 2_400;

/// Bytes of a seal: ` | `, sealed time, space, mark.
pub const SEAL_BYTES: usize = 40;

/// Longest sealed line without its line feed.
pub const LINE_BYTES: usize = BODY_BYTES + SEAL_BYTES;

/// Largest ledger file, so that an offset fits 32 bits.
pub const FILE_BYTES: u64 = 4_000_000_000;

/// Most typed lines read in one go; a year of one device is some tens of thousands.
pub const TYPED_LINES: usize = 200_000;

/// Most acts in one typed line: four feet, several findings each, and what was done.
pub const ACTS_IN_LINE: usize = 32;

/// Longest quoted value (a product, a batch, a reason), in bytes.
pub const QUOTED_BYTES: usize = 80;

/// Deepest chain of corrections that is followed; people correct twice, not a hundred times.
pub const CORRECTION_DEPTH: usize = 64;

/// Admissions and revocations of one ledger that count; a herd changes a dozen devices in its life. Each is weighed
/// against all.
pub const MEMBER_LINES: usize = 200;

/// First and last year of an observed date.
pub const YEARS: std::ops::RangeInclusive<i32> = 1900..=2199;

/// Columns of a remark in a file, behind its `;! `: with it, a line of the narrowest screen.
pub const REMARK_COLUMNS: usize = 77;
