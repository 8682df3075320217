//! Sealing: typed lines become lines of one device's ledger (`spec/mark.md`, `spec/typing.md`).
//!
//! Order of safety: the plan, the new text beside the visible file, the shadow, the statement, then the exchange. A kill after
//! the plan is finished by the next sealing; a kill before it never happened. A save that lands meanwhile comes
//! out of the exchange and is taken over in another round.

mod begin;
mod heading;
mod offers;
mod others;
mod plan;
pub(crate) mod saves;
mod sort;
pub(crate) mod stand;
pub(crate) mod target;
mod witness;

use chrono::{NaiveDate, NaiveDateTime};
use ledger_format::keep::{self, Remembered, Typed};
use ledger_format::line::{self, Mark, utc_text};
use ledger_format::mark::FullMark;

use crate::disk::replace::{self, Displaced, Stamp};
use crate::disk::{HerdFolder, LedgerName, Lock, accepted, before, faults};
use crate::keys::DeviceKey;
use crate::{Trouble, doubt, forks};
use offers::Offer;
use plan::Plan;
use sort::Sorted;
use stand::{FileStand, Stand};

pub use begin::{NewHerd, begin_herd, join_herd};
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
    /// The device's key.
    pub key: &'a DeviceKey,
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
    /// Witness lines, sealed before them.
    pub witnessed: Vec<String>,
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
    let _lock = begin(desk)?;
    if !stand::has_ledger(desk)? {
        let remedy = "write a first line with `footfold write`, or name the device with `--device NAME`";
        return Err(Trouble::new(format!("{} has no ledger in this herd", desk.device), remedy).at(desk.herd.path()));
    }
    take_in(desk, &others::names(desk)?, true)
}

/// Seals given typed text, all of it or nothing: if a line is refused, none is kept. The tail is left alone.
pub fn seal_text(desk: &Desk, text: &[u8]) -> Result<Sealed, Trouble> {
    let sorted = sort::sort(text, desk);
    if !sorted.refused.is_empty() {
        return Ok(Sealed { refused: sorted.refused, ..Sealed::default() });
    }
    let _lock = begin(desk)?;
    rounds(desk, Stand::take(desk)?, &Work::Given(sorted), &[], &[])
}

/// The same of a text that is made of what stands in the folder, while nobody else writes there.
pub fn seal_made<E: From<Trouble>>(desk: &Desk, make: impl FnOnce() -> Result<String, E>) -> Result<Sealed, E> {
    let _lock = begin(desk)?;
    let sorted = sort::sort(make()?.as_bytes(), desk);
    if !sorted.refused.is_empty() {
        return Ok(Sealed { refused: sorted.refused, ..Sealed::default() });
    }
    Ok(rounds(desk, Stand::take(desk)?, &Work::Given(sorted), &[], &[])?)
}

/// Takes in what was typed and puts right what was changed in these files, unless all is as it was left. What came
/// of other devices is witnessed, once a day.
pub fn tend(desk: &Desk, changed: &[LedgerName]) -> Result<Sealed, Trouble> {
    let _lock = begin(desk)?;
    let others: Vec<LedgerName> = changed.iter().filter(|name| name.device != desk.device).cloned().collect();
    take_in(desk, &others, false)
}

/// Takes the right to write, if the device may: a change of history that was begun is finished first.
fn begin(desk: &Desk) -> Result<Lock, Trouble> {
    let lock = Lock::take(desk.herd, desk.now)?;
    forks::finish(desk.herd, desk.device)?;
    doubt::look(desk)?;
    Ok(lock)
}

/// Seals what is typed, for who holds the lock.
pub(crate) fn seal_again(desk: &Desk) -> Result<Sealed, Trouble> {
    doubt::look(desk)?;
    rounds(desk, Stand::take(desk)?, &Work::Tails, &[], &[])
}

/// Seals given lines, for who holds the lock.
pub(crate) fn seal_given(desk: &Desk, text: &str) -> Result<Sealed, Trouble> {
    if text.is_empty() {
        return Ok(Sealed::default());
    }
    doubt::look(desk)?;
    rounds(desk, Stand::take(desk)?, &Work::Given(sort::sort(text.as_bytes(), desk)), &[], &[])
}

/// Finishes what an interrupted sealing began, for who holds the lock.
pub(crate) fn finish_begun(desk: &Desk) -> Result<(), Trouble> {
    if Plan::read(desk)?.is_some() {
        rounds(desk, Stand::take(desk)?, &Work::TakeOver, &[], &[])?;
    }
    Ok(())
}

