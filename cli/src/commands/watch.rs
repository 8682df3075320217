//! `footfold watch`: what is typed is kept by itself, once a save is over.

use std::io::IsTerminal;
use std::path::PathBuf;
use std::process::ExitCode;

use daemon::Trouble;
use daemon::watch::socket;
use daemon::watch::{Setup, canonical};
use ledger_format::line::utc_text;
use tracing_subscriber::EnvFilter;
use tracing_subscriber::fmt::format;
use tracing_subscriber::fmt::time::FormatTime;

use crate::fail::{Fail, Outcome};
use crate::live::{self, AsCommands};
use crate::place::{self, Common, Writer};

/// Watch herds' folders and keep what is typed, until ended with Ctrl-C
#[derive(clap::Args, Debug)]
#[command(after_help = "Log: FOOTFOLD_LOG=warn, info (as if not set) or debug, on the error output.")]
pub(super) struct Args {
    /// The herds' folders; none: those in the settings
    #[arg(value_name = "FOLDER")]
    folders: Vec<PathBuf>,
    #[command(flatten)]
    writer: Writer,
}

/// Seconds that a ledger must be still, where the settings do not say.
const SETTLE_SECONDS: u16 = 5;

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    let settings = place::settings()?;
    let named: Vec<PathBuf> = common.herd.iter().chain(&args.folders).cloned().collect();
    let folders = canonical(if named.is_empty() { settings.herds } else { named });
    if folders.is_empty() {
        let hint = "name a herd's folder, as in `footfold watch quillmere`, or set `herds` in the settings";
        return Err(Fail::usage("there is no herd to watch", hint));
    }
    log();
    daemon::watch::run(Setup {
        folders,
        writer: args.writer.with_key().map_err(|fail| Trouble::new(fail.message(), fail.hint())),
        settle_ms: u64::from(settings.settle_seconds.unwrap_or(SETTLE_SECONDS)) * 1000,
        is_native: !settings.polling,
        socket: socket::place()?,
        config: live::config()?,
        clock: place::now,
        reader: Box::new(AsCommands),
        listen: settings.listen,
        metrics: settings.metrics,
    })?;
    Ok(ExitCode::SUCCESS)
}

fn log() {
    let filter = EnvFilter::try_from_env("FOOTFOLD_LOG").unwrap_or_else(|_| EnvFilter::new("info"));
    let is_plain = !std::io::stderr().is_terminal() || std::env::var_os("NO_COLOR").is_some_and(|set| !set.is_empty());
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .with_target(false)
        .with_timer(Seconds)
        .with_ansi(!is_plain)
        .init();
}

/// The clock in whole seconds, UTC, as in a ledger.
struct Seconds;

impl FormatTime for Seconds {
    fn format_time(&self, writer: &mut format::Writer<'_>) -> std::fmt::Result {
        writer.write_str(&utc_text(place::now()))
    }
}
