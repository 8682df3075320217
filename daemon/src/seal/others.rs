//! Files of other devices: put back whole if somebody typed in them; what was typed is offered in one's own tail
//! (`keep.md` §12).

use ledger_format::keep::{self, Fate, Remembered, TypedBefore, What};
use ledger_format::text;

use super::offers::Offer;
use super::stand::FileStand;
use super::{Desk, Sealed, put};
use crate::Trouble;
use crate::disk::accepted::{self, Accepted, Recovered};
use crate::disk::{LedgerName, replace};

/// Files of other devices that were changed, and what of that is offered.
pub(super) struct Offers {
    files: Vec<FileStand>,
    offers: Vec<Offer>,
}

impl Offers {
    pub(super) fn is_empty(&self) -> bool {
        self.offers.is_empty()
    }

    pub(super) fn all(&self) -> &[Offer] {
        &self.offers
    }
}

/// Every ledger file of another device, visible or accepted.
pub(super) fn names(desk: &Desk) -> Result<Vec<LedgerName>, Trouble> {
    let mut names = desk.herd.ledgers()?.files;
    names.extend(accepted::names(desk.herd)?);
    names.retain(|name| name.device != desk.device);
    names.sort();
    names.dedup();
    Ok(names)
}

/// Looks at files of other devices. One that cannot be looked at is told, and the others go on.
pub(super) fn look(desk: &Desk, names: &[LedgerName], sum: &mut Sealed) -> Offers {
    let mut offers = Offers { files: Vec::new(), offers: Vec::new() };
    for name in names {
        match changed(desk, name, sum) {
            Ok(Some(file)) => {
                offers.offers.extend(offered(&file));
                offers.files.push(file);
            }
            Ok(None) => {}
            Err(trouble) => sum.notices.push(trouble.to_string()),
        }
    }
    offers
}

fn changed(desk: &Desk, name: &LedgerName, sum: &mut Sealed) -> Result<Option<FileStand>, Trouble> {
    let (accepted, recovered) = Accepted::open(desk.herd, name, None)?;
    // The first look at a copied folder makes them all; that is no news.
    let news = recovered.iter().filter(|what| !matches!(what, Recovered::MadeAnew(_)));
    sum.notices.extend(news.map(|what| format!("{name}: {what}")));
    if accepted.bytes().is_empty() {
        return Ok(None);
    }
    let file = FileStand::take(desk.herd, accepted, name, &[])?;
    let is_whole = file.read.as_deref() == Some(file.accepted.bytes());
    Ok(Some(file).filter(|file| !is_whole || file.has_strays()))
}

/// What was typed in a file of another device, as comments for one's own.
fn offered(file: &FileStand) -> Option<Offer> {
    let device = Some(file.name.device.as_str());
    let line = |typed: &keep::Typed| match &typed.what {
        What::New => Some(text::clean(&typed.text).text),
        What::Corrects(correction) => {
            let mark = correction.was.first()?.mark;
            Some(keep::as_correction(&text::clean(&typed.text).text, mark, device))
        }
        What::Left | What::Again(_) | What::Elsewhere => None,
    };
    let texts = file.texts().flat_map(|saved| saved.typed.iter().filter_map(line));
    let texts: Vec<String> = texts.filter(|line| !line.is_empty() && !line.starts_with(";!")).collect();
    (!texts.is_empty()).then(|| Offer::typed_in(&file.name.device, &texts))
}

/// Puts the files back. What stood there goes aside.
pub(super) fn put_back(desk: &Desk, offers: Offers, sum: &mut Sealed) -> Result<(), Trouble> {
    for mut file in offers.files {
        let text = file.accepted.bytes().to_vec();
        sum.notices.push(format!(
            "{}: the ledger of another device was changed here; it is put back, the text is in .footfold/aside/{}",
            file.name, file.name.device
        ));
        file.saved.irregular = true;
        let shown_after = memchr::memchr_iter(b'\n', &text).count();
        let saves: Vec<Remembered> = file.texts().map(|saved| remembered(saved, shown_after)).collect();
        file.remember(desk, saves)?;
        replace::prepare(&file.folder, &file.name.file(), &[&text])?;
        put(desk, &file)?;
    }
    Ok(())
}

fn remembered(saved: &keep::Saved, shown_after: usize) -> Remembered {
    let typed = saved.typed.iter().map(|typed| TypedBefore {
        text: typed.as_saved().to_owned(),
        fate: Fate::Gone,
        changes: None,
    });
    Remembered {
        shown: saved.shown,
        lacking: saved.lacking.clone(),
        typed: typed.collect(),
        shown_after,
        left: Vec::new(),
        carried: Vec::new(),
        unread: false,
    }
}
