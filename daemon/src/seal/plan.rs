//! The plan of a sealing: written before the lines are, so that a sealing once begun is finished once.

use serde::{Deserialize, Serialize};

use super::Desk;
use crate::Trouble;
use crate::disk::{faults, replace};

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
        if faults::mutant("drop-plan") {
            return Ok(());
        }
        let text = ron::to_string(self).map_err(|e| Trouble::new(e.to_string(), "tell the makers of footfold"))?;
        replace::overwrite(&folder, &file(desk), text.as_bytes())?;
        faults::point("planned");
        Ok(())
    }

    pub(super) fn remove(desk: &Desk) -> Result<(), Trouble> {
        let Some(folder) = desk.herd.own_if_there(&["plan"])? else { return Ok(()) };
        if faults::mutant("keep-plan") {
            return Ok(());
        }
        folder.remove(&file(desk))?;
        folder.sync()
    }
}

fn file(desk: &Desk) -> String {
    format!("{}.ron", desk.device)
}
