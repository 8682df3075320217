//! `footfold.ron`: this machine's settings, outside every herd folder. A person writes it; the program
//! writes one only where there is none.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use ledger_format::vocabulary::BlockKind;
use ron::extensions::Extensions;
use rust_decimal::Decimal;
use serde::Deserialize;

use crate::Trouble;
use crate::disk::{Folder, replace};

/// The file's name.
pub const FILE: &str = "footfold.ron";

/// What a person set.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Settings {
    /// This machine's device name.
    pub device: Option<String>,
    /// Who usually types here: initials.
    pub by: Option<String>,
    /// Herd folders that this machine holds.
    pub herds: Vec<PathBuf>,
    /// Seconds that a ledger must be still before a watching daemon keeps what was typed.
    pub settle_seconds: Option<u16>,
    /// Whether a watching daemon looks every few seconds instead of waiting for events of the system.
    pub polling: bool,
    /// Currency of the prices.
    pub currency: Option<String>,
    /// VAT in percent.
    pub vat_percent: Option<Decimal>,
    /// The price list.
    pub prices: Prices,
    /// Minutes per kind of work.
    pub minutes: Minutes,
}

/// What work costs, each in the currency.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Prices {
    /// A cow lifted and looked at, without a trim.
    pub lift: Option<Decimal>,
    /// A cow trimmed.
    pub trim: Option<Decimal>,
    /// A block put on, by its kind.
    pub block: BTreeMap<String, Decimal>,
    /// A dressing put on.
    pub dressing: Option<Decimal>,
    /// Coming out, once a visit.
    pub call_out: Option<Decimal>,
    /// An hour of work.
    pub per_hour: Option<Decimal>,
}

impl Prices {
    /// The price of a block of this kind; where no kind is known, that of wood.
    pub fn block(&self, kind: Option<BlockKind>) -> Option<Decimal> {
        self.block.get(kind.unwrap_or(BlockKind::Wood).word()).copied()
    }
}

/// How long work takes, in minutes.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Minutes {
    /// A routine trim.
    pub routine: Option<u16>,
    /// A lame cow.
    pub lame: Option<u16>,
    /// A check between times, or a recheck.
    pub check: Option<u16>,
    /// A block put on.
    pub block: Option<u16>,
    /// A dressing put on or taken off.
    pub dressing: Option<u16>,
    /// Setting up and washing down, once a visit.
    pub visit: Option<u16>,
}

/// The configuration folder: `$FOOTFOLD_CONFIG`, else under `$XDG_CONFIG_HOME`, else under the home folder.
pub fn folder() -> Result<PathBuf, Trouble> {
    let set = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    set("FOOTFOLD_CONFIG")
        .or_else(|| set("XDG_CONFIG_HOME").map(|path| path.join("footfold")))
        .or_else(|| set("HOME").map(|path| path.join(".config").join("footfold")))
        .ok_or_else(|| Trouble::new("no configuration folder", "set FOOTFOLD_CONFIG to a folder of your own"))
}

impl Settings {
    /// Reads the settings; none are fine.
    pub fn read(folder: &Path) -> Result<Self, Trouble> {
        if !folder.is_dir() {
            return Ok(Self::default());
        }
        let place = Folder::open(folder)?;
        let Some(bytes) = place.read(FILE)? else { return Ok(Self::default()) };
        let path = place.join(FILE);
        let text = String::from_utf8(bytes).map_err(|_| Trouble::new("expected UTF-8 text", SHOW).at(&path))?;
        let settings = Self::parse(&text).map_err(|trouble| trouble.at(&path))?;
        settings.check().map_err(|trouble| trouble.at(&path))?;
        Ok(settings)
    }

    fn parse(text: &str) -> Result<Self, Trouble> {
        let options = ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME);
        options.from_str(text).map_err(|error| {
            let place = error.span.start;
            Trouble::new(format!("column {}: {}", place.col, error.code), SHOW).line(place.line)
        })
    }

    fn check(&self) -> Result<(), Trouble> {
        let kinds: Vec<&str> = BlockKind::ALL.iter().map(|kind| kind.word()).collect();
        if let Some(kind) = self.prices.block.keys().find(|kind| !kinds.contains(&kind.as_str())) {
            let what = format!("prices, block: `{kind}` is no kind of block; expected one of {}", kinds.join(", "));
            return Err(Trouble::new(what, SHOW));
        }
        if let Some(device) = self.device.as_deref().filter(|device| !ledger_format::line::is_name(device)) {
            let what = format!("device: `{device}` cannot name a device");
            return Err(Trouble::new(what, "use small letters, digits and `-`, at most 32, as in `crush-laptop`"));
        }
        if let Some(by) = self.by.as_deref().filter(|by| !ledger_format::line::is_who(by)) {
            return Err(Trouble::new(format!("by: `{by}` cannot name a person"), "use initials, as in `kj`"));
        }
        Ok(())
    }

    /// Writes settings with explanations, where there are none. Says whether it did.
    pub fn write_first(folder: &Path, device: &str, by: &str, herd: &Path) -> Result<bool, Trouble> {
        std::fs::create_dir_all(folder).map_err(|e| Trouble::io("make the configuration folder", folder, &e))?;
        let place = Folder::open(folder)?;
        if place.kind(FILE)?.is_some() {
            return Ok(false);
        }
        let herd = ron::to_string(&herd.display().to_string()).unwrap_or_default();
        let text = format!(include_str!("first-settings.ron"), device = device, by = by, herd = herd);
        replace::create(&place, FILE, text.as_bytes())?;
        Ok(true)
    }
}

const SHOW: &str = "mend the line; the comments that `footfold new` writes into a new file show each setting";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_settings_are_read_back_and_never_written_over() {
        let folder = tempfile::tempdir().unwrap();
        assert!(Settings::write_first(folder.path(), "crush-laptop", "kj", Path::new("/h/quillmere")).unwrap());
        assert!(!Settings::write_first(folder.path(), "other", "ao", Path::new("/h/other")).unwrap());
        let settings = Settings::read(folder.path()).unwrap();
        assert_eq!(settings.device.as_deref(), Some("crush-laptop"));
        assert_eq!(settings.herds, [PathBuf::from("/h/quillmere")]);
        assert!(settings.prices.block(None).is_some() && settings.minutes.lame.is_some());
    }

    #[test]
    fn mistakes_are_told_with_line_and_column() {
        let wrong = Settings::parse("(\n    device: \"a\",\n    devise: \"b\",\n)").unwrap_err();
        assert_eq!(wrong.line, Some(3));
        assert!(wrong.what.contains("column") && wrong.what.contains("devise"), "{wrong}");
        let kind = Settings::parse("(prices: (block: {\"gold\": \"9\"}))").unwrap().check().unwrap_err();
        assert!(kind.what.contains("wood"));
    }
}
