//! Whom this machine calls: `peers.txt` in the configuration folder, which only the program writes.

use std::path::Path;

use ledger_format::line::is_name;
use ledger_format::mark::FullMark;

use crate::Trouble;
use crate::disk::{Folder, replace};

/// The file's name.
pub const FILE: &str = "peers.txt";

/// A machine that is called.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Peer {
    /// Where: a name or number and a port.
    pub address: String,
    /// The key that must answer there.
    pub key: FullMark,
    /// Its device's name, for people.
    pub device: String,
    /// The founder's key of the herd that is exchanged with it.
    pub herd: FullMark,
}

impl Peer {
    /// Reads a line of the file.
    pub fn read(line: &str) -> Option<Self> {
        let words: Vec<&str> = line.split(' ').collect();
        let ["peer", address, "key", key, "device", device, "herd", herd] = words[..] else { return None };
        let (key, herd) = (FullMark::read(key)?, FullMark::read(herd)?);
        let fits = address.contains(':') && is_name(device);
        fits.then(|| Self { address: address.to_owned(), key, device: device.to_owned(), herd })
    }
}

impl std::fmt::Display for Peer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { address, key, device, herd } = self;
        write!(f, "peer {address} key {key} device {device} herd {herd}")
    }
}

/// All peers; none are fine.
pub fn all(config: &Path) -> Result<Vec<Peer>, Trouble> {
    if !config.is_dir() {
        return Ok(Vec::new());
    }
    let place = Folder::open(config)?;
    let Some(bytes) = place.read(FILE)? else { return Ok(Vec::new()) };
    let text = String::from_utf8_lossy(&bytes);
    let mut peers = Vec::new();
    for (at, line) in text.lines().enumerate().filter(|(_, line)| !line.is_empty()) {
        let peer = Peer::read(line).ok_or_else(|| {
            let what = "expected `peer ADDRESS:PORT key KEY device NAME herd KEY`";
            Trouble::new(what, "take the line out; pairing writes it anew").at(place.join(FILE)).line(at + 1)
        })?;
        peers.push(peer);
    }
    Ok(peers)
}

/// Adds a peer. One with the same key and herd is the same machine, perhaps at another address.
pub fn add(config: &Path, peer: Peer) -> Result<(), Trouble> {
    let mut peers = all(config)?;
    peers.retain(|known| (known.key, known.herd) != (peer.key, peer.herd));
    peers.push(peer);
    let text = peers.iter().map(|peer| format!("{peer}\n")).collect::<Vec<_>>().concat();
    replace::overwrite(&Folder::open(config)?, FILE, text.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_peer_is_kept_once_and_found_again_at_its_new_address() {
        let place = tempfile::tempdir().unwrap();
        let peer = |address: &str, device: &str, key| Peer {
            address: address.into(),
            key: FullMark([key; 32]),
            device: device.into(),
            herd: FullMark([9; 32]),
        };
        let (office, moved, vet) = (
            peer("10.0.0.2:4777", "farm-office", 1),
            peer("[::1]:9", "farm-office", 1),
            peer("vet.lan:4777", "vet", 2),
        );
        for added in [&office, &vet, &moved] {
            add(place.path(), added.clone()).unwrap();
        }
        assert_eq!(all(place.path()).unwrap(), [vet, moved]);
        std::fs::write(place.path().join(FILE), "peer somewhere\n").unwrap();
        assert_eq!(all(place.path()).unwrap_err().line, Some(1));
    }
}