/// The files of other devices are put back last: what was typed in them must stand in one's own tail by then.
fn take_in(desk: &Desk, others: &[LedgerName], read_anew: bool) -> Result<Sealed, Trouble> {
    let mut sum = Sealed::default();
    let offers = others::look(desk, others, &mut sum);
    if stand::has_ledger(desk)? {
        let mut stand = Stand::take(desk)?;
        sum.notices.append(&mut stand.notices);
        let witnessed = if read_anew { Vec::new() } else { witness::due(desk, &stand)? };
        let is_at_rest = stand.files.iter().all(FileStand::is_at_rest);
        if read_anew || !offers.is_empty() || !witnessed.is_empty() || !is_at_rest {
            let done = rounds(desk, stand, &Work::Tails, offers.all(), &witnessed)?;
            sum.add(done);
        } else {
            stand.state(desk, &mut sum.notices);
        }
    }
    others::put_back(desk, offers, &mut sum)?;
    Ok(sum)
}

enum Work {
    Tails,
    Given(Sorted),
    /// Only takes over what a save brought in meanwhile.
    TakeOver,
}

impl Sealed {
    fn add(&mut self, more: Self) {
        self.file = more.file.or(self.file.take());
        self.kept.extend(more.kept);
        self.witnessed.extend(more.witnessed);
        self.doubts.extend(more.doubts);
        // What is left is what the last round left.
        self.refused = more.refused;
        for notice in more.notices {
            if !self.notices.contains(&notice) {
                self.notices.push(notice);
            }
        }
    }
}

fn rounds(desk: &Desk, stand: Stand, first: &Work, offers: &[Offer], witnessed: &[String]) -> Result<Sealed, Trouble> {
    let mut sum = Sealed::default();
    let mut again = round(desk, stand, first, (offers, witnessed), &mut sum)?;
    for _ in 1..ROUNDS {
        if !again {
            return Ok(sum);
        }
        let next = if matches!(first, Work::Tails) { Work::Tails } else { Work::TakeOver };
        again = round(desk, Stand::take(desk)?, &next, (&[], &[]), &mut sum)?;
    }
    if again {
        sum.notices
            .push("a program keeps saving the ledger; its last saves are kept and taken over next time".to_owned());
    }
    Ok(sum)
}

/// One round: says whether a newer save came out and another round is needed.
fn round(
    desk: &Desk,
    mut stand: Stand,
    work: &Work,
    (offers, witnessed): (&[Offer], &[String]),
    sum: &mut Sealed,
) -> Result<bool, Trouble> {
    let mut done = Sealed { notices: std::mem::take(&mut stand.notices), ..Sealed::default() };
    done.witnessed.extend_from_slice(witnessed);
    let taken = taken_in(desk, &stand, work, offers);
    let plan = planned(desk, &stand, work, &taken, &mut done)?;
    let again = carry_out(desk, &mut stand, &plan, taken, &mut done)?;
    sum.add(done);
    Ok(again)
}

/// One of the device's files, sorted: what is in its place, each stray, what is carried over.
struct Taken {
    sorted: Vec<Sorted>,
    /// The tail that stays.
    left: Vec<String>,
    /// Whether it was only left as it stood.
    unread: bool,
}

fn taken_in(desk: &Desk, stand: &Stand, work: &Work, offers: &[Offer]) -> Vec<Taken> {
    let newest = stand.files.iter().map(|file| file.name.year).max();
    let sort = |typed: &[Typed]| match work {
        Work::Tails => sort::sort_lines(typed, desk),
        Work::Given(_) | Work::TakeOver => Sorted::left_alone(typed),
    };
    let take = |file: &FileStand| {
        let sorted: Vec<Sorted> = file.typed().map(sort).collect();
        let gone: Vec<usize> = sorted.iter().flat_map(|sorted| sorted.gone.iter().copied()).collect();
        let remarks = keep::remarks(&file.saved, &gone, file.accepted.bytes());
        let mut left: Vec<String> = remarks.into_iter().map(|remark| format!(";! {remark}")).collect();
        let mut parts: Vec<&Sorted> = sorted.iter().collect();
        if !matches!(work, Work::Tails) {
            // Not read, headings stay where they are: what is carried over must not come under one.
            parts.rotate_right(1);
        }
        left.extend(parts.iter().flat_map(|sorted| sorted.left.iter().cloned()));
        Offer::back(&file.saved).add_to(&mut left);
        for offer in offers.iter().filter(|_| Some(file.name.year) == newest) {
            offer.add_to(&mut left);
        }
        let unread = !matches!(work, Work::Tails) && sorted.iter().any(|sorted| !sorted.left.is_empty());
        Taken { sorted, left, unread }
    };
    stand.files.iter().map(take).collect()
}

