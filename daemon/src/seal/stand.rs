//! How a device's files stand: what an interrupted sealing left is finished, and every text that was saved, in
//! place or displaced, is compared with what is accepted.

use std::collections::VecDeque;

use ledger_format::keep::{self, Correction, Remembered, Saved, Typed, What, places};
use ledger_format::mark::{self, Chain, Head};

use super::Desk;
use super::plan::Plan;
use super::saves::Saves;
use super::sort::Sorted;
use crate::disk::accepted::{self, Accepted};
use crate::disk::paths::is_copy_name;
use crate::disk::{Folder, HerdFolder, LedgerName, before, faults, replace};
use crate::{Trouble, doubt, forks, states};

/// A device's files.
pub(super) struct Stand {
    pub(super) files: Vec<FileStand>,
    pub(super) notices: Vec<String>,
}

/// One ledger file.
pub(crate) struct FileStand {
    pub(crate) name: LedgerName,
    pub(crate) folder: Folder,
    pub(crate) accepted: Accepted,
    /// The visible file as it was read; none if it was not there.
    pub(crate) read: Option<Vec<u8>>,
    /// What it says.
    pub(crate) saved: Saved,
    /// Texts that came out of its place, and what each says.
    pub(super) strays: Vec<(String, Saved)>,
    pub(super) saves: Saves,
}

/// Whether the device has any ledger file here, visible or accepted.
pub(super) fn has_ledger(desk: &Desk) -> Result<bool, Trouble> {
    Ok(!names(desk)?.is_empty())
}

fn names(desk: &Desk) -> Result<Vec<LedgerName>, Trouble> {
    let listing = desk.herd.ledgers()?;
    let mine = desk.herd.path().join("ledgers").join(desk.device);
    let in_way = |finding: &&Trouble| {
        finding.path.as_ref().is_some_and(|path| path.starts_with(&mine) || mine.starts_with(path))
    };
    if let Some(finding) = listing.findings.iter().find(in_way) {
        return Err(finding.clone());
    }
    let mut names = [listing.files, accepted::names(desk.herd)?].concat();
    names.retain(|name| name.device == desk.device);
    names.sort();
    names.dedup();
    Ok(names)
}

impl Stand {
    pub(super) fn take(desk: &Desk) -> Result<Self, Trouble> {
        let plan = Plan::read(desk)?;
        let mut names = names(desk)?;
        if let Some(plan) = plan.as_ref().filter(|plan| !plan.sealed.is_empty()) {
            names.extend(LedgerName::new(desk.device, plan.into).filter(|name| !names.contains(name)));
        }
        let mut stand = Self { files: Vec::new(), notices: Vec::new() };
        let mut accepted = Vec::new();
        for name in names {
            let unfinished = plan.as_ref().filter(|plan| plan.into == name.year).map(|plan| plan.from);
            let (shadow, recovered) = Accepted::open(desk.herd, &name, unfinished)?;
            stand.notices.extend(recovered.iter().map(|what| format!("{name}: {what}")));
            accepted.push((name, shadow));
        }
        if let Some(plan) = &plan {
            finish(plan, &mut accepted, &mut stand.notices)?;
        }
        let mut accepted = VecDeque::from(accepted);
        while let Some((name, shadow)) = accepted.pop_front() {
            let taken = stand.files.iter().map(|file| file.accepted.bytes());
            let others: Vec<&[u8]> = taken.chain(accepted.iter().map(|(_, shadow)| shadow.bytes())).collect();
            let mut file = FileStand::take(desk.herd, shadow, &name, &others)?;
            file.check_key(desk)?;
            file.take_copies(&others)?;
            if plan.is_some() {
                // It is we who did not show them yet, not an editor that was opened before.
                file.saved.unseen.clear();
            }
            stand.notices.extend(file.notices());
            stand.files.push(file);
        }
        stand.drop_lines_of_other_years();
        Ok(stand)
    }

    /// Sealed lines of one file pasted into another of the same device are kept already.
    fn drop_lines_of_other_years(&mut self) {
        for at in 0..self.files.len() {
            let mut saved = std::mem::take(&mut self.files[at].saved);
            let repeated = self.files.iter().enumerate().filter(|(other, _)| *other != at).filter_map(|(_, other)| {
                let lines = keep::take_sealed(&mut saved.typed, other.accepted.bytes());
                (!lines.is_empty()).then(|| already_kept(&other.name, &lines))
            });
            let told: Vec<String> = repeated.collect();
            saved.irregular |= !told.is_empty();
            self.notices.extend(told);
            self.files[at].saved = saved;
        }
    }

