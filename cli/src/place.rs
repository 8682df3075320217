//! Where and as whom a command works: herd folder, device, person, clock.

use std::path::PathBuf;

use chrono::{DateTime, NaiveDate, NaiveDateTime, Timelike, Utc};
use clap::Args;
use daemon::Trouble;
use daemon::disk::HerdFolder;
use daemon::keys::DeviceKey;
use daemon::seal::Desk;
use daemon::settings::{self, Settings};
use daemon::watch;

use crate::fail::Fail;

/// What every command that works in a herd's folder takes.
#[derive(Args, Debug, Clone)]
pub(crate) struct Common {
    /// The herd's folder; without it, the one you stand in
    #[arg(long, value_name = "FOLDER", global = true)]
    pub(crate) herd: Option<PathBuf>,
}

impl Common {
    /// The herd's folder: named, or the one that one stands in, or the only one in the settings.
    pub(crate) fn folder(&self) -> Result<HerdFolder, Fail> {
        if let Some(path) = &self.herd {
            return Ok(HerdFolder::open(path)?);
        }
        let here =
            std::env::current_dir().map_err(|e| Trouble::new(e.to_string(), "go into a folder that is there"))?;
        // A herd that one stands in and that cannot be opened is a trouble, never a reason to write in another one.
        if let Some(nearby) = HerdFolder::find(&here)? {
            return Ok(nearby);
        }
        match settings().as_ref().map(|settings| settings.herds.as_slice()) {
            Ok([only]) => Ok(HerdFolder::open(only)?),
            _ => Err(HerdFolder::none_at(&here).into()),
        }
    }
}

/// Who seals.
#[derive(Args, Debug, Clone)]
pub(crate) struct Writer {
    /// This machine's device name, instead of the one in the settings
    #[arg(long, value_name = "NAME")]
    pub(crate) device: Option<String>,
    /// Who types, by initials, instead of the one in the settings
    #[arg(long, value_name = "INITIALS")]
    pub(crate) by: Option<String>,
}

impl Writer {
    /// Device and person: as named here, else as the settings say. And whether the device is the one of the settings.
    fn named(&self) -> Result<(String, String, bool), Fail> {
        let settings = settings()?;
        let file = settings::folder()?.join(settings::FILE);
        let usual = settings.device.clone();
        let device = self.device.clone().or(settings.device).ok_or_else(|| {
            let hint = format!("name it with `--device NAME`, or set `device` in {}", file.display());
            Fail::usage("no device name is known", hint)
        })?;
        let by = self.by.clone().or(settings.by).ok_or_else(|| {
            let hint = format!("say who with `--by INITIALS`, or set `by` in {}", file.display());
            Fail::usage("nobody is known who types", hint)
        })?;
        check_names(&device, &by)?;
        let is_usual = usual.as_deref() == Some(&*device);
        Ok((device, by, is_usual))
    }

    /// Device and person.
    pub(crate) fn names(&self) -> Result<(String, String), Fail> {
        self.named().map(|(device, by, _)| (device, by))
    }

    /// Who seals while nobody looks on: only with a key that is there.
    pub(crate) fn with_key(&self) -> Result<watch::Writer, Fail> {
        let (device, by, _) = self.named()?;
        let config = settings::folder()?;
        if !DeviceKey::is_there(&config)? {
            let hint = "write a first line with `footfold write`, or put device.key back from a backup";
            return Err(Fail::usage(format!("there is no key of {device} on this machine"), hint));
        }
        let key = DeviceKey::open_or_make(&config)?;
        Ok(watch::Writer { device, by, key })
    }
}

/// A writer with all that is known of it.
pub(crate) struct Seat {
    pub(crate) herd: HerdFolder,
    device: String,
    by: String,
    key: DeviceKey,
    now: NaiveDateTime,
    today: NaiveDate,
}

impl Seat {
    pub(crate) fn take(common: &Common, writer: &Writer) -> Result<Self, Fail> {
        let herd = common.folder()?;
        let config = settings::folder()?;
        let (device, by, is_usual) = writer.named()?;
        if is_usual && !DeviceKey::is_there(&config)? && herd.ledgers()?.files.iter().any(|file| file.device == device)
        {
            return Err(DeviceKey::lost(&config, &device).into());
        }
        let key = DeviceKey::open_or_make(&config)?;
        let (now, zone) = (now(), herd.about()?.zone);
        let today = today(now, &zone)?;
        Ok(Self { herd, device, by, key, now, today })
    }

    /// The device that writes.
    pub(crate) fn device(&self) -> &str {
        &self.device
    }

    /// Its public key.
    pub(crate) fn key(&self) -> &str {
        self.key.public()
    }

    pub(crate) fn desk(&self) -> Desk<'_> {
        let Self { herd, device, by, key, now, today } = self;
        Desk { herd, device, by, key, now: *now, today: *today }
    }
}

/// The settings of this machine.
pub(crate) fn settings() -> Result<Settings, Fail> {
    Ok(Settings::read(&settings::folder()?)?)
}

/// The clock, in whole seconds, UTC.
pub(crate) fn now() -> NaiveDateTime {
    let now = Utc::now().naive_utc();
    now.with_nanosecond(0).unwrap_or(now)
}

/// The day in a time zone.
pub(crate) fn today(now: NaiveDateTime, zone: &str) -> Result<NaiveDate, Fail> {
    let zone: chrono_tz::Tz = zone.parse().map_err(|_| {
        Fail::usage(format!("`{zone}` is no time zone"), "use a name of the tz database, as in `--zone Europe/London`")
    })?;
    Ok(DateTime::<Utc>::from_naive_utc_and_offset(now, Utc).with_timezone(&zone).date_naive())
}

fn check_names(device: &str, by: &str) -> Result<(), Fail> {
    if !ledger_format::line::is_name(device) {
        let hint = "use small letters, digits and `-`, at most 32, as in `crush-laptop`";
        return Err(Fail::usage(format!("`{device}` cannot name a device"), hint));
    }
    if !ledger_format::line::is_who(by) {
        return Err(Fail::usage(format!("`{by}` cannot name a person"), "use initials, as in `kj`"));
    }
    Ok(())
}
