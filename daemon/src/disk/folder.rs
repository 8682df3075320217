//! A folder as an open handle. Everything in it is reached through the handle by one plain name,
//! without following links, so no name can lead out of it.

use std::fs::File;
use std::io;
use std::os::fd::{AsFd, OwnedFd};
use std::path::{Path, PathBuf};

use ledger_format::limits::FILE_BYTES;
use rustix::fs::{FileType, Mode, OFlags};
use rustix::io::Errno;

use super::calls::{self, At};
use super::faults;
use super::room::Room;
use crate::Trouble;

/// An open folder.
#[derive(Debug)]
pub struct Folder {
    handle: OwnedFd,
    path: PathBuf,
}

/// Bytes compared at a time.
const PIECE: usize = 1 << 18;

const FOLDER: OFlags = OFlags::RDONLY.union(OFlags::DIRECTORY).union(OFlags::CLOEXEC);
/// Not blocking, so that a pipe in a ledger's place cannot hold us up before we see what it is.
const PLAIN: OFlags = OFlags::NOFOLLOW.union(OFlags::NONBLOCK).union(OFlags::CLOEXEC);

impl Folder {
    /// Opens the folder that a person named; here, and only here, a link may be followed.
    pub fn open(path: &Path) -> Result<Self, Trouble> {
        let handle = calls::open_folder(path, FOLDER).map_err(|e| Trouble::io("open the folder", path, &e.into()))?;
        Ok(Self { handle, path: path.to_owned() })
    }

    /// Its path, for messages.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The path of something in it, for messages.
    pub fn join(&self, name: &str) -> PathBuf {
        self.path.join(name)
    }

    /// A folder in it, if there is one.
    pub fn sub(&self, name: &str) -> Result<Option<Self>, Trouble> {
        match self.kind(name)? {
            None => Ok(None),
            Some(FileType::Directory) => {
                let path = self.join(name);
                let handle = calls::open(self.at(name)?, FOLDER | OFlags::NOFOLLOW)
                    .map_err(|e| Trouble::io("open the folder", &path, &e.into()))?;
                Ok(Some(Self { handle, path }))
            }
            Some(kind) => Err(not_expected(kind, "a folder").at(self.join(name))),
        }
    }

    /// A folder in it, made if there is none.
    pub fn sub_or_make(&self, name: &str) -> Result<Self, Trouble> {
        let path = self.join(name);
        match calls::make_folder(self.at(name)?) {
            Ok(()) => self.sync()?,
            Err(Errno::EXIST) => {}
            // A folder that is there already may stand on a disk that cannot be written.
            Err(Errno::ROFS | Errno::ACCESS) if self.kind(name)?.is_some() => {}
            Err(error) => return Err(Trouble::io("make the folder", &path, &error.into())),
        }
        self.sub(name)?.ok_or_else(|| Trouble::io("open the folder", &path, &io::ErrorKind::NotFound.into()))
    }

    /// The names in it, in order. Names that are no text are none of ours.
    pub fn names(&self) -> Result<Vec<String>, Trouble> {
        let failed = |e: Errno| Trouble::io("list the folder", &self.path, &e.into());
        let mut names = Vec::new();
        for entry in calls::list(self.handle.as_fd(), &self.path).map_err(failed)? {
            if let Ok(name) = entry.map_err(failed)?.file_name().to_str()
                && name != "."
                && name != ".."
            {
                names.push(name.to_owned());
            }
        }
        names.sort_unstable();
        Ok(names)
    }

    /// A regular file in it, opened for reading. Anything else of that name is a trouble and stays unopened.
    pub fn file(&self, name: &str) -> Result<Option<File>, Trouble> {
        let path = self.join(name);
        match self.kind(name)? {
            None => return Ok(None),
            Some(FileType::RegularFile) => {}
            Some(kind) => return Err(not_expected(kind, "a regular file").at(path)),
        }
        let file = match calls::open(self.at(name)?, OFlags::RDONLY | PLAIN) {
            Ok(handle) => File::from(handle),
            Err(Errno::NOENT) => return Ok(None),
            Err(error) => return Err(Trouble::io("open the file", &path, &error.into())),
        };
        regular(&file, &path)?;
        Ok(Some(file))
    }