    /// The accepted bytes of a year's file; none yet is an empty file.
    pub(super) fn accepted(&self, year: u16) -> &[u8] {
        self.files.iter().find(|file| file.name.year == year).map_or(&[], |file| file.accepted.bytes())
    }

    /// Its running hash.
    pub(super) fn chain(&self, year: u16) -> Chain {
        self.files.iter().find(|file| file.name.year == year).map_or_else(Chain::default, |file| file.accepted.chain())
    }

    pub(super) fn file_mut(&mut self, year: u16) -> Option<&mut FileStand> {
        self.files.iter_mut().find(|file| file.name.year == year)
    }

    /// Makes room for a file that is to be begun.
    pub(super) fn begin_file(&mut self, desk: &Desk, year: u16) -> Result<(), Trouble> {
        let Some(name) = LedgerName::new(desk.device, year).filter(|_| self.file_mut(year).is_none()) else {
            return Ok(());
        };
        let (accepted, _) = Accepted::open(desk.herd, &name, None)?;
        self.files.push(FileStand::take(desk.herd, accepted, &name, &[])?);
        Ok(())
    }

    /// States how far each file goes, where that is not stated yet. The lines are kept with or without it: what fails
    /// is told, and made at the next sealing.
    pub(super) fn state(&self, desk: &Desk, notices: &mut Vec<String>) {
        for FileStand { name, accepted, .. } in &self.files {
            let Some(full) = accepted.full() else { continue };
            match states::state_end(desk.herd, name, accepted.bytes(), full, desk.key, desk.now) {
                Ok(_) => faults::point("stated"),
                Err(trouble) => notices.push(format!(
                    "{name}: all lines are kept, but it could not be signed how far they go; done at the next \
                     sealing: {trouble}"
                )),
            }
        }
    }

    /// Nothing is to be done: what an interrupted sealing left goes aside, and the plan goes.
    pub(super) fn clear(&self, desk: &Desk) -> Result<(), Trouble> {
        for file in self.files.iter().filter(|file| !file.strays.is_empty()) {
            file.strays_aside(&desk.herd.own(&["aside", desk.device])?)?;
        }
        Plan::remove(desk)
    }
}

/// Brings the planned lines into the shadow. A plan that does not fit the shadow is of another history.
fn finish(plan: &Plan, accepted: &mut [(LedgerName, Accepted)], notices: &mut Vec<String>) -> Result<(), Trouble> {
    if plan.sealed.is_empty() {
        return Ok(());
    }
    let fits = match accepted.iter_mut().find(|(name, _)| name.year == plan.into) {
        Some((_, shadow)) => shadow.redo(plan.from, plan.sealed.as_bytes())?,
        None => false,
    };
    notices.push(if fits {
        format!("an interrupted sealing was finished; lines kept: {}", plan.sealed.matches('\n').count())
    } else {
        "an interrupted sealing did not fit the ledger: what was typed is read again".to_owned()
    });
    Ok(())
}

impl FileStand {
    /// `others` are the accepted bytes of the device's other files.
    pub(crate) fn take(
        herd: &HerdFolder,
        mut accepted: Accepted,
        name: &LedgerName,
        others: &[&[u8]],
    ) -> Result<Self, Trouble> {
        let folder = herd.device_or_make(&name.device)?;
        before::bring_back_late(herd, name, &folder)?;
        let file = name.file();
        let mut read = accepted.take_visible();
        if read.as_ref().is_none_or(|bytes| bytes.len() < accepted.bytes().len()) {
            // Shorter than what was accepted: an editor may be in the middle of writing it.
            replace::settle(&folder, &file)?;
            read = folder.read(&file)?;
        }
        faults::point("read");
        let saves = Saves::read(herd, name)?;
        let given_up = forks::given_up(herd, name)?;
        let said = forks::without(&given_up, read.as_deref().unwrap_or_default(), accepted.bytes());
        let mut saved = keep::compare(&said, accepted.bytes(), others, saves.known());
        if said.len() < read.as_ref().map_or(0, Vec::len) {
            // Nobody took out the lines of a history that this text does not know of.
            saved.unseen.clear();
            saved.deleted.clear();
        }
        let mut stand = Self { name: name.clone(), folder, accepted, read, saved, strays: Vec::new(), saves };
        stand.take_strays(herd, &given_up, others)?;
        Ok(stand)
    }

    /// Whether texts stand beside it that are to be taken in.
    pub(super) fn has_strays(&self) -> bool {
        !self.strays.is_empty()
    }

