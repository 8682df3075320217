//! What the ledgers of a herd say of each other: witness lines, and the heads that follow.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use ledger_format::keep;
use ledger_format::line::{Act, read_sealed, split_seal};
use ledger_format::mark::{self, Claim, ClaimFinding, FullMark, Head, StreamVerdict};

use super::{Complete, Report, State};
use crate::Trouble;
use crate::disk::pass::Passed;
use crate::disk::{HerdFolder, LedgerName, read};

pub(super) const WITNESS: &[u8] = b" herd witness ";

/// All that was said of files.
#[derive(Default)]
pub(super) struct Seen(Vec<Claimed>);

struct Claimed {
    of: LedgerName,
    on: Option<NaiveDate>,
    claim: Claim,
}

impl Seen {
    /// Each file that was spoken of, and who spoke of it first.
    pub(super) fn witnesses(&self) -> BTreeMap<&LedgerName, &str> {
        let mut all = BTreeMap::new();
        for claimed in &self.0 {
            all.entry(&claimed.of).or_insert(claimed.claim.by.as_str());
        }
        all
    }
}

/// Notes what an unbroken file says of others.
pub(super) fn hear(passed: &Passed, by: &LedgerName, seen: &mut Seen) {
    seen.0.extend(follows(&passed.first, by));
    for line in &passed.found {
        let witnessed = std::str::from_utf8(line).ok().and_then(|line| witness(line, by));
        seen.0.extend(witnessed.filter(|claimed| claimed.of.device != by.device));
    }
}

fn follows(head: &[u8], by: &LedgerName) -> Option<Claimed> {
    let (body, _) = split_seal(head)?;
    let follows = Head::read(std::str::from_utf8(body).ok()?).ok()?.follows?;
    Some(Claimed {
        of: LedgerName::new(&by.device, follows.year)?,
        on: None,
        claim: Claim { by: by.to_string(), length: None, mark: follows.mark },
    })
}

fn witness(line: &str, by: &LedgerName) -> Option<Claimed> {
    let sealed = read_sealed(line).ok()?;
    let Act::Witness { device, year, length, mark } = sealed.line.act else { return None };
    Some(Claimed {
        of: LedgerName::new(device, year)?,
        on: Some(sealed.line.observed.date),
        claim: Claim { by: by.device.clone(), length: Some(length.into()), mark: FullMark::read(mark)? },
    })
}

/// Compares what others said with the file.
pub(super) fn judge(
    herd: &HerdFolder,
    name: &LedgerName,
    verdict: &StreamVerdict,
    seen: &Seen,
    report: &mut Report,
) -> Result<(), Trouble> {
    let mut claims: Vec<&Claimed> = seen.0.iter().filter(|claimed| claimed.of == *name).collect();
    if claims.is_empty() {
        return Ok(());
    }
    // The next year's head nearly always names the last line, whose mark is known already.
    let is_last = |claimed: &&Claimed| {
        claimed.claim.length.is_none() && verdict.unbroken && verdict.full == Some(claimed.claim.mark)
    };
    if let Some(at) = claims.iter().position(is_last) {
        let last = claims.remove(at);
        report.complete = Some(Complete { line: verdict.lines, by: last.claim.by.clone(), on: None });
    }
    if claims.iter().any(|claimed| claimed.claim.length.is_none()) || !verdict.unbroken {
        return in_memory(herd, name, &claims, report);
    }
    streamed(herd, name, claims, verdict, report)
}

/// Where the length is not said, or the file is broken, the whole is needed.
fn in_memory(herd: &HerdFolder, name: &LedgerName, claims: &[&Claimed], report: &mut Report) -> Result<(), Trouble> {
    let bytes = herd.read(name)?.unwrap_or_default();
    let bytes = if report.state == State::Resaved { keep::seen_through(&bytes).unwrap_or(bytes) } else { bytes };
    let vouched = &bytes[..mark::check(&bytes).vouched_bytes];
    let all: Vec<Claim> = claims.iter().map(|claimed| claimed.claim.clone()).collect();
    let (newest, findings) = mark::complete_up_to(vouched, &all);
    if let Some((length, by)) = newest {
        let length = usize::try_from(length).unwrap_or(vouched.len());
        let line = memchr::memchr_iter(b'\n', &vouched[..length]).count() as u64;
        let same =
            |claimed: &&&Claimed| claimed.claim.by == by && claimed.claim.length.is_none_or(|l| l == length as u64);
        note(report, Complete { line, on: claims.iter().find(same).and_then(|claimed| claimed.on), by });
    }
    // Of a broken file it is no news that others saw more; of a whole one the furthest each saw is enough.
    let shorter = findings.iter().filter(|finding| matches!(finding, ClaimFinding::Shorter(_)));
    let different = findings.iter().filter(|finding| matches!(finding, ClaimFinding::Different(_)));
    let shorter = if report.state.is_unbroken() { furthest_of_each(shorter.cloned()) } else { Vec::new() };
    report.findings.extend(different.chain(&shorter).map(|finding| finding_text(finding).at(&report.path)));
    Ok(())
}

