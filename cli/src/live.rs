//! Asking the daemon for a page, and answering as one: the same code prints both, so both are the same.

use std::path::Path;

use chrono::NaiveDate;
use clap::Parser;
use daemon::disk::HerdFolder;
use daemon::settings;
use daemon::watch::socket::{self, Reply, What};
use daemon::watch::{Answer, Folded, Reader, Show};
use daemon::{Trouble, watch};

use crate::commands::Cli;
use crate::fail::{FINE, Fail};
use crate::look::Place;
use crate::place::Common;

/// The daemon's answer to this very command line. None: it is to be read from the folder.
pub(crate) fn ask(common: &Common, is_bold: bool) -> Option<Answer> {
    let socket = socket::place().ok()??;
    if !socket.exists() {
        return None;
    }
    let words: Result<Vec<String>, _> = std::env::args_os().map(std::ffi::OsString::into_string).collect();
    let show = Show {
        folder: common.folder().ok()?.path().canonicalize().ok()?,
        config: config().ok()?,
        words: words.ok()?,
        is_bold,
    };
    match socket::ask(&socket, What::Show(show))? {
        Reply::Answer(answer) => Some(answer),
        Reply::Declined(_) | Reply::Status(_) | Reply::Pairing(_) => None,
    }
}

/// The configuration folder, named the same way by all.
pub(crate) fn config() -> Result<std::path::PathBuf, Trouble> {
    Ok(watch::canonical([settings::folder()?]).remove(0))
}

/// Reads and shows as the commands do.
pub(crate) struct AsCommands;

impl Reader for AsCommands {
    fn fold(&self, folder: &Path, on: NaiveDate) -> Result<Folded, Trouble> {
        let place = Place::in_folder(HerdFolder::open(folder)?).map_err(told)?;
        place.folded(on).map_err(told)
    }

    fn answer(&self, folder: &Path, folded: &Folded, request: &Show) -> Option<Answer> {
        let cli = Cli::try_parse_from(&request.words).ok()?;
        let page = cli.page()?;
        let place = Place::in_folder(HerdFolder::open(folder).ok()?).ok()?;
        if folded.herd.view().on != place.day(page.look()) {
            // Midnight has passed in between, or another day is asked for.
            return None;
        }
        let err = folded.warnings.concat();
        Some(match page.page(&place, &folded.herd, request.is_bold) {
            Ok(out) => Answer { out, err, code: FINE },
            Err(fail) => Answer { out: String::new(), err: err + &fail.text(), code: fail.code() },
        })
    }
}

/// The daemon does not print it: the command reads the folder itself and says what is wrong.
#[expect(clippy::needless_pass_by_value, reason = "for `map_err`")]
fn told(fail: Fail) -> Trouble {
    Trouble::new(fail.text(), "")
}