    /// Whether the visible file is what the last sealing left.
    pub(super) fn is_at_rest(&self) -> bool {
        let Some(newest) = self.saves.known().first() else {
            return self.strays.is_empty() && self.read.as_deref() == Some(self.accepted.bytes());
        };
        self.strays.is_empty() && !newest.unread && self.shows(&lines(&newest.left))
    }

    /// Whether the newest save remembered left this tail, so that a later save without it can be told.
    pub(super) fn remembers(&self, left: &[String]) -> bool {
        self.saves.known().first().map_or(left.is_empty(), |newest| newest.left == left && !newest.unread)
    }

    /// What is in its place, then what was displaced.
    pub(super) fn texts(&self) -> impl Iterator<Item = &Saved> {
        std::iter::once(&self.saved).chain(self.strays.iter().map(|(_, saved)| saved))
    }

    /// Their typed lines, then those that are carried over; each is read by itself.
    pub(super) fn typed(&self) -> impl Iterator<Item = &[Typed]> {
        let carried = std::iter::once(self.saved.carried.as_slice());
        self.texts().map(|saved| saved.typed.as_slice()).chain(carried)
    }

    /// Its tail, with nothing read.
    pub(crate) fn tail(&self) -> Vec<String> {
        let with_device = |typed: &Typed| match &typed.what {
            What::Corrects(Correction { was, .. }) if was.len() == 1 => {
                let text = keep::as_correction(&typed.text, was[0].mark, Some(&self.name.device));
                Typed { text, what: What::New, ..typed.clone() }
            }
            _ => typed.clone(),
        };
        let alone = |typed: &[Typed]| Sorted::left_alone(&typed.iter().map(with_device).collect::<Vec<_>>()).left;
        self.typed().flat_map(alone).collect()
    }

    /// Whether the visible file is the accepted lines and this tail.
    pub(super) fn shows(&self, tail: &[u8]) -> bool {
        let after = self.read.as_ref().and_then(|read| read.get(self.accepted.bytes().len()..));
        self.saved.is_plain && after == Some(tail)
    }

    /// Moves strays aside, under a name for their content.
    pub(crate) fn strays_aside(&self, aside: &Folder) -> Result<(), Trouble> {
        for (stray, _) in &self.strays {
            let bytes = self.folder.read(stray)?.unwrap_or_default();
            // A conflict copy is somebody's file: it stays for good.
            let why = if is_copy_name(stray) { "copy" } else { "save" };
            self.folder.move_to(stray, aside, &accepted::aside_name(&self.name, why, &bytes))?;
        }
        Ok(())
    }

    /// Reads what came out of the file's place, or never got there. What the visible file has, it does not add. A text
    /// that lies aside as damaged says nothing: a mending was interrupted.
    fn take_strays(&mut self, herd: &HerdFolder, given_up: &[Vec<u8>], others: &[&[u8]]) -> Result<(), Trouble> {
        replace::free_new_name(&self.folder, &self.name.file())?;
        let aside = herd.own_if_there(&["aside", &self.name.device])?;
        for stray in replace::strays(&self.folder, &self.name.file())? {
            let bytes = self.folder.read(&stray)?.unwrap_or_default();
            let damaged = accepted::aside_name(&self.name, "mended", &bytes);
            if let Some(aside) = &aside
                && aside.read(&damaged)?.as_ref() == Some(&bytes)
            {
                self.folder.remove(&stray)?;
                continue;
            }
            let bytes = forks::without(given_up, &bytes, self.accepted.bytes());
            let saved = keep::compare(&bytes, sealed_of(&bytes, self.accepted.bytes()), others, self.saves.known());
            let torn = !bytes.ends_with(b"\n");
            self.take_stray(stray, saved, torn);
        }
        Ok(())
    }

    /// Conflict copies beside one's own file are saves that a program put under another name (`mark.md` §14). One that
    /// will not open, as a placeholder whose text is not here, is absent.
    fn take_copies(&mut self, others: &[&[u8]]) -> Result<(), Trouble> {
        let mut copies = self.folder.names()?;
        copies.retain(|name| is_copy_of(name, &self.name));
        for copy in copies {
            replace::settle(&self.folder, &copy).ok();
            let Ok(Some(bytes)) = self.folder.read(&copy) else { continue };
            let saved = keep::compare(&bytes, sealed_of(&bytes, self.accepted.bytes()), others, self.saves.known());
            self.take_stray(copy, saved, false);
        }
        Ok(())
    }

