//! The first lines of a new herd.

use std::path::Path;

use chrono::{Datelike, NaiveDate, NaiveDateTime};
use ledger_format::line::{self, date_text, is_name, is_who};
use ledger_format::mark::{Chain, Head};

use crate::Trouble;
use crate::disk::accepted::Accepted;
use crate::disk::{HerdFolder, LedgerName, Lock, replace};

/// What a new herd needs to know.
#[derive(Clone, Copy, Debug)]
pub struct NewHerd<'a> {
    /// The herd's name.
    pub herd: &'a str,
    /// Its time zone.
    pub zone: &'a str,
    /// The first device.
    pub device: &'a str,
    /// Its public key.
    pub key: &'a str,
    /// Who begins it.
    pub by: &'a str,
    /// The clock, UTC.
    pub now: NaiveDateTime,
    /// The day in the herd's time zone.
    pub today: NaiveDate,
    /// The text of the protocol to begin with, if any.
    pub protocol: Option<&'a str>,
}

/// Makes the folder, the first ledger with its head, admits its device and adopts the protocol.
pub fn begin_herd(folder: &Path, new: &NewHerd) -> Result<HerdFolder, Trouble> {
    check_names(new)?;
    let herd = HerdFolder::make(folder)?;
    let _lock = Lock::take(&herd, new.now)?;
    let day = date_text(new.today);
    let mut bodies = vec![format!("{day} herd admit {} key {} as keeper by {}", new.device, new.key, new.by)];
    if let Some(text) = new.protocol {
        let hash = herd.keep_protocol(text.as_bytes())?;
        bodies.push(format!("{day} herd adopt {hash} by {}", new.by));
    }
    let year = u16::try_from(new.now.year().clamp(1970, 9999)).unwrap_or(1970);
    let Some(name) = LedgerName::new(new.device, year) else { return Err(bad_name("device", new.device)) };
    let text = sealed(new, &bodies)?;
    let (mut accepted, _) = Accepted::open(&herd, &name, None)?;
    accepted.append(&text)?;
    replace::create(&herd.device_or_make(new.device)?, &name.file(), &text)?;
    Ok(herd)
}

fn sealed(new: &NewHerd, bodies: &[String]) -> Result<Vec<u8>, Trouble> {
    let NewHerd { herd, zone, device, key, now, .. } = *new;
    let (mut chain, mut text) = (Chain::default(), Vec::new());
    let head = Head { herd, device, key, zone, founder: None, follows: None }.to_string();
    Head::read(&head).map_err(|problem| Trouble::new(problem.to_string(), "choose another name or zone"))?;
    chain.seal(&head, now, &mut text);
    for body in bodies {
        line::read(body).map_err(|problem| Trouble::new(format!("{problem} in `{body}`"), "choose another name"))?;
        chain.seal(body, now, &mut text);
    }
    Ok(text)
}

fn check_names(new: &NewHerd) -> Result<(), Trouble> {
    for (what, name) in [("herd", new.herd), ("device", new.device)] {
        if !is_name(name) {
            return Err(bad_name(what, name));
        }
    }
    if !is_who(new.by) {
        let what = format!("`{}` cannot name a person", new.by);
        return Err(Trouble::new(what, "use initials: small letters, digits and `-`, at most 16, as in `--by kj`"));
    }
    Ok(())
}

fn bad_name(what: &str, name: &str) -> Trouble {
    Trouble::new(
        format!("`{name}` cannot name a {what}"),
        format!("use small letters, digits and `-`, at most 32, beginning with a letter, as in `--{what} quillmere`"),
    )
}
