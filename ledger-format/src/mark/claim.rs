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
    let (mut hasher, mut hashed, mut newest) = (blake3::Hasher::new(), 0, None);
    for (end, claim) in placed {
        hasher.update(&vouched[hashed..end - MARK_AND_END]);
        hashed = end - MARK_AND_END;
        if hasher.finalize().as_bytes() == &claim.mark.0 {
            newest = Some((end as u64, claim.by.clone()));
        } else {
            findings.push(ClaimFinding::Different(claim.clone()));
        }
    }
    (newest, findings)
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
    let end = usize::try_from(length).ok().filter(|end| *end <= vouched.len());
    match end {
        None => Err(ClaimFinding::Shorter(claim.clone())),
        Some(end) if end >= MARK_AND_END && vouched[end - 1] == b'\n' => Ok(end),
        Some(_) => Err(ClaimFinding::Different(claim.clone())),
    }
}
