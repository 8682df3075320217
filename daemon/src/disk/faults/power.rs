//! A power cut: what was not synced is undone on the real disk, then the process is killed.
//!
//! Names and data are lost apart, as file systems do. Moving a file between folders counts as one step, on the disk
//! once either folder is synced.

use std::fs::{self, File};
use std::io::{self, Read, Seek, Write};
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

use super::on::kill;
use super::spec::Cut;

static UNSYNCED: Mutex<Unsynced> = Mutex::new(Unsynced { names: Vec::new(), files: Vec::new(), covered: None });

struct Unsynced {
    names: Vec<Name>,
    files: Vec<Data>,
    /// What stands under a name that a file is about to be moved over.
    covered: Option<Vec<u8>>,
}

/// A change of names.
enum Name {
    Made(PathBuf),
    Moved { from: PathBuf, to: PathBuf, covered: Option<Vec<u8>> },
    Exchanged(PathBuf, PathBuf),
    Removed(PathBuf, Vec<u8>),
}

/// A file that was written to, and what it held before.
struct Data {
    file: File,
    number: u64,
    before: Vec<u8>,
}

fn unsynced() -> std::sync::MutexGuard<'static, Unsynced> {
    UNSYNCED.lock().expect("no thread panicked")
}

fn is_cut_wanted() -> bool {
    std::env::var("FOOTFOLD_FAULT").is_ok_and(|fault| fault.contains("cut"))
}

fn add(name: Name) {
    if is_cut_wanted() {
        unsynced().names.push(name);
    }
}

pub(in crate::disk) fn made(folder: &Path, name: &str) {
    add(Name::Made(folder.join(name)));
}

pub(in crate::disk) fn moving(to: &Path, name: &str) {
    unsynced().covered = fs::read(to.join(name)).ok();
}

pub(in crate::disk) fn moved(from: (&Path, &str), to: (&Path, &str)) {
    let covered = unsynced().covered.take();
    add(Name::Moved { from: from.0.join(from.1), to: to.0.join(to.1), covered });
}

pub(in crate::disk) fn exchanged(folder: &Path, one: &str, other: &str) {
    add(Name::Exchanged(folder.join(one), folder.join(other)));
}

pub(in crate::disk) fn removing(folder: &Path, name: &str) {
    if let Ok(bytes) = fs::read(folder.join(name)) {
        add(Name::Removed(folder.join(name), bytes));
    }
}

pub(in crate::disk) fn writing(file: &File) {
    if !is_cut_wanted() {
        return;
    }
    let number = file.metadata().expect("an open file").ino();
    let mut unsynced = unsynced();
    if unsynced.files.iter().any(|data| data.number == number) {
        return;
    }
    let mut copy = file.try_clone().expect("a handle more");
    let mut before = Vec::new();
    // A new file cannot be read through its handle, and holds nothing.
    if file.metadata().expect("an open file").len() > 0 {
        let place = copy.stream_position().expect("a place");
        copy.rewind().and_then(|()| copy.read_to_end(&mut before)).expect("the bytes before");
        copy.seek(io::SeekFrom::Start(place)).expect("the place again");
    }
    unsynced.files.push(Data { file: copy, number, before });
}

pub(in crate::disk) fn synced(file: &File) {
    let number = file.metadata().expect("an open file").ino();
    unsynced().files.retain(|data| data.number != number);
}

pub(in crate::disk) fn folder_synced(folder: &Path) {
    let within = |path: &PathBuf| path.parent() == Some(folder);
    unsynced().names.retain(|name| match name {
        Name::Made(path) | Name::Removed(path, _) | Name::Exchanged(path, _) => !within(path),
        Name::Moved { from, to, .. } => !within(from) && !within(to),
    });
}

/// The power goes.
pub(super) fn cut(what: Cut) -> ! {
    let mut unsynced = unsynced();
    let data = std::mem::take(&mut unsynced.files);
    let names = std::mem::take(&mut unsynced.names);
    let undone = match what {
        Cut::All => undo_data(data, false).and_then(|()| undo_names(names)),
        Cut::Names => undo_names(names),
        Cut::Data => undo_data(data, false),
        Cut::Zeros => undo_data(data, true),
    };
    if let Err(error) = undone {
        eprintln!("the power cut could not be played: {error}");
        std::process::exit(97);
    }
    kill()
}

fn undo_data(files: Vec<Data>, zeros: bool) -> io::Result<()> {
    for Data { mut file, mut before, .. } in files {
        let length = usize::try_from(file.metadata()?.len()).unwrap_or_default();
        if zeros && length > before.len() {
            before.resize(length, 0);
        }
        file.set_len(0)?;
        file.rewind()?;
        file.write_all(&before)?;
    }
    Ok(())
}

fn undo_names(names: Vec<Name>) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    for name in names.into_iter().rev() {
        match name {
            Name::Made(path) if path.is_dir() => fs::remove_dir(path)?,
            Name::Made(path) => fs::remove_file(path)?,
            Name::Exchanged(one, other) => renameat_with(CWD, &one, CWD, &other, RenameFlags::EXCHANGE)?,
            Name::Removed(path, bytes) => fs::write(path, bytes)?,
            Name::Moved { from, to, covered } => {
                fs::rename(&to, &from)?;
                if let Some(bytes) = covered {
                    fs::write(to, bytes)?;
                }
            }
        }
    }
    Ok(())
}
