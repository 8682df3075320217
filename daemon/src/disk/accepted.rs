//! The shadow: the accepted bytes of a ledger file, which only we write. A line is kept once it is here.

use ledger_format::keep;
use ledger_format::mark::{self, Chain, Check, FullMark};

use super::{Folder, HerdFolder, LedgerName, calls, faults, replace};
use crate::Trouble;

/// The accepted bytes of one ledger file.
#[derive(Debug)]
pub struct Accepted {
    folder: Folder,
    name: LedgerName,
    bytes: Vec<u8>,
    /// The hash that goes on from these.
    chain: Chain,
    /// The visible file as it was read beside it.
    visible: Option<Vec<u8>>,
}

/// What had to be put right when the shadow was opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Recovered {
    /// It was not there and was made from the visible file: this many lines.
    MadeAnew(usize),
    /// Bytes at its end that were no whole lines went aside, to this name.
    TornTail(String),
    /// It was damaged and was mended from the visible file.
    Mended,
    /// The visible file goes on from it, with right marks: it took over this many lines.
    Extended(usize),
}

impl std::fmt::Display for Recovered {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::MadeAnew(lines) => write!(f, "the accepted copy was missing: made anew, {lines} lines"),
            Self::TornTail(aside) => write!(f, "the accepted copy ended in a torn line: moved to {aside}"),
            Self::Mended => f.write_str("the accepted copy was damaged: mended from the visible file"),
            Self::Extended(lines) => write!(f, "{lines} sealed lines came from elsewhere, with right marks: accepted"),
        }
    }
}

/// The shadow's bytes, without writing anything.
pub fn look(herd: &HerdFolder, name: &LedgerName) -> Result<Option<Vec<u8>>, Trouble> {
    match herd.own_if_there(&["accepted", &name.device])? {
        Some(folder) => folder.read(&name.file()),
        None => Ok(None),
    }
}

/// How long the shadow is; none if there is none.
pub(crate) fn length(herd: &HerdFolder, name: &LedgerName) -> Result<Option<u64>, Trouble> {
    let Some(folder) = herd.own_if_there(&["accepted", &name.device])? else { return Ok(None) };
    let Some(file) = folder.file(&name.file())? else { return Ok(None) };
    let facts = file.metadata().map_err(|e| Trouble::io("look at the file", &folder.join(&name.file()), &e))?;
    Ok(Some(facts.len()))
}

/// The ledger files that have a shadow.
pub fn names(herd: &HerdFolder) -> Result<Vec<LedgerName>, Trouble> {
    let Some(accepted) = herd.own_if_there(&["accepted"])? else { return Ok(Vec::new()) };
    let mut names = Vec::new();
    for device in accepted.names()? {
        let Some(folder) = accepted.sub(&device)? else { continue };
        let years = folder.names()?.into_iter().filter_map(|file| super::paths::year_of(&file));
        names.extend(years.filter_map(|year| LedgerName::new(&device, year)));
    }
    Ok(names)
}

impl Accepted {
    /// Opens the shadow of a file and puts right what a crash or an accident left.
    /// An append that was planned but perhaps not finished began at `unfinished`.
    pub fn open(
        herd: &HerdFolder,
        name: &LedgerName,
        unfinished: Option<usize>,
    ) -> Result<(Self, Vec<Recovered>), Trouble> {
        let visible = herd.read(name)?;
        let folder = herd.own(&["accepted", &name.device])?;
        let bytes = folder.read(&name.file())?.unwrap_or_default();
        let (check, chain) = mark::check_and_go_on(&bytes);
        let mut accepted = Self { folder, name: name.clone(), bytes, chain, visible: None };
        let mut done = Vec::new();
        if accepted.bytes.is_empty() {
            done.extend(accepted.make_from(herd, &keep::plain(visible.as_deref().unwrap_or_default()))?);
            accepted.visible = visible;
            return Ok((accepted, done));
        }
        if !check.is_unbroken() && unfinished.is_some_and(|from| from <= check.vouched_bytes) {
            done.push(Recovered::TornTail(accepted.cut(herd, check.vouched_bytes)?));
        } else if !check.is_unbroken() {
            accepted.mend_from(herd, visible.as_deref().map(keep::plain).as_deref())?;
            done.push(Recovered::Mended);
        } else if check.sealed_bytes < accepted.bytes.len() {
            done.push(Recovered::TornTail(accepted.cut(herd, check.sealed_bytes)?));
        }
        done.extend(accepted.extend_from(visible.as_deref().unwrap_or_default())?);
        accepted.visible = visible;
        Ok((accepted, done))
    }