    /// The whole of a regular file, in memory of our own: never mapped, since people edit these files.
    pub fn read(&self, name: &str) -> Result<Option<Vec<u8>>, Trouble> {
        let Some(file) = self.file(name)? else { return Ok(None) };
        whole(file, &self.join(name)).map(Some)
    }

    /// The same, in memory that is good for a large file and for nothing but reading it.
    pub fn read_large(&self, name: &str) -> Result<Option<Room>, Trouble> {
        let Some(file) = self.file(name)? else { return Ok(None) };
        Room::of(file, &self.join(name)).map(Some)
    }

    /// Whether a file holds just these bytes. Read piece by piece: memory for the whole of a large file takes longer to
    /// get than its bytes.
    pub fn holds(&self, name: &str, bytes: &[u8]) -> Result<bool, Trouble> {
        let Some(mut file) = self.file(name)? else { return Ok(false) };
        let path = self.join(name);
        let (mut rest, mut piece) = (bytes, vec![0; PIECE]);
        loop {
            match calls::read_piece(&mut file, &mut piece, &path) {
                Ok(0) => return Ok(rest.is_empty()),
                Ok(read) => match rest.strip_prefix(&piece[..read]) {
                    Some(after) => rest = after,
                    None => return Ok(false),
                },
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(Trouble::io("read the file", &path, &error)),
            }
        }
    }

    /// Writes a new file of this name, to the disk. There must be none.
    pub fn create(&self, name: &str, parts: &[&[u8]], mode: u32) -> Result<(), Trouble> {
        let path = self.join(name);
        let flags = OFlags::WRONLY | OFlags::EXCL | PLAIN;
        let mode = Mode::from_raw_mode(mode);
        let handle =
            calls::create(self.at(name)?, flags, mode).map_err(|e| Trouble::io("make the file", &path, &e.into()))?;
        let mut file = File::from(handle);
        // Set again, since the process mask takes rights away that the old file gave.
        let written = calls::set_mode(&file, mode, &path).and_then(|()| {
            parts.iter().filter(|part| !part.is_empty()).try_for_each(|part| calls::write_all(&mut file, part, &path))
        });
        let sync = || if faults::mutant("skip-new-sync") { Ok(()) } else { calls::sync(&file, &path) };
        written.and_then(|()| sync()).map_err(|error| {
            let _ = self.remove(name);
            Trouble::io("write the file", &path, &error)
        })
    }

    /// A file opened for writing at its end, made if there is none.
    pub fn append(&self, name: &str) -> Result<File, Trouble> {
        let path = self.join(name);
        let flags = OFlags::RDWR | OFlags::APPEND | PLAIN;
        let handle = calls::create(self.at(name)?, flags, Mode::from_raw_mode(0o644))
            .map_err(|e| Trouble::io("open the file for writing", &path, &e.into()))?;
        let file = File::from(handle);
        regular(&file, &path)?;
        Ok(file)
    }

    /// Exchanges two names in one step.
    pub fn exchange(&self, one: &str, other: &str) -> io::Result<()> {
        Ok(calls::exchange(self.bare(one), self.bare(other))?)
    }

    /// Moves a file to a name that must be free.
    pub fn rename_new(&self, from: &str, to: &str) -> io::Result<()> {
        Ok(calls::rename_new(self.bare(from), self.bare(to))?)
    }

    /// Moves a file over one of that name. For files that only we write. A move to another folder is on the disk
    /// before we go on: come back after a power cut, it would be read as a save, and its lines kept a second time.
    pub fn move_to(&self, from: &str, folder: &Self, to: &str) -> Result<(), Trouble> {
        calls::rename_over(self.bare(from), folder.bare(to))
            .map_err(|e| Trouble::io("move the file", &self.join(from), &e.into()))?;
        if folder.path == self.path || faults::mutant("no-move-sync") {
            return Ok(());
        }
        folder.sync()?;
        self.sync()
    }

    /// Removes a file; that there is none is fine.
    pub fn remove(&self, name: &str) -> Result<(), Trouble> {
        match calls::remove(self.bare(name)) {
            Ok(()) | Err(Errno::NOENT) => Ok(()),
            Err(error) => Err(Trouble::io("remove the file", &self.join(name), &error.into())),
        }
    }

