//! `footfold.ron`: this machine's settings, outside every herd folder. A person writes it; the program
//! writes one only where there is none.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use ledger_format::text::decode;
use ledger_format::vocabulary::{BlockKind, Group, Lesion};
use ron::extensions::Extensions;
use rust_decimal::Decimal;
use serde::de::{DeserializeOwned, Error as _, IgnoredAny};
use serde::{Deserialize, Deserializer};

use crate::Trouble;
use crate::disk::{Folder, replace};

/// The file's name.
pub const FILE: &str = "footfold.ron";

/// What a person set. What work costs and how long it takes is read only where it is asked for, so that a slip in a
/// price does not keep anyone from writing.
#[derive(Clone, Debug, Default, Deserialize)]
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
    /// Where other machines may call this one: an address and a port. Nowhere, if not set.
    pub listen: Option<SocketAddr>,
    /// Where figures of the exchange can be read: an address and a port of this machine. Nowhere, if not set.
    pub metrics: Option<SocketAddr>,
    nearby: Option<bool>,
    /// Whether a watching daemon looks every few seconds instead of waiting for events of the system.
    pub polling: bool,
    #[serde(rename = "currency")]
    _currency: IgnoredAny,
    #[serde(rename = "vat_percent")]
    _vat_percent: IgnoredAny,
    #[serde(rename = "prices")]
    _prices: IgnoredAny,
    #[serde(rename = "costs")]
    _costs: IgnoredAny,
    #[serde(rename = "minutes")]
    _minutes: IgnoredAny,
    #[serde(skip)]
    source: Source,
}

/// The text of the file, and where it is.
#[derive(Clone, Debug, Default)]
struct Source {
    path: PathBuf,
    text: Option<String>,
}

/// What of the file says what work costs.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(default)]
pub struct Charging {
    /// Currency of the prices.
    pub currency: Option<String>,
    /// VAT in percent.
    #[serde(deserialize_with = "percent")]
    pub vat_percent: Option<Decimal>,
    /// The price list.
    pub prices: Prices,
}

/// What of the file says what lameness costs a herd.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(default)]
pub struct Costing {
    /// Currency of the costs.
    pub currency: Option<String>,
    /// What lameness costs.
    pub costs: Costs,
}

/// What lameness costs, each in the currency.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Costs {
    /// A day that a cow is lame.
    #[serde(deserialize_with = "price")]
    pub lame_day: Option<Decimal>,
    /// A day that a cow is severely lame.
    #[serde(deserialize_with = "price")]
    pub severe_day: Option<Decimal>,
    /// A case, by lesion code, group, or `any`.
    #[serde(deserialize_with = "cases")]
    pub case: BTreeMap<String, Decimal>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Timing {
    minutes: Minutes,
}

