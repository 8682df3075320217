//! Asking the daemon that runs: one request a connection over a Unix socket that only its owner may open.

use std::io::{Read, Write};
use std::os::unix::fs::{FileTypeExt, MetadataExt};
use std::os::unix::net::{UnixListener, UnixStream};
use std::path::{Path, PathBuf};
use std::sync::mpsc;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::report::Status;
use super::{Answer, Show};
use crate::net::Going;
use crate::{Trouble, settings};

/// A request is a command line and two paths.
pub const REQUEST_BYTES: usize = 64 * 1024;
/// An answer is a list or a card; a cow's whole life is some hundred kilobytes.
const ANSWER_BYTES: u64 = 64 * 1024 * 1024;
/// How long a command waits before it reads the folder itself.
const PATIENCE: Duration = Duration::from_secs(5);
/// How long the daemon waits for a request, and for an answer to be taken.
pub const EACH_WAY: Duration = Duration::from_secs(2);

/// What is asked. Only the same version answers.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Request {
    /// The version of the program that asks.
    pub version: String,
    /// What it asks for.
    pub what: What,
}

/// What is asked for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum What {
    /// A command's output.
    Show(Show),
    /// What is watched, what is unsealed, what is wrong.
    Status,
    /// Lets in whoever types a code.
    Pair(Pair),
    /// How it goes with the code.
    Pairing,
    /// The code is void from now on.
    PairNoMore,
}

/// A code that is shown.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pair {
    /// The herd's folder, from the root.
    pub folder: PathBuf,
    /// Its eight digits.
    pub code: String,
    /// What the newcomer may do: the word for it.
    pub capacity: String,
}

impl std::fmt::Debug for Pair {
    /// Never the code.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Pair(…)")
    }
}

/// What comes back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Reply {
    /// A command's output.
    Answer(Answer),
    /// How things stand.
    Status(Status),
    /// How it goes with a code.
    Pairing(Going),
    /// Not answered, and why: the command reads the folder itself.
    Declined(String),
}

/// The version that asks and answers.
pub fn version() -> String {
    env!("CARGO_PKG_VERSION").to_owned()
}

/// Where the daemon answers: `$FOOTFOLD_SOCKET` (empty: nowhere), else the runtime folder, else the configuration.
pub fn place() -> Result<Option<PathBuf>, Trouble> {
    if let Some(set) = std::env::var_os("FOOTFOLD_SOCKET") {
        return Ok((!set.is_empty()).then(|| PathBuf::from(set)));
    }
    let runtime = std::env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from).filter(|path| path.is_dir());
    let folder = runtime.map_or_else(settings::folder, Ok)?;
    Ok(Some(folder.join("footfold.sock")))
}

/// Asks the daemon. None: there is none that can be understood. Either way the command can read the folder itself.
pub fn ask(place: &Path, what: What) -> Option<Reply> {
    if !place.exists() {
        return None;
    }
    let (say, hear) = mpsc::channel();
    let place = place.to_owned();
    // On a thread of its own: opening a socket has no time limit.
    std::thread::spawn(move || {
        let _ = say.send(exchange(&place, &Request { version: version(), what }));
    });
    match hear.recv_timeout(PATIENCE) {
        Ok(reply) => reply,
        Err(_) => Some(Reply::Declined(format!("the daemon did not answer within {} s", PATIENCE.as_secs()))),
    }
}

fn exchange(place: &Path, request: &Request) -> Option<Reply> {
    let mut stream = UnixStream::connect(place).ok()?;
    let mut line = serde_json::to_vec(request).ok()?;
    line.push(b'\n');
    stream.write_all(&line).ok()?;
    let mut answer = Vec::new();
    stream.take(ANSWER_BYTES).read_to_end(&mut answer).ok()?;
    serde_json::from_slice(&answer).ok()
}

/// The daemon's end. The file goes with it.
#[derive(Debug)]
pub struct Listening {
    /// Where connections come in.
    pub listener: UnixListener,
    path: PathBuf,
    inode: Option<u64>,
}

/// Begins to answer. The socket of a dead daemon is taken over, that of a living one is not.
pub fn listen(path: &Path) -> Result<Listening, Trouble> {
    let failed = |error: &std::io::Error| Trouble::io("open the socket", path, error);
    if let Ok(facts) = std::fs::symlink_metadata(path) {
        if !facts.file_type().is_socket() {
            return Err(Trouble::new("expected a socket, found something else", "move it away").at(path));
        }
        match UnixStream::connect(path) {
            Err(error) if error.kind() == std::io::ErrorKind::ConnectionRefused => {}
            Err(error) => return Err(failed(&error)),
            Ok(_) => {
                let remedy = "nothing, if that is meant: lists are answered by the other one, or read from the folder";
                return Err(Trouble::new("another daemon answers here already", remedy).at(path));
            }
        }
        std::fs::remove_file(path).map_err(|error| failed(&error))?;
    }
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(|error| failed(&error))?;
    }
    // The file is never open to others, not even for a moment.
    let before = rustix::process::umask(rustix::fs::Mode::from_raw_mode(0o177));
    let bound = UnixListener::bind(path);
    rustix::process::umask(before);
    let listener = bound.map_err(|error| failed(&error))?;
    listener.set_nonblocking(true).map_err(|error| failed(&error))?;
    Ok(Listening { listener, path: path.to_owned(), inode: inode(path) })
}

fn inode(path: &Path) -> Option<u64> {
    std::fs::symlink_metadata(path).ok().map(|facts| facts.ino())
}

impl Drop for Listening {
    fn drop(&mut self) {
        // One that another daemon put there since stays.
        if inode(&self.path) == self.inode {
            let _ = std::fs::remove_file(&self.path);
        }
    }
}
