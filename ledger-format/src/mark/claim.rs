//! What others have seen of a file: complete up to where (`mark.md` §7).

use super::FullMark;
use super::check::MARK_AND_END;

/// Somebody's word that a file stood so at a length: a `witness` line, or the next year's head.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Claim {
    /// The device that says so.
    pub by: String,
    /// Length of the file at the end of a line. A head does not say it; then the line is found by its mark.
    pub length: Option<u64>,
    /// Full mark of the line that ends there.
    pub mark: FullMark,
}

/// A claim that does not fit the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ClaimFinding {
    /// The file is shorter than was seen.
    Shorter(Claim),
    /// Others saw a different history.
    Different(Claim),
}

/// The longest length that a claim agrees with, who says so, and the claims that do not fit.
pub fn complete_up_to(vouched: &[u8], claims: &[Claim]) -> (Option<(u64, String)>, Vec<ClaimFinding>) {
    let mut placed: Vec<(usize, &Claim)> = Vec::new();
    let mut findings = Vec::new();
    for claim in claims {
        match place(vouched, claim) {
            Ok(end) => placed.push((end, claim)),
            Err(finding) => findings.push(finding),
        }
    }
    placed.sort_by_key(|(end, _)| *end);
    let mut newest = None;
    let mut marks = FullMarks::of(vouched);
    for (end, claim) in placed {
        if marks.at(end) == claim.mark {
            newest = Some((end as u64, claim.by.clone()));
        } else {
            findings.push(ClaimFinding::Different(claim.clone()));
        }
    }
    (newest, findings)
}

/// Of lengths with the full marks that are claimed there, those that the file agrees with, shortest first.
pub(crate) fn agreeing(vouched: &[u8], mut claims: Vec<(u64, FullMark)>) -> Vec<(u64, FullMark)> {
    claims.sort_unstable();
    claims.dedup();
    let mut marks = FullMarks::of(vouched);
    claims.retain(|(length, mark)| line_end(vouched, *length).is_some_and(|end| marks.at(end) == *mark));
    claims
}

/// Lengths at which a line ends that shows the beginning of this full mark.
pub(crate) fn showing(vouched: &[u8], mark: FullMark) -> impl Iterator<Item = u64> {
    let shown = format!(" {}\n", mark.mark());
    let ends: Vec<u64> =
        memchr::memmem::find_iter(vouched, shown.as_bytes()).map(|at| (at + shown.len()) as u64).collect();
    ends.into_iter()
}

/// The full marks of one file at the ends of some of its lines, in one pass.
struct FullMarks<'a> {
    bytes: &'a [u8],
    hasher: blake3::Hasher,
    hashed: usize,
}

impl<'a> FullMarks<'a> {
    fn of(bytes: &'a [u8]) -> Self {
        Self { bytes, hasher: blake3::Hasher::new(), hashed: 0 }
    }

    /// The full mark of the line that ends here. Ends must not decrease.
    fn at(&mut self, end: usize) -> FullMark {
        let upto = end - MARK_AND_END;
        self.hasher.update(&self.bytes[self.hashed..upto]);
        self.hashed = upto;
        FullMark(*self.hasher.finalize().as_bytes())
    }
}

/// The end of a line at this length, if the file has one there.
fn line_end(vouched: &[u8], length: u64) -> Option<usize> {
    let end = usize::try_from(length).ok().filter(|end| (MARK_AND_END..=vouched.len()).contains(end))?;
    (vouched[end - 1] == b'\n').then_some(end)
}

/// Where the claimed line ends in this file.
fn place(vouched: &[u8], claim: &Claim) -> Result<usize, ClaimFinding> {
    let Some(length) = claim.length else {
        let shown = format!(" {}\n", claim.mark.mark());
        return match memchr::memmem::rfind(vouched, shown.as_bytes()) {
            Some(at) => Ok(at + shown.len()),
            None => Err(ClaimFinding::Shorter(claim.clone())),
        };
    };
    if length > vouched.len() as u64 {
        return Err(ClaimFinding::Shorter(claim.clone()));
    }
    line_end(vouched, length).ok_or_else(|| ClaimFinding::Different(claim.clone()))
}