fn planned(desk: &Desk, stand: &Stand, work: &Work, taken: &[Taken], done: &mut Sealed) -> Result<Plan, Trouble> {
    let given = match work {
        Work::Given(sorted) => Some(sorted),
        _ => None,
    };
    let mut bodies = Vec::new();
    for sorted in taken.iter().flat_map(|taken| &taken.sorted).chain(given) {
        bodies.extend(sorted.bodies.iter());
        done.doubts.extend(sorted.doubts.iter().cloned());
        done.refused.extend(sorted.refused.iter().cloned());
    }
    if bodies.is_empty() && done.witnessed.is_empty() {
        return Ok(Plan::default());
    }
    let target = target::of(desk, stand)?;
    let accepted = stand.accepted(target.year);
    let mut chain = stand.chain(target.year);
    let mut sealed = Vec::new();
    if let Some(head) = &target.head {
        chain.seal(head, desk.now, &mut sealed);
    }
    // What is typed now knows of what came before it (`members.md` §5).
    for body in &done.witnessed {
        chain.seal(body, desk.now, &mut sealed);
    }
    for body in bodies {
        let full = chain.seal(body, desk.now, &mut sealed);
        done.kept.push(KeptLine { body: body.clone(), full });
    }
    done.file = LedgerName::new(desk.device, target.year);
    if matches!(work, Work::Tails) {
        done.notices.extend(group_of_corrections(desk, &done.kept));
    }
    // Bodies are text, and seals are digits.
    let sealed = String::from_utf8_lossy(&sealed).into_owned();
    Ok(Plan { into: target.year, from: accepted.len(), sealed })
}

/// A find-and-replace that was not meant is taken back in one go.
fn group_of_corrections(desk: &Desk, kept: &[KeptLine]) -> Option<String> {
    let replaces = |line: &&KeptLine| line::read(&line.body).is_ok_and(|line| line.replaces.is_some());
    let corrections = kept.iter().filter(replaces).count();
    let sealed = utc_text(desk.now);
    (corrections > 1).then(|| {
        format!(
            "{corrections} corrections were kept together; to take all of them back: footfold strike --corrections \
             --sealed {sealed} --because WHY"
        )
    })
}

/// A file that holds something new.
struct Change {
    at: usize,
    /// What stands in it after the accepted lines.
    tail: Vec<u8>,
    /// Whether its text is other than what stands there.
    rewrites: bool,
    remembered: Vec<Remembered>,
}

/// Carries a plan out. An error before the lines are in the shadow leaves everything as it was.
fn carry_out(
    desk: &Desk,
    stand: &mut Stand,
    plan: &Plan,
    taken: Vec<Taken>,
    done: &mut Sealed,
) -> Result<bool, Trouble> {
    if !plan.sealed.is_empty() {
        stand.begin_file(desk, plan.into)?;
    }
    let changes = changes(stand, plan, taken, &done.kept);
    if !changes.iter().any(|change| change.rewrites) {
        remember(desk, stand, &changes)?;
        stand.clear(desk)?;
        stand.state(desk, &mut done.notices);
        return Ok(false);
    }
    if let Err(trouble) = prepare_and_keep(desk, stand, plan, &changes) {
        return Err(match Plan::remove(desk) {
            Ok(()) => trouble,
            Err(_) => with_new_lines(trouble, plan, "may be kept later: what was begun cannot be taken back"),
        });
    }
    stand.state(desk, &mut done.notices);
    let not_shown = |trouble| with_new_lines(trouble, plan, "are kept, but the ledger does not show them yet");
    let mut again = false;
    for change in rewritten(&changes) {
        again |= put(desk, &stand.files[change.at]).map_err(not_shown)?;
    }
    if !again {
        Plan::remove(desk).map_err(not_shown)?;
        faults::point("cleared");
    }
    Ok(again)
}