    /// The visible file as it was read when this was opened; given once.
    pub fn take_visible(&mut self) -> Option<Vec<u8>> {
        self.visible.take()
    }

    /// The hash that goes on from the accepted bytes.
    pub fn chain(&self) -> Chain {
        self.chain.clone()
    }

    /// The full mark of the last accepted line.
    pub fn full(&self) -> Option<FullMark> {
        self.chain.last()
    }

    /// The accepted bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Appends lines and waits until they are on the disk: from here on they are kept.
    pub fn append(&mut self, lines: &[u8]) -> Result<(), Trouble> {
        let before = self.bytes.len() as u64;
        let path = self.folder.join(&self.name.file());
        let mut file = self.folder.append(&self.name.file())?;
        let written = calls::write_all(&mut file, lines, &path).and_then(|()| to_disk(&file, &path));
        if let Err(error) = written {
            // All or nothing: half a line, or a line that may not be on the disk, must not count as kept.
            let _ = cut_back(&file, before, &path).and_then(|()| calls::sync(&file, &path));
            return Err(Trouble::io("keep the lines", &path, &error));
        }
        if before == 0 {
            self.folder.sync()?;
        }
        self.bytes.extend_from_slice(lines);
        self.chain.pass(lines);
        Ok(())
    }

    /// Completes an append that was cut short, given what it was to append and where.
    /// Says no if other lines stand there: then the append belongs to another history of this folder.
    pub fn redo(&mut self, from: usize, lines: &[u8]) -> Result<bool, Trouble> {
        let Some(rest) = self.bytes.get(from..) else { return Ok(false) };
        if rest.starts_with(lines) {
            return Ok(true);
        }
        let Some(missing) = lines.strip_prefix(rest) else { return Ok(false) };
        self.append(missing)?;
        Ok(true)
    }

    fn make_from(&mut self, herd: &HerdFolder, visible: &[u8]) -> Result<Option<Recovered>, Trouble> {
        if visible.is_empty() {
            return Ok(None);
        }
        let check = mark::check(visible);
        if let Some(line) = check.first_broken {
            let Some(through) = keep::seen_through(visible) else { return Err(broken(herd, &self.name, line)) };
            return self.make_from(herd, &through);
        }
        self.append(&visible[..check.sealed_bytes])?;
        Ok(Some(Recovered::MadeAnew(check.lines)))
    }

    fn extend_from(&mut self, visible: &[u8]) -> Result<Option<Recovered>, Trouble> {
        let held = self.bytes.len();
        if !visible.starts_with(&self.bytes) {
            let plain = keep::plain(visible);
            return if plain.starts_with(&self.bytes) { self.extend_from(&plain) } else { Ok(None) };
        }
        if mark::sealed_end(visible) <= held {
            return Ok(None);
        }
        let check = mark::check(visible);
        if check.vouched_bytes <= held {
            return Ok(None);
        }
        let more = visible[held..check.vouched_bytes].to_vec();
        self.append(&more)?;
        Ok(Some(Recovered::Extended(more.iter().filter(|b| **b == b'\n').count())))
    }

