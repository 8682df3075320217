//! From names to paths: the only place that knows where things are in a herd folder.

use std::path::{Path, PathBuf};

use ledger_format::keep;
use ledger_format::limits::LINE_BYTES;
use ledger_format::line::{is_name, split_seal};
use ledger_format::mark::{FullMark, Head};
use rustix::fs::FileType;

use super::{Folder, Room, accepted, read, replace};
use crate::Trouble;

/// A ledger file: whose, and of which year.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LedgerName {
    /// The device that writes it.
    pub device: String,
    /// The year in its name.
    pub year: u16,
}

impl LedgerName {
    /// A name; the device must be one (`line.md` §14).
    pub fn new(device: &str, year: u16) -> Option<Self> {
        (is_name(device) && year <= 9999).then(|| Self { device: device.to_owned(), year })
    }

    /// The name of the file in its device's folder.
    pub fn file(&self) -> String {
        format!("{:04}.txt", self.year)
    }
}

impl std::fmt::Display for LedgerName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{:04}.txt", self.device, self.year)
    }
}

/// The ledger files of a herd folder, and what stands in the place of one but is none.
#[derive(Debug, Default)]
pub struct Listing {
    /// The files, by device and year.
    pub files: Vec<LedgerName>,
    /// Conflict copies beside them, each with its device.
    pub copies: Vec<(String, String)>,
    /// Links, pipes and the like.
    pub findings: Vec<Trouble>,
}

/// What heads say of the herd.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct About {
    /// The herd's name.
    pub herd: String,
    /// Its time zone, by its tz database name.
    pub zone: String,
}

/// A herd's folder.
#[derive(Debug)]
pub struct HerdFolder {
    root: Folder,
}

impl HerdFolder {
    /// Opens a folder that has `ledgers` in it.
    pub fn open(path: &Path) -> Result<Self, Trouble> {
        let root = Folder::open(path)?;
        if root.kind("ledgers")?.is_none() {
            let remedy = "name a herd's folder with `--herd FOLDER`, or begin one with `footfold new FOLDER`";
            return Err(Trouble::new("expected a herd's folder: it has a folder `ledgers` in it", remedy).at(path));
        }
        Ok(Self { root })
    }

    /// The herd folder that one stands in: the nearest above that has `ledgers` in it.
    pub fn find(from: &Path) -> Result<Option<Self>, Trouble> {
        from.ancestors().find(|path| path.join("ledgers").is_dir()).map(Self::open).transpose()
    }

    /// What to say where one stands in none.
    pub fn none_at(from: &Path) -> Trouble {
        Trouble::new(
            "no herd's folder here or above",
            "go into one, or name it with `--herd FOLDER`, or begin one with `footfold new FOLDER`",
        )
        .at(from)
    }

    /// Makes the rooms of a new herd in an empty folder.
    pub fn make(path: &Path) -> Result<Self, Trouble> {
        std::fs::create_dir_all(path).map_err(|e| Trouble::io("make the folder", path, &e))?;
        let root = Folder::open(path)?;
        if !root.names()?.is_empty() {
            return Err(
                Trouble::new("expected an empty folder for a new herd", "name a folder that is not there yet").at(path)
            );
        }
        root.sub_or_make("ledgers")?;
        Ok(Self { root })
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        self.root.path()
    }

    /// The path of a ledger file, for messages.
    pub fn path_of(&self, name: &LedgerName) -> PathBuf {
        self.path().join("ledgers").join(&name.device).join(name.file())
    }

    /// All ledger files, by exact name only; conflict copies, editors' files and the like are not among them.
    pub fn ledgers(&self) -> Result<Listing, Trouble> {
        let mut listing = Listing::default();
        let ledgers = match self.root.sub("ledgers") {
            Ok(Some(ledgers)) => ledgers,
            Ok(None) => return Ok(listing),
            Err(finding) => {
                listing.findings.push(finding);
                return Ok(listing);
            }
        };
        for device in ledgers.names()?.into_iter().filter(|name| is_name(name)) {
            match ledgers.sub(&device) {
                Ok(Some(folder)) => list_device(&folder, &device, &mut listing)?,
                Ok(None) => {}
                Err(finding) => listing.findings.push(finding),
            }
        }
        Ok(listing)
    }

    /// The folder that the devices' folders are in.
    pub fn ledgers_folder(&self) -> Result<Option<Folder>, Trouble> {
        self.root.sub("ledgers")
    }

    /// The folder of a device's ledger files, if there is one.
    pub fn device(&self, device: &str) -> Result<Option<Folder>, Trouble> {
        match self.root.sub("ledgers")? {
            Some(ledgers) => ledgers.sub(device),
            None => Ok(None),
        }
    }

    /// The folder of a device's ledger files, made if there is none.
    pub fn device_or_make(&self, device: &str) -> Result<Folder, Trouble> {
        self.root.sub_or_make("ledgers")?.sub_or_make(device)
    }

    /// The bytes of a ledger file, if it is there.
    pub fn read(&self, name: &LedgerName) -> Result<Option<Vec<u8>>, Trouble> {
        match self.device(&name.device)? {
            Some(folder) => folder.read(&name.file()),
            None => Ok(None),
        }
    }

    /// The same, in memory that is good for a large file and for nothing but reading it.
    pub fn read_large(&self, name: &LedgerName) -> Result<Option<Room>, Trouble> {
        match self.device(&name.device)? {
            Some(folder) => folder.read_large(&name.file()),
            None => Ok(None),
        }
    }

