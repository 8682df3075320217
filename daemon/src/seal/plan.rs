//! The plan of a sealing: written before anything else, so that a sealing once begun is finished once.

use serde::{Deserialize, Serialize};

use super::Desk;
use crate::Trouble;
use crate::disk::replace;

/// What a sealing is about to do.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Plan {
    /// The year of the file that the lines go to.
    pub(super) into: u16,
    /// Its accepted length before.
    pub(super) from: usize,
    /// The sealed lines.
    pub(super) sealed: String,
    /// The device's files, as they were read.
    pub(super) texts: Vec<PlanText>,
}

/// One file of the device.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PlanText {
    /// The year in its name.
    pub(super) year: u16,
    /// The hash of what was read; none if there was no file.
    pub(super) read: Option<String>,
    /// Typed lines that are now sealed, and remarks that are gone.
    pub(super) consumed: Vec<String>,
    /// What stays in its tail.
    pub(super) left: Vec<String>,
    /// Lines that stay in its tail in other words, as they were typed.
    #[serde(default)]
    pub(super) rewritten: Vec<String>,
}

impl Plan {
    pub(super) fn read(desk: &Desk) -> Result<Option<Self>, Trouble> {
        let Some(folder) = desk.herd.own_if_there(&["plan"])? else { return Ok(None) };
        let Some(bytes) = folder.read(&file(desk))? else { return Ok(None) };
        // A plan that cannot be read was never wholly written, so nothing was done by it.
        Ok(std::str::from_utf8(&bytes).ok().and_then(|text| ron::from_str(text).ok()))
    }

    pub(super) fn write(&self, desk: &Desk) -> Result<(), Trouble> {
        let folder = desk.herd.own(&["plan"])?;
        let text = ron::to_string(self).map_err(|e| Trouble::new(e.to_string(), "tell the makers of footfold"))?;
        replace::overwrite(&folder, &file(desk), text.as_bytes())
    }

    pub(super) fn remove(desk: &Desk) -> Result<(), Trouble> {
        let Some(folder) = desk.herd.own_if_there(&["plan"])? else { return Ok(()) };
        folder.remove(&file(desk))?;
        folder.sync()
    }

    pub(super) fn text(&self, year: u16) -> Option<&PlanText> {
        self.texts.iter().find(|text| text.year == year)
    }
}

fn file(desk: &Desk) -> String {
    format!("{}.ron", desk.device)
}