    /// Takes in a text beside the others: what they have it does not add, and what it changed stands in them no more.
    fn take_stray(&mut self, file: String, mut saved: Saved, torn: bool) {
        keep::without_known(&mut saved, self.texts(), torn);
        let strays = self.strays.iter_mut().map(|(_, saved)| saved);
        for earlier in std::iter::once(&mut self.saved).chain(strays) {
            keep::without_reworded(earlier, &saved);
        }
        self.strays.push((file, saved));
    }

    /// What was put right in it, for a person.
    fn notices(&self) -> Vec<String> {
        let Self { name, saved, .. } = self;
        let mut notices = Vec::new();
        if !saved.repeated.is_empty() {
            notices.push(already_kept(name, &saved.repeated));
        }
        let is_new = |typed: &&Typed| matches!(&typed.what, What::Corrects(correction) if !correction.waits);
        let corrections = saved.typed.iter().filter(is_new).count();
        if corrections > 0 {
            let lines = if corrections == 1 { "line was" } else { "lines were" };
            notices.push(format!("{name}: {corrections} sealed {lines} changed: put back, the change is a correction"));
        }
        if !saved.deleted.is_empty() {
            notices.push(format!("{name}: sealed, and put back: {}", places(&saved.deleted)));
        }
        if !saved.unseen.is_empty() {
            notices.push(format!("{name}: kept since that text was opened, and put back: {}", places(&saved.unseen)));
        }
        if saved.damaged > 0 {
            notices.push(format!("{name}: sealed lines were damaged and are put back: {}", saved.damaged));
        }
        if saved.moved {
            notices.push(format!("{name}: sealed lines were moved; they are in their order again"));
        }
        for (copy, _) in self.strays.iter().filter(|(stray, _)| is_copy_name(stray)) {
            notices.push(format!(
                "{}/{copy}: a copy that a program left beside the ledger: taken in like a save; it is now in \
                 .footfold/aside/{}",
                name.device, name.device
            ));
        }
        if !saved.aside.is_empty() {
            notices.push(format!(
                "{name}: the head cannot be changed and is put back; your text is in .footfold/aside/{}",
                name.device
            ));
        }
        notices
    }

    /// Only the key that began a ledger goes on in it.
    fn check_key(&self, desk: &Desk) -> Result<(), Trouble> {
        let Some(first) = self.accepted.bytes().split(|b| *b == b'\n').next().filter(|line| !line.is_empty()) else {
            return Ok(());
        };
        let body = ledger_format::line::split_seal(first).map(|(body, _)| String::from_utf8_lossy(body).into_owned());
        let key_fits =
            body.as_deref().and_then(|body| Head::read(body).ok()).is_some_and(|head| head.key == desk.key.public());
        if key_fits {
            return Ok(());
        }
        Err(Trouble::new(
            format!(
                "the ledger of {} was begun with another key than this machine's: it is read here, and nothing is \
                 sealed in it",
                desk.device
            ),
            format!(
                "take a name of your own: set `device` in footfold.ron, or say `--device {}`; a keeper lets the new \
                 name in",
                doubt::next_name(desk.herd, desk.device)
            ),
        )
        .at(desk.herd.path_of(&self.name))
        .line(1))
    }

    /// Remembers what was saved, with what became of it.
    pub(super) fn remember(&mut self, desk: &Desk, saves: Vec<Remembered>) -> Result<(), Trouble> {
        saves.into_iter().try_for_each(|save| self.saves.remember(desk.herd, save, desk.now))
    }
}

/// Whether a file is a conflict copy of this one.
fn is_copy_of(file: &str, name: &LedgerName) -> bool {
    is_copy_name(file) && file.starts_with(&format!("{:04}", name.year))
}

fn already_kept(name: &LedgerName, lines: &[usize]) -> String {
    let lines = places(lines);
    format!("{name}: already kept, {lines}; not sealed again, the text is in .footfold/aside/{}", name.device)
}

/// The sealed lines that a text shows, if they go on from the accepted ones: it may be a text of ours.
fn sealed_of<'a>(bytes: &'a [u8], accepted: &'a [u8]) -> &'a [u8] {
    if !bytes.starts_with(accepted) {
        return accepted;
    }
    match mark::check(bytes).vouched_bytes {
        vouched if vouched > accepted.len() => &bytes[..vouched],
        _ => accepted,
    }
}

/// Lines as they stand in a file.
pub(crate) fn lines(lines: &[String]) -> Vec<u8> {
    lines.iter().flat_map(|line| [line.as_bytes(), b"\n"]).flatten().copied().collect()
}
