//! Each call that reaches the disk, in one place, so that tests can let each of them fail.

use std::fs::File;
use std::io::{self, Read, Write};
use std::os::fd::{BorrowedFd, OwnedFd};
use std::os::unix::fs::FileExt;
use std::path::Path;
use std::thread::sleep;
use std::time::Duration;

use rustix::fs::{self as at, AtFlags, FileType, Mode, OFlags, RenameFlags};
use rustix::io::Errno;

use super::faults::{self, Op};

/// A virus scanner or a sync client holds a file for a moment: tried again after these, 200 ms in all.
const AGAIN_MS: [u64; 5] = [10, 20, 40, 60, 70];

/// Makes a call that another program may hold up. Nothing is done before it goes through.
fn patiently<T>(mut call: impl FnMut() -> Result<T, Errno>) -> Result<T, Errno> {
    for wait in AGAIN_MS {
        match call() {
            Err(Errno::BUSY | Errno::TXTBSY) => sleep(Duration::from_millis(wait)),
            done => return done,
        }
    }
    call()
}

/// A name in an open folder.
#[derive(Clone, Copy)]
pub(super) struct At<'a> {
    pub(super) handle: BorrowedFd<'a>,
    pub(super) folder: &'a Path,
    pub(super) name: &'a str,
}

pub(super) fn open_folder(path: &Path, flags: OFlags) -> Result<OwnedFd, Errno> {
    patiently(|| {
        faults::call(Op::Open, path, "")?;
        at::open(path, flags, Mode::empty())
    })
}

pub(super) fn open(place: At, flags: OFlags) -> Result<OwnedFd, Errno> {
    patiently(|| {
        faults::call(Op::Open, place.folder, place.name)?;
        at::openat(place.handle, place.name, flags, Mode::empty())
    })
}

/// Opens a file, made if there is none.
pub(super) fn create(place: At, flags: OFlags, mode: Mode) -> Result<OwnedFd, Errno> {
    let is_new = flags.contains(OFlags::EXCL) || (cfg!(feature = "faults") && stat(place).is_err());
    let handle = patiently(|| {
        faults::call(Op::Create, place.folder, place.name)?;
        at::openat(place.handle, place.name, flags | OFlags::CREATE, mode)
    })?;
    if is_new {
        faults::made(place.folder, place.name);
    }
    Ok(handle)
}

pub(super) fn make_folder(place: At) -> Result<(), Errno> {
    faults::call(Op::MakeFolder, place.folder, place.name)?;
    at::mkdirat(place.handle, place.name, Mode::from_raw_mode(0o777))?;
    faults::made(place.folder, place.name);
    Ok(())
}

pub(super) fn list(handle: BorrowedFd, folder: &Path) -> Result<at::Dir, Errno> {
    faults::call(Op::List, folder, "")?;
    at::Dir::read_from(handle)
}

pub(super) fn kind(place: At) -> Result<FileType, Errno> {
    faults::call(Op::Look, place.folder, place.name)?;
    stat(place)
}

fn stat(place: At) -> Result<FileType, Errno> {
    let stat = at::statat(place.handle, place.name, AtFlags::SYMLINK_NOFOLLOW)?;
    Ok(FileType::from_raw_mode(stat.st_mode))
}

/// Exchanges two names in one step.
pub(super) fn exchange(one: At, other: At) -> Result<(), Errno> {
    patiently(|| {
        faults::call(Op::Exchange, other.folder, other.name)?;
        at::renameat_with(one.handle, one.name, other.handle, other.name, RenameFlags::EXCHANGE)
    })?;
    faults::exchanged(one.folder, one.name, other.name);
    Ok(())
}

/// Moves a file to a name that must be free.
pub(super) fn rename_new(from: At, to: At) -> Result<(), Errno> {
    let renamed = patiently(|| {
        faults::call(Op::Rename, to.folder, to.name)?;
        at::renameat_with(from.handle, from.name, to.handle, to.name, RenameFlags::NOREPLACE)
    });
    match renamed {
        Err(Errno::INVAL | Errno::NOSYS | Errno::NOTSUP) => {
            at::linkat(from.handle, from.name, to.handle, to.name, AtFlags::empty())?;
            at::unlinkat(from.handle, from.name, AtFlags::empty())?;
        }
        done => done?,
    }
    faults::moved((from.folder, from.name), (to.folder, to.name));
    Ok(())
}

/// Moves a file over whatever has that name.
pub(super) fn rename_over(from: At, to: At) -> Result<(), Errno> {
    patiently(|| {
        faults::call(Op::Rename, to.folder, to.name)?;
        faults::moving(to.folder, to.name);
        at::renameat(from.handle, from.name, to.handle, to.name)
    })?;
    faults::moved((from.folder, from.name), (to.folder, to.name));
    Ok(())
}

pub(super) fn remove(place: At) -> Result<(), Errno> {
    patiently(|| {
        faults::call(Op::Remove, place.folder, place.name)?;
        faults::removing(place.folder, place.name);
        at::unlinkat(place.handle, place.name, AtFlags::empty())
    })
}

pub(super) fn sync_folder(handle: BorrowedFd, folder: &Path) -> Result<(), Errno> {
    faults::call(Op::SyncFolder, folder, "")?;
    at::fsync(handle)?;
    faults::folder_synced(folder);
    Ok(())
}

pub(super) fn set_mode(file: &File, mode: Mode, path: &Path) -> io::Result<()> {
    faults::call(Op::Mode, path, "")?;
    Ok(at::fchmod(file, mode)?)
}

pub(super) fn write_all(file: &mut File, bytes: &[u8], path: &Path) -> io::Result<()> {
    faults::writing(file);
    Through { file, path }.write_all(bytes)
}

pub(super) fn cut(file: &File, length: u64, path: &Path) -> io::Result<()> {
    faults::call(Op::Cut, path, "")?;
    faults::writing(file);
    file.set_len(length)
}

/// Waits until the file's bytes are on the disk.
pub(super) fn sync(file: &File, path: &Path) -> io::Result<()> {
    faults::call(Op::Sync, path, "")?;
    file.sync_all()?;
    faults::synced(file);
    Ok(())
}

/// The same, but for times and rights.
pub(super) fn sync_data(file: &File, path: &Path) -> io::Result<()> {
    faults::call(Op::Sync, path, "")?;
    file.sync_data()?;
    faults::synced(file);
    Ok(())
}

/// Reads on from where the file stands, so many bytes at most.
pub(super) fn read_on(file: &mut File, most: u64, into: &mut Vec<u8>, path: &Path) -> io::Result<usize> {
    // The bare file reads into memory as it is; anything else has it filled with noughts first.
    #[cfg(not(feature = "faults"))]
    let _ = path;
    #[cfg(feature = "faults")]
    let file = Through { file, path };
    file.take(most).read_to_end(into)
}

/// Reads one piece.
pub(super) fn read_piece(file: &mut File, into: &mut [u8], path: &Path) -> io::Result<usize> {
    Through { file, path }.read(into)
}

pub(super) fn read_exact_at(file: &File, into: &mut [u8], from: u64, path: &Path) -> io::Result<()> {
    faults::call(Op::Read, path, "")?;
    file.read_exact_at(into, from)
}

/// A file whose every reading and writing is a call.
struct Through<'a> {
    file: &'a mut File,
    path: &'a Path,
}

impl Read for Through<'_> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let room = faults::room(Op::Read, self.path, into.len())?;
        self.file.read(&mut into[..room])
    }
}

impl Write for Through<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let room = faults::room(Op::Write, self.path, bytes.len())?;
        self.file.write(&bytes[..room])
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}
