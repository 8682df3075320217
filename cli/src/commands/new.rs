//! `footfold new`: a new herd.

use std::io::{Write, stdout};
use std::path::PathBuf;
use std::process::ExitCode;

use daemon::Trouble;
use daemon::keys::DeviceKey;
use daemon::seal::{NewHerd, begin_herd};
use daemon::settings::{self, Settings};
use ledger_format::fold::protocol;

use crate::fail::{Fail, Outcome};
use crate::{place, show};

/// Begin the record of a herd in a new folder
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The folder; it must be empty or not there yet
    folder: PathBuf,
    /// This machine's name in the herd, as in crush-laptop
    #[arg(long, value_name = "NAME")]
    device: String,
    /// Who begins it, by initials
    #[arg(long, value_name = "INITIALS")]
    by: String,
    /// The herd's time zone
    #[arg(long, value_name = "ZONE", default_value = "Europe/London")]
    zone: String,
    /// The herd's name; without it, the folder's
    #[arg(long, value_name = "NAME")]
    name: Option<String>,
}

pub(super) fn run(args: &Args) -> Outcome {
    let herd = herd_name(args)?;
    let now = place::now();
    let today = place::today(now, &args.zone)?;
    let config = settings::folder()?;
    // Settings that cannot be read are told before anything is made.
    Settings::read(&config)?;
    let key = DeviceKey::open_or_make(&config)?;
    let new = NewHerd {
        herd: &herd,
        zone: &args.zone,
        device: &args.device,
        key: &key,
        by: &args.by,
        now,
        today,
        protocol: Some(protocol::DEFAULT),
    };
    let folder = begin_herd(&args.folder, &new)?;
    let path = std::path::absolute(folder.path()).map_err(|e| Trouble::io("name the folder", folder.path(), &e))?;
    let first = Settings::write_first(&config, &args.device, &args.by, &path)?;
    tell(args, &herd, &path, &config, first)
}

fn herd_name(args: &Args) -> Result<String, Fail> {
    let from_folder = || args.folder.file_name().and_then(|name| name.to_str()).map(str::to_owned);
    args.name.clone().or_else(from_folder).ok_or_else(|| {
        Fail::usage("the folder's name cannot name a herd", "name the herd with `--name`, as in `--name quillmere`")
    })
}

fn tell(args: &Args, herd: &str, path: &std::path::Path, config: &std::path::Path, first: bool) -> Outcome {
    let mut out = stdout().lock();
    let year = now_year(path, &args.device);
    writeln!(out, "The record of {herd} begins in {}", path.display())?;
    writeln!(out, "  your ledger   ledgers/{}/{year}", args.device)?;
    let file = config.join(settings::FILE);
    let settings = Settings::read(config)?;
    if first {
        writeln!(out, "  your settings {}", file.display())?;
    } else if !settings.herds.iter().any(|herd| herd == path) {
        let line = format!("{:?},", path.display().to_string());
        writeln!(out, "\nTo hold it among your herds, add this line to `herds` in\n{}:\n    {line}", file.display())?;
    }
    writeln!(out, "\nNext:")?;
    writeln!(out, "  cd {}", show::text(&args.folder.display().to_string()))?;
    writeln!(out, "  footfold write \"417 WLA RH outer z3 g2, trim lame RH, recheck 28d\"")?;
    writeln!(out, "or type such lines under the last line of your ledger, save, and\n  footfold seal")?;
    Ok(ExitCode::SUCCESS)
}

/// The name of the first file of the device.
fn now_year(path: &std::path::Path, device: &str) -> String {
    let listing = daemon::disk::HerdFolder::open(path).and_then(|herd| herd.ledgers());
    let file = listing.ok().and_then(|listing| listing.files.into_iter().find(|name| name.device == device));
    file.map(|name| name.file()).unwrap_or_default()
}