fn changes(stand: &Stand, plan: &Plan, taken: Vec<Taken>, kept: &[KeptLine]) -> Vec<Change> {
    let mut marks = kept.iter().map(|line| line.full.mark());
    let mut changes = Vec::new();
    let nothing = || Taken { sorted: Vec::new(), left: Vec::new(), unread: false };
    let mut taken = taken.into_iter();
    for (at, file) in stand.files.iter().enumerate() {
        let Taken { sorted, left, unread } = taken.next().unwrap_or_else(nothing);
        let sealed = if file.name.year == plan.into { plan.sealed.as_str() } else { "" };
        let tail = [sealed.as_bytes(), &stand::lines(&left)].concat();
        let shown_after = file.saved.accepted + sealed.matches('\n').count();
        let (mut before, mut remembered, mut carried) = (Vec::new(), Vec::new(), Vec::new());
        for (sorted, saved) in sorted.iter().zip(file.texts().map(Some).chain([None])) {
            let marks: Vec<Mark> = marks.by_ref().take(sorted.bodies.len()).collect();
            let typed = sorted.remembered(&marks, &before);
            let Some(saved) = saved else {
                carried = typed;
                continue;
            };
            before.extend(typed.iter().cloned());
            let (shown, lacking) = (saved.shown, saved.lacking.clone());
            let (left, carried) = (left.clone(), Vec::new());
            remembered.push(Remembered { shown, lacking, typed, shown_after, left, carried, unread });
        }
        if let Some(newest) = remembered.last_mut() {
            newest.carried = carried;
        }
        let rewrites = !file.shows(&tail) || !file.strays.is_empty();
        if rewrites || !file.remembers(&left) {
            changes.push(Change { at, tail, rewrites, remembered });
        }
    }
    changes
}

/// A fault that leaves new lines kept, or a plan that may keep them: typing them again could keep them twice.
fn with_new_lines(trouble: Trouble, plan: &Plan, how: &str) -> Trouble {
    let lines = plan.sealed.matches('\n').count();
    if lines == 0 {
        return trouble;
    }
    let what = format!("{lines} new lines {how}: {}", trouble.what);
    let remedy = "do not type them again; once the disk is well, run `footfold seal` and look whether they are there";
    Trouble { what, remedy: remedy.to_owned(), ..trouble }
}

/// Remembers what was saved and what is to become of it, notes the plan, writes the new texts beside the files, then
/// the lines to the shadow: from there on they are kept.
fn prepare_and_keep(desk: &Desk, stand: &mut Stand, plan: &Plan, changes: &[Change]) -> Result<(), Trouble> {
    let prepared = remember(desk, stand, changes).and_then(|()| plan.write(desk)).and_then(|()| {
        rewritten(changes).try_for_each(|change| {
            let file = &stand.files[change.at];
            replace::prepare(&file.folder, &file.name.file(), &[file.accepted.bytes(), &change.tail])
        })
    });
    let kept = prepared.and_then(|()| match stand.file_mut(plan.into) {
        Some(file) if !plan.sealed.is_empty() => file.accepted.append(plan.sealed.as_bytes()),
        _ => Ok(()),
    });
    if kept.is_err() {
        for change in rewritten(changes) {
            let file = &stand.files[change.at];
            let _ = replace::withdraw(&file.folder, &file.name.file());
        }
    }
    kept
}

fn rewritten(changes: &[Change]) -> impl Iterator<Item = &Change> {
    changes.iter().filter(|change| change.rewrites)
}

fn remember(desk: &Desk, stand: &mut Stand, changes: &[Change]) -> Result<(), Trouble> {
    changes.iter().try_for_each(|change| stand.files[change.at].remember(desk, change.remembered.clone()))
}

/// Puts a new text in place and what it took the place of aside. Says whether a newer save came out.
fn put(desk: &Desk, file: &FileStand) -> Result<bool, Trouble> {
    let aside = desk.herd.own(&["aside", &file.name.device])?;
    let name = file.name.file();
    let aside_name = |stamp: &Stamp| match &file.read {
        // Raw bytes in an encoding that was guessed stay for good; a text that showed more than its typed lines, as
        // long as saves are remembered; any other only until the next.
        Some(raw) if file.saved.guessed => accepted::aside_name(&file.name, "encoding", raw),
        Some(raw) if file.saved.irregular => accepted::aside_name(&file.name, "save", raw),
        _ => before::name(&file.name, stamp),
    };
    let displaced = replace::put(&file.folder, &name, file.read.as_deref(), &aside, aside_name)?;
    file.strays_aside(&aside)?;
    before::keep_newest(&aside, &file.name)?;
    before::let_old_saves_go(&aside, &file.name, desk.now)?;
    Ok(displaced == Displaced::Newer)
}