/// The furthest that each device saw.
fn furthest_of_each(findings: impl Iterator<Item = ClaimFinding>) -> Vec<ClaimFinding> {
    let mut furthest: BTreeMap<String, ClaimFinding> = BTreeMap::new();
    let length = |finding: &ClaimFinding| match finding {
        ClaimFinding::Shorter(claim) | ClaimFinding::Different(claim) => (claim.by.clone(), claim.length),
    };
    for finding in findings {
        let (by, reach) = length(&finding);
        if furthest.get(&by).is_none_or(|known| length(known).1 < reach) {
            furthest.insert(by, finding);
        }
    }
    furthest.into_values().collect()
}

/// One more pass, which stops at each claimed length to compare the hash.
fn streamed(
    herd: &HerdFolder,
    name: &LedgerName,
    mut claims: Vec<&Claimed>,
    verdict: &StreamVerdict,
    report: &mut Report,
) -> Result<(), Trouble> {
    claims.sort_by_key(|claimed| claimed.claim.length);
    let folder = herd.device(&name.device)?;
    let Some(file) = folder.map(|folder| folder.file(&name.file())).transpose()?.flatten() else { return Ok(()) };
    let mut at = Place { hasher: blake3::Hasher::new(), length: 0, lines: 0 };
    let mut waiting = claims.into_iter().peekable();
    let path = report.path.clone();
    read::pieces(file, &path, |mut piece| {
        while let Some(claimed) = waiting.peek() {
            // A full mark covers all but the line's own mark and line feed.
            let end = claimed.claim.length.unwrap_or(0).saturating_sub(17);
            if end > verdict.sealed_bytes.saturating_sub(17) {
                break;
            }
            let Ok(more) = usize::try_from(end.saturating_sub(at.length)) else { break };
            if more > piece.len() {
                break;
            }
            let (before, rest) = piece.split_at(more);
            at.push(before);
            piece = rest;
            at.compare(claimed, report);
            waiting.next();
        }
        at.push(piece);
    })?;
    let shorter = furthest_of_each(waiting.map(|claimed| ClaimFinding::Shorter(claimed.claim.clone())));
    report.findings.extend(shorter.iter().map(|finding| finding_text(finding).at(&path)));
    Ok(())
}

/// How far a pass has come.
struct Place {
    hasher: blake3::Hasher,
    length: u64,
    lines: u64,
}

impl Place {
    fn push(&mut self, bytes: &[u8]) {
        self.hasher.update(bytes);
        self.length += bytes.len() as u64;
        self.lines += memchr::memchr_iter(b'\n', bytes).count() as u64;
    }

    fn compare(&self, claimed: &Claimed, report: &mut Report) {
        if self.hasher.finalize().as_bytes() == &claimed.claim.mark.0 {
            note(report, Complete { line: self.lines + 1, by: claimed.claim.by.clone(), on: claimed.on });
        } else {
            let finding = ClaimFinding::Different(claimed.claim.clone());
            report.findings.push(finding_text(&finding).at(&report.path));
        }
    }
}

/// The furthest counts.
fn note(report: &mut Report, complete: Complete) {
    if report.complete.as_ref().is_none_or(|known| known.line < complete.line) {
        report.complete = Some(complete);
    }
}

fn finding_text(finding: &ClaimFinding) -> Trouble {
    let length = |claim: &Claim| claim.length.map_or(String::new(), |length| format!(" at {length} bytes"));
    match finding {
        ClaimFinding::Shorter(claim) => Trouble::new(
            format!("shorter than {} saw it{}", claim.by, length(claim)),
            "gather the rest from a copy of the folder: `footfold gather FOLDER`",
        ),
        ClaimFinding::Different(claim) => Trouble::new(
            format!("{} saw a different history{}: its witness is {}", claim.by, length(claim), claim.mark),
            "compare with that device's copy of the folder: `footfold gather FOLDER` names the first line that differs",
        ),
    }
}