    fn mend_from(&mut self, herd: &HerdFolder, visible: Option<&[u8]>) -> Result<(), Trouble> {
        let copies: Vec<&[u8]> = visible.into_iter().collect();
        let mended = mark::mend(&self.bytes, &copies);
        let Check { sealed_bytes, first_broken, .. } = mended.check;
        if let Some(line) = first_broken {
            let path = self.folder.join(&self.name.file());
            return Err(Trouble::new(
                "the accepted copy is damaged, and the visible file cannot mend it",
                MEND_FROM_COPY,
            )
            .at(path)
            .line(line));
        }
        let aside = herd.own(&["aside", &self.name.device])?;
        replace::overwrite(&aside, &aside_name(&self.name, "accepted", &self.bytes), &self.bytes)?;
        let good = mended.bytes[..sealed_bytes].to_vec();
        replace::overwrite(&self.folder, &self.name.file(), &good)?;
        self.chain = Chain::of(&good);
        self.bytes = good;
        Ok(())
    }

    /// Puts other bytes in the shadow's place, after they were verified; what stood goes aside.
    pub fn replace(&mut self, herd: &HerdFolder, bytes: &[u8]) -> Result<(), Trouble> {
        let aside = herd.own(&["aside", &self.name.device])?;
        replace::overwrite(&aside, &aside_name(&self.name, "accepted", &self.bytes), &self.bytes)?;
        replace::overwrite(&self.folder, &self.name.file(), bytes)?;
        bytes.clone_into(&mut self.bytes);
        self.chain = Chain::of(bytes);
        Ok(())
    }

    /// The shadow as it is, with nothing put right: for mending.
    pub fn as_is(herd: &HerdFolder, name: &LedgerName) -> Result<Self, Trouble> {
        let folder = herd.own(&["accepted", &name.device])?;
        let bytes = folder.read(&name.file())?.unwrap_or_default();
        let chain = Chain::of(&bytes);
        Ok(Self { folder, name: name.clone(), bytes, chain, visible: None })
    }

    /// Cuts the shadow; what was cut goes aside first.
    fn cut(&mut self, herd: &HerdFolder, length: usize) -> Result<String, Trouble> {
        let aside = herd.own(&["aside", &self.name.device])?;
        let torn = &self.bytes[length..];
        let name = aside_name(&self.name, "torn", torn);
        replace::overwrite(&aside, &name, torn)?;
        let path = self.folder.join(&self.name.file());
        let file = self.folder.append(&self.name.file())?;
        calls::cut(&file, length as u64, &path)
            .and_then(|()| calls::sync(&file, &path))
            .map_err(|e| Trouble::io("cut the torn end off", &path, &e))?;
        self.bytes.truncate(length);
        self.chain = Chain::of(&self.bytes);
        Ok(aside.join(&name).display().to_string())
    }
}

fn cut_back(file: &std::fs::File, length: u64, path: &std::path::Path) -> std::io::Result<()> {
    if faults::mutant("leave-torn") { Ok(()) } else { calls::cut(file, length, path) }
}

fn to_disk(file: &std::fs::File, path: &std::path::Path) -> std::io::Result<()> {
    faults::point("appended");
    if !faults::mutant("skip-shadow-sync") {
        calls::sync_data(file, path)?;
    }
    faults::point("shadow-synced");
    Ok(())
}

/// A name for what is kept aside: by file, reason and content, so that nothing overwrites anything else.
pub fn aside_name(name: &LedgerName, why: &str, bytes: &[u8]) -> String {
    format!("{:04}-{why}-{}.txt", name.year, mark::FullMark::over(bytes).mark())
}

const MEND_FROM_COPY: &str = "mend it from another copy of the herd's folder: `footfold check --mend --copy FOLDER`";

/// A ledger that cannot be built upon.
pub(crate) fn broken(herd: &HerdFolder, name: &LedgerName, line: usize) -> Trouble {
    Trouble::new("the marks do not hold from this line on; nothing is sealed upon a broken ledger", MEND_FROM_COPY)
        .at(herd.path_of(name))
        .line(line)
}
