//! Sealing: typed lines become lines of one device's ledger (`spec/mark.md`, `spec/typing.md`).
//!
//! Order of safety: the plan, the new text beside the visible file, the shadow, then the exchange. A kill after
//! the plan is finished by the next sealing; a kill before it never happened. A save that lands meanwhile comes
//! out of the exchange and is taken over in another round.

mod begin;
mod heading;
mod plan;
mod sort;
pub(crate) mod stand;
mod target;

use chrono::{NaiveDate, NaiveDateTime};
use ledger_format::mark::{Chain, FullMark};

use crate::Trouble;
use crate::disk::replace::{self, Displaced};
use crate::disk::{HerdFolder, LedgerName, Lock, accepted};
use plan::{Plan, PlanText};
use sort::Sorted;
use stand::{FileStand, Stand};

pub use begin::{NewHerd, begin_herd};
pub use ledger_format::typing::Remark;
pub use sort::{Doubt, Refused};

/// Who seals, where and when.
#[derive(Clone, Copy, Debug)]
pub struct Desk<'a> {
    /// The herd.
    pub herd: &'a HerdFolder,
    /// The device whose ledger it is.
    pub device: &'a str,
    /// The person, where a typed line does not say.
    pub by: &'a str,
    /// The device's public key, 64 digits.
    pub key: &'a str,
    /// The clock, UTC.
    pub now: NaiveDateTime,
    /// The day in the herd's time zone.
    pub today: NaiveDate,
}

/// A line that was kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptLine {
    /// Its body.
    pub body: String,
    /// Its full mark.
    pub full: FullMark,
}

/// What a sealing did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sealed {
    /// The file that the lines went to.
    pub file: Option<LedgerName>,
    /// The lines kept, in the order they were typed.
    pub kept: Vec<KeptLine>,
    /// What is unlikely in them.
    pub doubts: Vec<Doubt>,
    /// What was left as it was typed, and why.
    pub refused: Vec<Refused>,
    /// What was found and put right on the way.
    pub notices: Vec<String>,
}

/// Rounds of taking over saves that land while we seal; more means that a program, not a person, is saving.
const ROUNDS: usize = 8;

/// Seals what is typed in the device's ledger.
pub fn seal_tail(desk: &Desk) -> Result<Sealed, Trouble> {
    let _lock = Lock::take(desk.herd, desk.now)?;
    if !stand::has_ledger(desk)? {
        let remedy = "write a first line with `footfold write`, or name the device with `--device NAME`";
        return Err(Trouble::new(format!("{} has no ledger in this herd", desk.device), remedy).at(desk.herd.path()));
    }
    rounds(desk, &Work::Tails)
}

/// Seals given typed text, all of it or nothing: if a line is refused, none is kept. The tail is left alone.
pub fn seal_text(desk: &Desk, text: &[u8]) -> Result<Sealed, Trouble> {
    let sorted = sort::sort(text, desk);
    if !sorted.refused.is_empty() {
        return Ok(Sealed { refused: sorted.refused, ..Sealed::default() });
    }
    let _lock = Lock::take(desk.herd, desk.now)?;
    rounds(desk, &Work::Given(sorted))
}

enum Work {
    Tails,
    Given(Sorted),
    /// Only takes over what a save brought in meanwhile.
    TakeOver,
}

fn rounds(desk: &Desk, first: &Work) -> Result<Sealed, Trouble> {
    let mut sum = Sealed::default();
    let mut again = round(desk, first, &mut sum)?;
    for _ in 1..ROUNDS {
        if !again {
            return Ok(sum);
        }
        let next = if matches!(first, Work::Tails) { Work::Tails } else { Work::TakeOver };
        again = round(desk, &next, &mut sum)?;
    }
    if again {
        sum.notices
            .push("a program keeps saving the ledger; its last saves are kept and taken over next time".to_owned());
    }
    Ok(sum)
}

/// One round: says whether a newer save came out and another round is needed.
fn round(desk: &Desk, work: &Work, sum: &mut Sealed) -> Result<bool, Trouble> {
    let mut stand = Stand::take(desk)?;
    sum.notices.append(&mut stand.notices);
    let (plan, done) = planned(desk, &stand, work)?;
    let again = carry_out(desk, &mut stand, &plan)?;
    if done.file.is_some() {
        sum.file = done.file;
    }
    sum.kept.extend(done.kept);
    sum.doubts.extend(done.doubts);
    // What is left is what the last round left.
    sum.refused = done.refused;
    Ok(again)
}

