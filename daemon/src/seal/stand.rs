//! How a device's files stand: what an interrupted sealing left is finished, what came out of an exchange is
//! taken over, and the typed lines are found.

use ledger_format::mark::{self, FullMark, Head};

use super::Desk;
use super::plan::{Plan, PlanText};
use crate::Trouble;
use crate::disk::accepted::{self, Accepted};
use crate::disk::{Folder, HerdFolder, LedgerName, replace};
use crate::saved::{self, Edited, Numbered};

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
    /// Lines that are not sealed.
    pub(crate) typed: Vec<Numbered>,
    /// Whether its encoding was guessed.
    pub(crate) guessed: bool,
    /// Whether it showed accepted lines again, so that the text as it was should be kept.
    pub(crate) repeats: bool,
    /// Lines that an interrupted sealing took, while a text that still shows them lies about.
    pub(crate) earlier: Vec<String>,
    /// Lines that it left in other words, as long as such a text lies about.
    pub(crate) rewritten: Vec<String>,
    /// Texts of an interrupted replacement that are in `typed` now and may go aside.
    strays: Vec<String>,
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
        let plan = match plan {
            Some(plan) => finish(plan, &mut accepted, &mut stand.notices)?,
            None => None,
        };
        for (name, shadow) in accepted {
            let planned = plan.as_ref().and_then(|plan| plan.text(name.year));
            let file = FileStand::take(desk.herd, shadow, &name, planned, &mut stand.notices)?;
            file.check_key(desk)?;
            stand.files.push(file);
        }
        stand.take_repeated();
        Ok(stand)
    }

    /// Lines of the device's own files that stand in a tail once more go from it.
    fn take_repeated(&mut self) {
        for at in 0..self.files.len() {
            let mut typed = std::mem::take(&mut self.files[at].typed);
            let mut repeats = false;
            for kept in &self.files {
                let numbers = saved::take_repeated(&mut typed, kept.accepted.bytes());
                if numbers.is_empty() {
                    continue;
                }
                repeats = true;
                let lines = saved::line_numbers(&numbers);
                self.notices.push(format!(
                    "{}: already kept, {lines}; not sealed again, the text is in .footfold/aside/{}",
                    kept.name, kept.name.device
                ));
            }
            let file = &mut self.files[at];
            (file.typed, file.repeats) = (typed, repeats);
        }
    }

    /// The accepted bytes of a year's file; none yet is an empty file.
    pub(super) fn accepted(&self, year: u16) -> &[u8] {
        self.files.iter().find(|file| file.name.year == year).map_or(&[], |file| file.accepted.bytes())
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
        self.files.push(FileStand::take(desk.herd, accepted, &name, None, &mut self.notices)?);
        Ok(())
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
fn finish(
    plan: Plan,
    accepted: &mut [(LedgerName, Accepted)],
    notices: &mut Vec<String>,
) -> Result<Option<Plan>, Trouble> {
    if plan.sealed.is_empty() {
        return Ok(Some(plan));
    }
    let shadow = accepted.iter_mut().find(|(name, _)| name.year == plan.into);
    let fits = match shadow {
        Some((_, shadow)) => shadow.redo(plan.from, plan.sealed.as_bytes())?,
        None => false,
    };
    notices.push(if fits {
        format!("an interrupted sealing was finished; lines kept: {}", plan.sealed.matches('\n').count())
    } else {
        "an interrupted sealing did not fit the ledger: what was typed is read again".to_owned()
    });
    Ok(fits.then_some(plan))
}

impl FileStand {
    pub(crate) fn take(
        herd: &HerdFolder,
        accepted: Accepted,
        name: &LedgerName,
        planned: Option<&PlanText>,
        notices: &mut Vec<String>,
    ) -> Result<Self, Trouble> {
        let folder = herd.device_or_make(&name.device)?;
        let file = name.file();
        let mut read = folder.read(&file)?;
        if read.as_ref().is_none_or(|bytes| bytes.len() < accepted.bytes().len()) {
            // Shorter than what was accepted: an editor may be in the middle of writing it.
            replace::settle(&folder, &file)?;
            read = folder.read(&file)?;
        }
        let path = herd.path_of(name);
        let found = saved::read(read.as_deref().unwrap_or_default(), accepted.bytes())
            .map_err(|edited| edited_line(&edited).at(&path).line(edited.line))?;
        let as_planned = |plan: &PlanText| plan.read == read.as_deref().map(|bytes| FullMark::over(bytes).to_string());
        // A text that lacks accepted lines is from before the plan; one that shows them all is from after it.
        let (typed, before_plan) = match planned {
            Some(plan) if as_planned(plan) => (plan.left.iter().cloned().map(|line| (0, line)).collect(), true),
            Some(plan) if found.missing > 0 => (saved::without(found.typed, &plan.consumed), true),
            _ => (found.typed, false),
        };
        if found.missing > 0 && planned.is_none() {
            notices.push(format!("{name}: {} sealed lines were missing at its end and are put back", found.missing));
        }
        let (name, earlier, rewritten, strays) = (name.clone(), Vec::new(), Vec::new(), Vec::new());
        let guessed = found.guessed;
        let mut stand =
            Self { name, folder, accepted, read, typed, guessed, repeats: false, earlier, rewritten, strays };
        stand.take_strays(planned, notices)?;
        if before_plan || !stand.strays.is_empty() {
            stand.earlier = planned.map(|plan| plan.consumed.clone()).unwrap_or_default();
            stand.rewritten = planned.map(|plan| plan.rewritten.clone()).unwrap_or_default();
        }
        Ok(stand)
    }

    /// The visible text once a plan is carried out.
    pub(super) fn text_after(&self, plan: &Plan) -> Vec<u8> {
        let mut text = self.accepted.bytes().to_vec();
        if plan.into == self.name.year {
            text.extend_from_slice(plan.sealed.as_bytes());
        }
        match plan.text(self.name.year) {
            Some(planned) => push_lines(&mut text, planned.left.iter()),
            None => push_lines(&mut text, self.typed.iter().map(|(_, line)| line)),
        }
        text
    }

    /// Moves strays aside, under a name for their content.
    pub(crate) fn strays_aside(&self, aside: &Folder) -> Result<(), Trouble> {
        for stray in &self.strays {
            let bytes = self.folder.read(stray)?.unwrap_or_default();
            self.folder.move_to(stray, aside, &accepted::aside_name(&self.name, "save", &bytes))?;
        }
        Ok(())
    }

    /// Takes over what stands beside the file after an interruption: lines that are neither sealed,
    /// nor in the tail, nor were in the text that was sealed.
    fn take_strays(&mut self, planned: Option<&PlanText>, notices: &mut Vec<String>) -> Result<(), Trouble> {
        replace::free_new_name(&self.folder, &self.name.file())?;
        for stray in replace::strays(&self.folder, &self.name.file())? {
            let bytes = self.folder.read(&stray)?.unwrap_or_default();
            match saved::read(&bytes, sealed_of(&bytes, self.accepted.bytes())) {
                Ok(found) => {
                    let torn = !bytes.ends_with(b"\n");
                    let known: Vec<&String> =
                        self.typed.iter().map(|(_, line)| line).chain(consumed(planned)).collect();
                    let mut new = saved::without(found.typed, known.iter().copied());
                    if torn && new.last().is_some_and(|(_, line)| known.iter().any(|k| k.starts_with(line.as_str()))) {
                        new.pop();
                    }
                    self.typed.extend(new.into_iter().filter(|(_, line)| !line.trim().is_empty()));
                }
                Err(edited) => notices.push(format!(
                    "{}: a save that changed sealed line {} was displaced; it is kept in .footfold/aside/{}",
                    self.name, edited.line, self.name.device
                )),
            }
            self.strays.push(stray);
        }
        Ok(())
    }

    /// Only the key that began a ledger goes on in it.
    fn check_key(&self, desk: &Desk) -> Result<(), Trouble> {
        let Some(first) = self.accepted.bytes().split(|b| *b == b'\n').next().filter(|line| !line.is_empty()) else {
            return Ok(());
        };
        let body = ledger_format::line::split_seal(first).map(|(body, _)| String::from_utf8_lossy(body).into_owned());
        let key_fits = body.as_deref().and_then(|body| Head::read(body).ok()).is_some_and(|head| head.key == desk.key);
        if key_fits {
            return Ok(());
        }
        Err(Trouble::new(
            format!("the ledger of {} was begun with another key than this machine's", desk.device),
            "this folder came from another machine: choose a device name of your own with `--device NAME`",
        )
        .at(desk.herd.path_of(&self.name))
        .line(1))
    }
}

/// The sealed lines that a text shows, if they go on from the accepted ones: it may be a text of ours.
fn sealed_of<'a>(bytes: &'a [u8], accepted: &'a [u8]) -> &'a [u8] {
    match mark::check(bytes).vouched_bytes {
        vouched if vouched > accepted.len() && bytes.starts_with(accepted) => &bytes[..vouched],
        _ => accepted,
    }
}

fn consumed(planned: Option<&PlanText>) -> impl Iterator<Item = &String> {
    planned.into_iter().flat_map(|plan| plan.consumed.iter().chain(&plan.left).chain(&plan.rewritten))
}

pub(crate) fn push_lines<'a>(text: &mut Vec<u8>, lines: impl Iterator<Item = &'a String>) {
    for line in lines {
        text.extend_from_slice(line.as_bytes());
        text.push(b'\n');
    }
}

/// What to say of a sealed line that somebody edited.
pub(crate) fn edited_line(edited: &Edited) -> Trouble {
    let Edited { stood, stands, .. } = edited;
    Trouble::new(
        format!("a sealed line was changed, so nothing was sealed\n  stood:  {stood}\n  stands: {stands}"),
        "`footfold check --mend` puts the sealed line back and keeps yours aside; \
         to correct a line, type it anew with `replaces` and the old line's mark",
    )
}
