//! The daemon that watches herd folders: what is typed is kept once a save is over, and lists are answered from
//! herds held in memory.
//!
//! Hints say that something may have changed, facts say what, settling says when; only `keeper` seals, and only
//! `run` joins them.

pub(crate) mod facts;
mod hints;
mod keeper;
mod known;
mod live;
pub mod report;
mod run;
pub mod settle;
pub mod socket;

use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use chrono_tz::Tz;
use ledger_format::fold::Herd;
use serde::{Deserialize, Serialize};

use crate::Trouble;
use crate::keys::DeviceKey;
pub use run::{canonical, run};

/// What a daemon needs to know.
pub struct Setup {
    /// The herds' folders.
    pub folders: Vec<PathBuf>,
    /// Who seals; without one, nothing is kept, and this says why.
    pub writer: Result<Writer, Trouble>,
    /// How long a file must be still, in milliseconds.
    pub settle_ms: u64,
    /// Whether events of the system are asked for.
    pub is_native: bool,
    /// Where it answers; nowhere, if none.
    pub socket: Option<PathBuf>,
    /// The configuration folder: a command with another one reads the folder itself.
    pub config: PathBuf,
    /// The clock, UTC.
    pub clock: fn() -> NaiveDateTime,
    /// Reads and shows herds as the commands do.
    pub reader: Box<dyn Reader>,
    /// Where other machines may call, if they may.
    pub listen: Option<SocketAddr>,
    /// Where its figures can be read; nowhere, if none.
    pub metrics: Option<SocketAddr>,
}

/// Who seals.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Writer {
    /// The device.
    pub device: String,
    /// The person, where a typed line does not say.
    pub by: String,
    /// The device's key.
    pub key: DeviceKey,
}

/// Reads and shows herds by the same code as the commands, so that an answer is the same byte for byte.
pub trait Reader {
    /// The herd of a folder, as it stands at the end of a day.
    fn fold(&self, folder: &Path, on: NaiveDate) -> Result<Folded, Trouble>;
    /// What the command prints; none if it is none that can be answered from a folded herd.
    fn answer(&self, folder: &Path, folded: &Folded, request: &Show) -> Option<Answer>;
}

/// A herd in memory.
#[derive(Debug)]
pub struct Folded {
    /// Its state.
    pub herd: Herd,
    /// What could not be read of it, as the commands tell it.
    pub warnings: Vec<String>,
}

/// A command to be answered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Show {
    /// The herd's folder, from the root.
    pub folder: PathBuf,
    /// The configuration folder of the command.
    pub config: PathBuf,
    /// The command line, with the program's name.
    pub words: Vec<String>,
    /// Whether headings are bold.
    pub is_bold: bool,
}

/// What a command prints and how it ends.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    /// On the standard output.
    pub out: String,
    /// On the error output.
    pub err: String,
    /// The exit code.
    pub code: u8,
}

/// The day in a herd's time zone.
pub(crate) fn day_in(zone: &str, now: NaiveDateTime) -> Result<NaiveDate, Trouble> {
    let known: Tz = zone.parse().map_err(|_| {
        let remedy = "install a newer footfold, which knows more time zones";
        Trouble::new(format!("`{zone}` is no time zone that is known here"), remedy)
    })?;
    Ok(DateTime::<Utc>::from_naive_utc_and_offset(now, Utc).with_timezone(&known).date_naive())
}