fn planned(desk: &Desk, stand: &Stand, work: &Work) -> Result<(Plan, Sealed), Trouble> {
    let mut done = Sealed::default();
    let (mut bodies, mut texts) = (Vec::new(), Vec::new());
    for file in &stand.files {
        let sorted = match work {
            Work::Tails => sort::sort_lines(&file.typed, desk),
            Work::Given(_) | Work::TakeOver => Sorted::left_alone(&file.typed),
        };
        texts.push(PlanText {
            year: file.name.year,
            read: file.read.as_deref().map(|bytes| FullMark::over(bytes).to_string()),
            consumed: [file.earlier.as_slice(), &sorted.consumed].concat(),
            left: sorted.left,
            rewritten: [file.rewritten.as_slice(), &sorted.rewritten].concat(),
        });
        bodies.extend(sorted.bodies);
        done.doubts.extend(sorted.doubts);
        done.refused.extend(sorted.refused);
    }
    if let Work::Given(sorted) = work {
        bodies.extend(sorted.bodies.iter().cloned());
        done.doubts.extend(sorted.doubts.iter().cloned());
    }
    let mut plan = Plan { into: 0, from: 0, sealed: String::new(), texts };
    if bodies.is_empty() {
        return Ok((plan, done));
    }
    let target = target::of(desk, stand)?;
    let accepted = stand.accepted(target.year);
    let mut chain = Chain::of(accepted);
    let mut sealed = Vec::new();
    if let Some(head) = &target.head {
        chain.seal(head, desk.now, &mut sealed);
    }
    for body in bodies {
        let full = chain.seal(&body, desk.now, &mut sealed);
        done.kept.push(KeptLine { body, full });
    }
    done.file = LedgerName::new(desk.device, target.year);
    (plan.into, plan.from) = (target.year, accepted.len());
    // Bodies are text, and seals are digits.
    plan.sealed = String::from_utf8_lossy(&sealed).into_owned();
    Ok((plan, done))
}

/// Carries a plan out. An error before the lines are in the shadow leaves everything as it was.
fn carry_out(desk: &Desk, stand: &mut Stand, plan: &Plan) -> Result<bool, Trouble> {
    if !plan.sealed.is_empty() {
        stand.begin_file(desk, plan.into)?;
    }
    let changed: Vec<(usize, Vec<u8>)> = (0..stand.files.len())
        .map(|i| (i, stand.files[i].text_after(plan)))
        .filter(|(i, text)| stand.files[*i].read.as_deref() != Some(text))
        .collect();
    if changed.is_empty() {
        stand.clear(desk)?;
        return Ok(false);
    }
    plan.write(desk)?;
    if let Err(trouble) = prepare_and_keep(stand, plan, &changed) {
        Plan::remove(desk)?;
        return Err(trouble);
    }
    let mut again = false;
    for (i, _) in &changed {
        again |= put(desk, &stand.files[*i]).map_err(|trouble| kept_all_the_same(trouble, plan))?;
    }
    if !again {
        Plan::remove(desk).map_err(|trouble| kept_all_the_same(trouble, plan))?;
    }
    Ok(again)
}

/// A fault once the lines are in the shadow: typing them again would keep them twice.
fn kept_all_the_same(trouble: Trouble, plan: &Plan) -> Trouble {
    let lines = plan.sealed.matches('\n').count();
    let what = format!("{lines} new lines are kept, but the ledger does not show them yet: {}", trouble.what);
    let remedy = "do not type them again; once the disk is well, run `footfold seal`: it finishes this";
    Trouble { what, remedy: remedy.to_owned(), ..trouble }
}

/// Writes the new texts beside the files, then the lines to the shadow: from there on they are kept.
fn prepare_and_keep(stand: &mut Stand, plan: &Plan, changed: &[(usize, Vec<u8>)]) -> Result<(), Trouble> {
    let prepared = changed.iter().try_for_each(|(i, text)| {
        let file = &stand.files[*i];
        replace::prepare(&file.folder, &file.name.file(), text)
    });
    let kept = prepared.and_then(|()| match stand.file_mut(plan.into) {
        Some(file) if !plan.sealed.is_empty() => file.accepted.append(plan.sealed.as_bytes()),
        _ => Ok(()),
    });
    if kept.is_err() {
        for (i, _) in changed {
            let file = &stand.files[*i];
            let _ = replace::withdraw(&file.folder, &file.name.file());
        }
    }
    kept
}

/// Puts a new text in place and what it took the place of aside. Says whether a newer save came out.
fn put(desk: &Desk, file: &FileStand) -> Result<bool, Trouble> {
    let aside = desk.herd.own(&["aside", &file.name.device])?;
    let name = file.name.file();
    let aside_name = match &file.read {
        // Raw bytes in an encoding that was guessed stay for good; the text before this one until the next.
        Some(raw) if file.guessed => accepted::aside_name(&file.name, "encoding", raw),
        Some(raw) if file.repeats => accepted::aside_name(&file.name, "repeated", raw),
        _ => format!("{:04}-before.txt", file.name.year),
    };
    let displaced = replace::put(&file.folder, &name, file.read.as_deref(), &aside, &aside_name)?;
    file.strays_aside(&aside)?;
    Ok(displaced == Displaced::Newer)
}
