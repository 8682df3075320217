//! Whether this machine may seal in its device's name, or has to wait (`forks.md` §1 to §4).

use chrono::{NaiveDateTime, TimeDelta};
use ledger_format::line::{read_utc, utc_text};
use serde::{Deserialize, Serialize};

use crate::disk::{HerdFolder, LedgerName, Lock, accepted, replace};
use crate::keys::DeviceKey;
use crate::seal::Desk;
use crate::states::{self, StatementLine};
use crate::{Trouble, forks};

/// What is remembered of a device here.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Standing {
    /// Machines that are known to seal here.
    machines: Vec<String>,
    /// Marks of statements that are no reason to doubt any more.
    settled: Vec<String>,
    /// What is doubted, and since when, UTC.
    doubted: Option<(String, String)>,
    /// When it went on in another history than its own, and in which file.
    pub(crate) switched: Option<String>,
    /// Where the lines stand that are to be typed under a new name: nothing more is sealed under this one.
    pub(crate) stopped: Option<String>,
}

/// Why it is doubted.
enum Reason {
    /// It signed more than is here.
    Signed(LedgerName, StatementLine, u64),
    /// It was another machine that sealed here.
    Machine(String),
}

impl std::fmt::Display for Reason {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Signed(name, said, here) => {
                let StatementLine { length, at, .. } = said;
                write!(f, "it signed {length} bytes of {name} on {}, and {here} are here", at.date())
            }
            Self::Machine(_) => f.write_str("it was on another machine that it last sealed in this folder"),
        }
    }
}

impl Standing {
    pub(crate) fn read(herd: &HerdFolder, device: &str) -> Result<Self, Trouble> {
        let Some(folder) = herd.own_if_there(&["standing"])? else { return Ok(Self::default()) };
        let bytes = folder.read(&file(device))?.unwrap_or_default();
        // One that cannot be read was never wholly written.
        Ok(std::str::from_utf8(&bytes).ok().and_then(|text| ron::from_str(text).ok()).unwrap_or_default())
    }

    pub(crate) fn write(&self, herd: &HerdFolder, device: &str) -> Result<(), Trouble> {
        let text = ron::ser::to_string_pretty(self, ron::ser::PrettyConfig::default())
            .map_err(|e| Trouble::new(e.to_string(), "tell the makers of footfold"))?;
        replace::overwrite(&herd.own(&["standing"])?, &file(device), text.as_bytes())
    }

    pub(crate) fn is_settled(&self, said: &StatementLine) -> bool {
        self.settled.contains(&said.mark.to_string())
    }

    /// Why nothing is sealed under this name, and what to do.
    pub(crate) fn why_stopped(&self, herd: &HerdFolder, device: &str) -> Trouble {
        let (name, lines) = (next_name(herd, device), self.stopped.as_deref().unwrap_or_default());
        let what = format!(
            "two machines write as {device}: its ledger has two histories for the second time. Nothing more is \
             sealed under this name here, and what is typed stays"
        );
        let remedy = format!(
            "give this machine a name of its own: set `device` in footfold.ron to {name}; then type anew what only \
             it had: `footfold write --file {lines}`. If it is the other machine that took a new name, say `footfold \
             seal --anyway`"
        );
        Trouble::new(what, remedy).at(herd.path())
    }

    fn settle(&mut self, reasons: Vec<Reason>) {
        for reason in reasons {
            match reason {
                Reason::Signed(_, said, _) => self.settled.push(said.mark.to_string()),
                Reason::Machine(machine) => self.machines.push(machine),
            }
        }
        self.doubted = None;
    }
}

fn file(device: &str) -> String {
    format!("{device}.ron")
}

/// Notes who begins to seal here.
pub(crate) fn begin(herd: &HerdFolder, device: &str, key: &DeviceKey) -> Result<(), Trouble> {
    let machines = key.machine().map(str::to_owned).into_iter().collect();
    Standing { machines, ..Standing::default() }.write(herd, device)
}