    /// A name in it that came from outside.
    fn at<'a>(&'a self, name: &'a str) -> Result<At<'a>, Trouble> {
        plain(name, &self.join(name))?;
        Ok(self.bare(name))
    }

    /// A name in it that is ours.
    fn bare<'a>(&'a self, name: &'a str) -> At<'a> {
        At { handle: self.handle.as_fd(), folder: &self.path, name }
    }

    /// Waits until names made, moved and removed are on the disk.
    pub fn sync(&self) -> Result<(), Trouble> {
        if faults::mutant("no-dir-sync") {
            return Ok(());
        }
        match calls::sync_folder(self.handle.as_fd(), &self.path) {
            // Some file systems cannot, and keep names in order by themselves.
            Ok(()) | Err(Errno::INVAL | Errno::NOTSUP) => Ok(()),
            Err(error) => Err(Trouble::io("bring the folder to the disk", &self.path, &error.into())),
        }
    }

    /// The number of the kind of file system that it is on, where the system says.
    pub fn system(&self) -> Option<i64> {
        rustix::fs::fstatfs(&self.handle).ok().map(|facts| facts.f_type)
    }

    /// The two numbers of the device that it is on.
    pub fn device(&self) -> Option<(u32, u32)> {
        let device = rustix::fs::fstat(&self.handle).ok()?.st_dev;
        Some((rustix::fs::major(device), rustix::fs::minor(device)))
    }

    /// What stands under a name, without following it.
    pub fn kind(&self, name: &str) -> Result<Option<FileType>, Trouble> {
        let path = self.join(name);
        match calls::kind(self.at(name)?) {
            Ok(kind) => Ok(Some(kind)),
            Err(Errno::NOENT) => Ok(None),
            Err(error) => Err(Trouble::io("look at it", &path, &error.into())),
        }
    }
}

/// Reads an open file to its end, within the limit.
/// Room for lines that are added, so that a large text is not copied for one of them.
const MORE: usize = 1 << 16;

pub(crate) fn whole(mut file: File, path: &Path) -> Result<Vec<u8>, Trouble> {
    let size = regular(&file, path)?;
    let mut bytes = Vec::new();
    let room = usize::try_from(size).ok().filter(|size| bytes.try_reserve_exact(*size + MORE).is_ok());
    if room.is_none() {
        return Err(Trouble::new("no memory to read a file of this size", "move it out of the folder").at(path));
    }
    // The limit holds even while somebody makes the file longer.
    calls::read_on(&mut file, FILE_BYTES, &mut bytes, path).map_err(|e| Trouble::io("read the file", path, &e))?;
    Ok(bytes)
}

/// Checks an open file and says its size.
pub(crate) fn regular(file: &File, path: &Path) -> Result<u64, Trouble> {
    let facts = file.metadata().map_err(|e| Trouble::io("look at the file", path, &e))?;
    if !facts.is_file() {
        return Err(Trouble::new("expected a regular file", "move it out of the folder").at(path));
    }
    if facts.len() > FILE_BYTES {
        let what = format!("the file has {} bytes; expected at most {FILE_BYTES}", facts.len());
        return Err(Trouble::new(what, "move it out of the folder; no ledger is as large").at(path));
    }
    Ok(facts.len())
}

fn not_expected(kind: FileType, expected: &str) -> Trouble {
    let found = match kind {
        FileType::Symlink => "a link",
        FileType::Fifo => "a pipe",
        FileType::Socket => "a socket",
        FileType::Directory => "a folder",
        FileType::RegularFile => "a file",
        _ => "a device",
    };
    let remedy = match kind {
        FileType::Symlink => {
            "put the real thing in its place: links are never followed, they may lead out of the folder"
        }
        _ => "move it out of the folder",
    };
    Trouble::new(format!("expected {expected}, found {found}; it was not opened"), remedy)
}

/// Names are one step, never a path.
fn plain(name: &str, path: &Path) -> Result<(), Trouble> {
    if name.is_empty() || name == ".." || name.contains(['/', '\0']) {
        return Err(Trouble::new("expected the name of one file, not a path", "leave out slashes").at(path));
    }
    Ok(())
}