    /// Adds a ledger file that is whole already and not there yet.
    pub fn add(&self, name: &LedgerName, bytes: &[u8]) -> Result<(), Trouble> {
        replace::create(&self.device_or_make(&name.device)?, &name.file(), bytes)
    }

    /// The folder of agreed protocols, if there is one.
    pub fn protocols(&self) -> Result<Option<Folder>, Trouble> {
        self.root.sub("protocols")
    }

    /// Keeps a protocol under the name that its content gives it.
    pub fn keep_protocol(&self, bytes: &[u8]) -> Result<FullMark, Trouble> {
        let mark = FullMark::over(bytes);
        let (folder, name) = (self.root.sub_or_make("protocols")?, format!("{mark}.ron"));
        if folder.kind(&name)?.is_none() {
            super::replace::create(&folder, &name, bytes)?;
        }
        Ok(mark)
    }

    /// A folder of this machine's own, under `.footfold`, made if there is none.
    pub fn own(&self, rooms: &[&str]) -> Result<Folder, Trouble> {
        let first = self.root.sub_or_make(".footfold")?;
        rooms.iter().try_fold(first, |folder, room| folder.sub_or_make(room))
    }

    /// The same, only if it is there: for looking without writing.
    pub fn own_if_there(&self, rooms: &[&str]) -> Result<Option<Folder>, Trouble> {
        let first = self.root.sub(".footfold")?;
        rooms.iter().try_fold(first, |folder, room| folder.map_or(Ok(None), |folder| folder.sub(room)))
    }

    /// The herd's name and zone, from the first head that can be read; where no visible one can, from an accepted one.
    pub fn about(&self) -> Result<About, Trouble> {
        let listing = self.ledgers()?;
        let mut first = listing.findings.into_iter().next();
        for name in listing.files {
            match self.start_of(&name).and_then(|start| about(&keep::plain(&start), &self.path_of(&name))) {
                Ok(Some(about)) => return Ok(about),
                Ok(None) => {}
                Err(trouble) => first = first.or(Some(trouble)),
            }
        }
        if let Some(trouble) = first {
            return Err(trouble);
        }
        for name in accepted::names(self)? {
            let bytes = accepted::look(self, &name)?.unwrap_or_default();
            if let Some(about) = about(&bytes, &self.path_of(&name))? {
                return Ok(about);
            }
        }
        Err(Trouble::new(
            "no ledger here begins with a head that can be read",
            "look at the first lines with `footfold check`, or gather the ledgers from another copy",
        )
        .at(self.path().join("ledgers")))
    }

    /// The beginning of a ledger file; an editor may have saved two bytes for each character.
    fn start_of(&self, name: &LedgerName) -> Result<Vec<u8>, Trouble> {
        let folder = self.device(&name.device)?;
        match folder.map(|folder| folder.file(&name.file())).transpose()?.flatten() {
            Some(file) => read::beginning(file, 2 * LINE_BYTES, &self.path_of(name)),
            None => Ok(Vec::new()),
        }
    }
}

/// What the first line of a ledger says of the herd. A head of another version is a trouble.
fn about(start: &[u8], path: &Path) -> Result<Option<About>, Trouble> {
    let first = start.split(|b| *b == b'\n').next().unwrap_or_default();
    let Some(body) = split_seal(first).and_then(|(body, _)| std::str::from_utf8(body).ok()) else { return Ok(None) };
    match Head::read(body) {
        Ok(head) => Ok(Some(About { herd: head.herd.to_owned(), zone: head.zone.to_owned() })),
        Err(problem) => {
            let remedy = problem.help.clone().unwrap_or_else(|| "look at it with `footfold check`".to_owned());
            Err(Trouble::new(problem.to_string(), remedy).at(path).line(1))
        }
    }
}

/// The year of a ledger file's name, exactly `YYYY.txt`.
pub fn year_of(file: &str) -> Option<u16> {
    let digits = file.strip_suffix(".txt")?;
    (digits.len() == 4 && digits.bytes().all(|b| b.is_ascii_digit())).then(|| digits.parse().ok()).flatten()
}

/// Whether a file in a device's folder is a second one beside a ledger, left by a program that copies folders:
/// `2026 (1).txt`, `2026 (conflicted copy).txt` (`mark.md` §14).
pub fn is_copy_name(file: &str) -> bool {
    let Some((year, rest)) = file.strip_suffix(".txt").and_then(|stem| stem.split_at_checked(4)) else { return false };
    let beside = rest.chars().next().is_some_and(|c| !c.is_ascii_alphanumeric());
    year.bytes().all(|b| b.is_ascii_digit()) && beside
}

fn list_device(folder: &Folder, device: &str, listing: &mut Listing) -> Result<(), Trouble> {
    for file in folder.names()? {
        if is_copy_name(&file) && year_of(&file).is_none() {
            listing.copies.push((device.to_owned(), file));
            continue;
        }
        let Some(name) = year_of(&file).and_then(|year| LedgerName::new(device, year)) else { continue };
        match folder.kind(&file)? {
            Some(FileType::RegularFile) => listing.files.push(name),
            // Opening it says what it is, without opening it.
            _ => listing.findings.extend(folder.file(&file).err()),
        }
    }
    Ok(())
}