/// Nothing if the device may seal; else why it has to wait, and what to do. A doubt of a day is settled.
pub(crate) fn look(desk: &Desk) -> Result<(), Trouble> {
    let mut standing = Standing::read(desk.herd, desk.device)?;
    if standing.stopped.is_some() {
        return Err(standing.why_stopped(desk.herd, desk.device));
    }
    let reasons = reasons(desk, &mut standing)?;
    let before = standing.clone();
    if reasons.is_empty() {
        standing.doubted = None;
        return if standing == before { Ok(()) } else { standing.write(desk.herd, desk.device) };
    }
    let why = reasons.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ");
    let since = match &standing.doubted {
        Some((known, since)) if *known == why => read_utc(since.as_bytes()).unwrap_or(desk.now),
        _ => desk.now,
    };
    if desk.now - since >= TimeDelta::days(1) {
        standing.settle(reasons);
        return standing.write(desk.herd, desk.device);
    }
    standing.doubted = Some((why.clone(), utc_text(since)));
    if standing != before {
        standing.write(desk.herd, desk.device)?;
    }
    Err(doubted(desk.device, &why, since).at(desk.herd.path()))
}

/// The user's word that nobody holds more, and that nobody else writes under this name any more.
pub fn overrule(desk: &Desk) -> Result<(), Trouble> {
    let _lock = Lock::take(desk.herd, desk.now)?;
    let mut standing = Standing::read(desk.herd, desk.device)?;
    let reasons = reasons(desk, &mut standing)?;
    standing.settle(reasons);
    if standing.stopped.take().is_some() {
        standing.switched = None;
        for name in accepted::names(desk.herd)?.into_iter().filter(|name| name.device == desk.device) {
            let here = accepted::look(desk.herd, &name)?.unwrap_or_default();
            let against = states::against(desk.herd, &name, &here)?;
            standing.settled.extend(against.iter().map(|said| said.mark.to_string()));
        }
    }
    standing.write(desk.herd, desk.device)
}

/// Another's copy goes as far as ours: this machine is no worse than any.
pub(crate) fn confirm(desk: &Desk) -> Result<(), Trouble> {
    let mut standing = Standing::read(desk.herd, desk.device)?;
    let before = standing.clone();
    let of_machine = reasons(desk, &mut standing)?.into_iter().filter(|reason| matches!(reason, Reason::Machine(_)));
    standing.settle(of_machine.collect());
    if standing == before { Ok(()) } else { standing.write(desk.herd, desk.device) }
}

/// What is doubted or stopped, for the status; nothing is changed.
pub(crate) fn told(herd: &HerdFolder, device: &str) -> Result<Option<Trouble>, Trouble> {
    let standing = Standing::read(herd, device)?;
    if standing.stopped.is_some() {
        return Ok(Some(standing.why_stopped(herd, device)));
    }
    let doubt = standing.doubted.and_then(|(why, since)| Some(doubted(device, &why, read_utc(since.as_bytes())?)));
    Ok(doubt.map(|trouble| trouble.at(herd.path())))
}

/// That this machine once went on in another history of its own ledger: when, and in which file.
pub(crate) fn switched(herd: &HerdFolder, device: &str) -> Result<Option<String>, Trouble> {
    Ok(Standing::read(herd, device)?.switched)
}

/// The first machine that seals here is noted by the way.
fn reasons(desk: &Desk, standing: &mut Standing) -> Result<Vec<Reason>, Trouble> {
    let mut reasons = Vec::new();
    for (name, said, here) in states::beyond(desk.herd, desk.device, desk.key)? {
        if !standing.is_settled(&said) && !forks::holds(desk.herd, &name, &said)? {
            reasons.push(Reason::Signed(name, said, here));
        }
    }
    if let Some(machine) = desk.key.machine() {
        if standing.machines.is_empty() {
            standing.machines.push(machine.to_owned());
        } else if !standing.machines.iter().any(|known| known == machine) {
            reasons.push(Reason::Machine(machine.to_owned()));
        }
    }
    Ok(reasons)
}

fn doubted(device: &str, why: &str, since: NaiveDateTime) -> Trouble {
    let until = utc_text(since + TimeDelta::days(1));
    Trouble::new(
        format!(
            "{device} may not hold all that it wrote: {why}. Nothing is sealed for now, and what is typed stays: two \
             histories under one key are hard to mend"
        ),
        format!(
            "take over what another machine or a stick holds, with `footfold gather FOLDER`; if nobody holds more, say \
             `footfold seal --anyway`; else it goes on by itself from {until} on"
        ),
    )
}

/// The first free name after a device's: with `-2`, `-3` and so on (`forks.md` §9).
pub(crate) fn next_name(herd: &HerdFolder, device: &str) -> String {
    let taken = herd.ledgers().map(|listing| listing.files).unwrap_or_default();
    let stem: String = device.chars().take(29).collect();
    let names = (2..100).map(|n| format!("{stem}-{n}"));
    names.into_iter().find(|name| taken.iter().all(|file| file.device != *name)).unwrap_or_else(|| format!("{stem}-x"))
}