/// What work costs, each in the currency.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Prices {
    /// A cow lifted and looked at, without a trim.
    #[serde(deserialize_with = "price")]
    pub lift: Option<Decimal>,
    /// A cow trimmed.
    #[serde(deserialize_with = "price")]
    pub trim: Option<Decimal>,
    /// A block put on, by its kind.
    #[serde(deserialize_with = "blocks")]
    pub block: BTreeMap<String, Decimal>,
    /// A dressing put on.
    #[serde(deserialize_with = "price")]
    pub dressing: Option<Decimal>,
    /// Coming out, once a visit.
    #[serde(deserialize_with = "price")]
    pub call_out: Option<Decimal>,
    /// An hour of work.
    #[serde(deserialize_with = "price")]
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
    #[serde(deserialize_with = "minutes")]
    pub routine: Option<u16>,
    /// A lame cow.
    #[serde(deserialize_with = "minutes")]
    pub lame: Option<u16>,
    /// A check between times, or a recheck.
    #[serde(deserialize_with = "minutes")]
    pub check: Option<u16>,
    /// A block put on.
    #[serde(deserialize_with = "minutes")]
    pub block: Option<u16>,
    /// A dressing put on or taken off.
    #[serde(deserialize_with = "minutes")]
    pub dressing: Option<u16>,
    /// Setting up and washing down, once a visit.
    #[serde(deserialize_with = "minutes")]
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
        // Editors add marks of their own, or save as UTF-16.
        let decoded = decode(&bytes);
        if decoded.guessed {
            return Err(Trouble::new("expected UTF-8 text", "save the file as UTF-8").at(&path));
        }
        Self::of(&decoded.text, path)
    }

    fn of(text: &str, path: PathBuf) -> Result<Self, Trouble> {
        let text = text.replace("\r\n", "\n");
        let mut settings: Self = parse(&text).map_err(|trouble| trouble.at(&path))?;
        settings.check().map_err(|trouble| trouble.at(&path))?;
        settings.source = Source { path, text: Some(text) };
        Ok(settings)
    }

    /// Whether machines that pair are looked for in the same network.
    pub fn nearby(&self) -> bool {
        self.nearby.unwrap_or(true)
    }

    /// The price list, with its currency and VAT.
    pub fn charging(&self) -> Result<Charging, Trouble> {
        self.source.read()
    }

    /// What lameness costs.
    pub fn costing(&self) -> Result<Costing, Trouble> {
        self.source.read()
    }

    /// How long work takes.
    pub fn minutes(&self) -> Result<Minutes, Trouble> {
        self.source.read().map(|timing: Timing| timing.minutes)
    }

    fn check(&self) -> Result<(), Trouble> {
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

impl Source {
    fn read<T: Default + DeserializeOwned>(&self) -> Result<T, Trouble> {
        let read = |text: &String| parse(text).map_err(|trouble| trouble.at(&self.path));
        self.text.as_ref().map_or_else(|| Ok(T::default()), read)
    }
}

fn parse<T: DeserializeOwned>(text: &str) -> Result<T, Trouble> {
    let options = ron::Options::default().with_default_extension(Extensions::IMPLICIT_SOME);
    options.from_str(text).map_err(|error| {
        let place = error.span.start;
        Trouble::new(format!("column {}: {}", place.col, error.code), SHOW).line(place.line)
    })
}

fn within<'de, D: Deserializer<'de>>(
    deserializer: D,
    most: Option<u32>,
    what: &str,
) -> Result<Option<Decimal>, D::Error> {
    let value: Option<Decimal> = Option::deserialize(deserializer)?;
    let fits = |value: &Decimal| *value >= Decimal::ZERO && most.is_none_or(|most| *value <= Decimal::from(most));
    match value.filter(|value| !fits(value)) {
        Some(value) => Err(D::Error::custom(format!("{value} is {what}"))),
        None => Ok(value),
    }
}

fn price<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Decimal>, D::Error> {
    within(deserializer, None, NO_PRICE)
}

fn percent<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Decimal>, D::Error> {
    within(deserializer, Some(100), "no VAT; expected 0 to 100 percent")
}

/// Prices by name, none below nothing.
fn priced<'de, D: Deserializer<'de>>(deserializer: D) -> Result<BTreeMap<String, Decimal>, D::Error> {
    let priced: BTreeMap<String, Decimal> = BTreeMap::deserialize(deserializer)?;
    match priced.values().find(|value| **value < Decimal::ZERO) {
        Some(value) => Err(D::Error::custom(format!("{value} is {NO_PRICE}"))),
        None => Ok(priced),
    }
}

/// A cost of each kind of case.
fn cases<'de, D: Deserializer<'de>>(deserializer: D) -> Result<BTreeMap<String, Decimal>, D::Error> {
    let cases = priced(deserializer)?;
    let is_code = |name: &str| Lesion::ALL.iter().any(|lesion| lesion.word() == name);
    let is_group = |name: &str| name == "any" || Group::ALL.iter().any(|group| group.word() == name);
    match cases.keys().find(|name| !is_code(name) && !is_group(name)) {
        Some(name) => Err(D::Error::custom(format!(
            "`{name}` is no case; expected a lesion code as SU, or horn, infectious, shape, other, any"
        ))),
        None => Ok(cases),
    }
}

/// A price of each kind of block.
fn blocks<'de, D: Deserializer<'de>>(deserializer: D) -> Result<BTreeMap<String, Decimal>, D::Error> {
    let blocks = priced(deserializer)?;
    let kinds: Vec<&str> = BlockKind::ALL.iter().map(|kind| kind.word()).collect();
    match blocks.keys().find(|kind| !kinds.contains(&kind.as_str())) {
        Some(kind) => {
            Err(D::Error::custom(format!("`{kind}` is no kind of block; expected one of {}", kinds.join(", "))))
        }
        None => Ok(blocks),
    }
}

/// Nothing in a crush takes more than a day.
fn minutes<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<u16>, D::Error> {
    let value: Option<i64> = Option::deserialize(deserializer)?;
    let fits = |value: i64| u16::try_from(value).ok().filter(|value| *value <= 24 * 60);
    match value {
        None => Ok(None),
        Some(value) => fits(value)
            .map(Some)
            .ok_or_else(|| D::Error::custom(format!("{value} is no number of minutes; expected 0 to 1440"))),
    }
}

const NO_PRICE: &str = "no price; expected 0 or more";

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
        let (charging, minutes) = (settings.charging().unwrap(), settings.minutes().unwrap());
        assert!(charging.prices.block(None).is_some() && minutes.lame.is_some());
    }

    #[test]
    fn mistakes_are_told_with_line_and_column() {
        let wrong = of("(\n    device: \"a\",\n    devise: \"b\",\n)").unwrap_err();
        assert_eq!(wrong.line, Some(3));
        assert!(wrong.what.contains("column") && wrong.what.contains("devise"), "{wrong}");
        let kind = of("(prices: (block: {\"gold\": \"9\"}))").unwrap().charging().unwrap_err();
        assert!(kind.what.contains("wood"));
    }

    fn of(text: &str) -> Result<Settings, Trouble> {
        Settings::of(text, PathBuf::from("footfold.ron"))
    }

    #[test]
    fn a_wrong_price_stops_only_what_asks_for_prices() {
        for wrong in [
            "prices: (trim: \"-5\")",
            "prices: (block: {\"wood\": \"-1\"})",
            "vat_percent: \"-20\"",
            "prices: (trim: \"much\")",
        ] {
            let settings = of(&format!("(\n    device: \"a\",\n    {wrong},\n)")).unwrap();
            assert_eq!(settings.device.as_deref(), Some("a"));
            assert!(settings.minutes().is_ok());
            let trouble = settings.charging().unwrap_err();
            assert_eq!(trouble.line, Some(3), "{wrong}: {trouble}");
        }
    }

    #[test]
    fn costs_are_read_only_where_they_are_asked_for() {
        let costing =
            of("(costs: (lame_day: \"2.20\", case: {\"SU\": \"514\", \"any\": \"178\"}))").unwrap().costing().unwrap();
        assert_eq!(
            (costing.costs.lame_day.map(|cost| cost.to_string()).as_deref(), costing.costs.case.len()),
            (Some("2.20"), 2)
        );
        for (wrong, what) in [("lame_day: \"-2\"", "-2 is no price"), ("case: {\"gout\": \"5\"}", "`gout` is no case")]
        {
            let settings = of(&format!("(\n    costs: ({wrong}),\n)")).unwrap();
            assert!(settings.charging().is_ok());
            let trouble = settings.costing().unwrap_err();
            assert!(trouble.line == Some(2) && trouble.what.contains(what), "{trouble}");
        }
    }

    #[test]
    fn negative_minutes_are_refused_with_their_line() {
        let settings = of("(\n    minutes: (\n        lame: -5,\n    ),\n)").unwrap();
        let trouble = settings.minutes().unwrap_err();
        assert_eq!(trouble.line, Some(3), "{trouble}");
        assert!(trouble.what.contains("-5 is no number of minutes"), "{trouble}");
        assert!(settings.charging().is_ok());
    }

    #[test]
    fn what_an_editor_adds_is_undone() {
        let folder = tempfile::tempdir().unwrap();
        let text = "(\r\n    device: \"a\", // Grüße\r\n    minutes: (lame: 12),\r\n)\r\n";
        let utf16: Vec<u8> = "\u{FEFF}"
            .chars()
            .chain(text.chars())
            .collect::<String>()
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        let bom = ["\u{FEFF}".as_bytes(), text.as_bytes()].concat();
        for bytes in [text.as_bytes().to_vec(), bom, utf16] {
            std::fs::write(folder.path().join(FILE), bytes).unwrap();
            let settings = Settings::read(folder.path()).unwrap();
            assert_eq!((settings.device.as_deref(), settings.minutes().unwrap().lame), (Some("a"), Some(12)));
        }
    }
}
