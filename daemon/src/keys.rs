//! The device's Ed25519 key: outside every herd folder, for its owner's eyes only.

use std::os::unix::fs::PermissionsExt;
use std::path::Path;

use ed25519_dalek::SigningKey;
use ledger_format::mark::FullMark;

use crate::Trouble;
use crate::disk::Folder;

const FILE: &str = "device.key";
const LEAD: &str = "footfold device key 1 ";

/// Bytes that nobody can guess.
///
/// # Errors
/// When the system has none.
pub fn chance<const N: usize>() -> Result<[u8; N], Trouble> {
    let mut bytes = [0; N];
    let none = |e| Trouble::new(format!("the system gives no random bytes: {e}"), "run the command again");
    getrandom::fill(&mut bytes).map_err(none)?;
    Ok(bytes)
}

/// The key of this machine.
#[derive(Clone, PartialEq, Eq)]
pub struct DeviceKey {
    signing: SigningKey,
    public: String,
    machine: Option<String>,
}

impl DeviceKey {
    /// The key with this secret.
    pub fn of_secret(secret: &[u8; 32]) -> Self {
        let signing = SigningKey::from_bytes(secret);
        Self { public: FullMark(signing.verifying_key().to_bytes()).to_string(), signing, machine: None }
    }

    /// Reads the key in the configuration folder, or makes it on first use.
    pub fn open_or_make(folder: &Path) -> Result<Self, Trouble> {
        std::fs::create_dir_all(folder).map_err(|e| Trouble::io("make the configuration folder", folder, &e))?;
        let place = Folder::open(folder)?;
        let key = match Self::read(&place)? {
            Some(key) => key,
            None => Self::make(&place)?,
        };
        Ok(Self { machine: machine(), ..key })
    }

    /// Whether the configuration folder has a key.
    pub fn is_there(folder: &Path) -> Result<bool, Trouble> {
        if !folder.is_dir() {
            return Ok(false);
        }
        Ok(Folder::open(folder)?.kind(FILE)?.is_some())
    }

    /// A device that has written in a herd has a key. Without it nothing can go on in its name.
    pub fn lost(folder: &Path, device: &str) -> Trouble {
        let what = format!(
            "the key of {device} is gone from this machine. Nothing that was written is lost, but nobody can go on \
             writing as {device} without it"
        );
        let remedy = "put device.key back from a backup of this folder; or write on under a new name: change \
                      `device` in footfold.ron, or say `--device NAME`";
        Trouble::new(what, remedy).at(folder.join(FILE))
    }

    /// The public key: 64 hexadecimal digits.
    pub fn public(&self) -> &str {
        &self.public
    }

    /// The key itself, for signing.
    pub fn signing(&self) -> &SigningKey {
        &self.signing
    }

    /// The machine that it is on, where that is known: told from others, and no number of the system's.
    pub fn machine(&self) -> Option<&str> {
        self.machine.as_deref()
    }

    fn read(place: &Folder) -> Result<Option<Self>, Trouble> {
        let path = place.join(FILE);
        let Some(file) = place.file(FILE)? else { return Ok(None) };
        let mode = file.metadata().map_err(|e| Trouble::io("look at the key", &path, &e))?.permissions().mode();
        if mode & 0o077 != 0 {
            let what = format!("others on this machine can read the device's key (mode {:03o})", mode & 0o777);
            return Err(Trouble::new(what, format!("run `chmod 600 {}`", path.display())).at(path));
        }
        let bytes = place.read(FILE)?.unwrap_or_default();
        let text = String::from_utf8_lossy(&bytes);
        match text.trim_end().strip_prefix(LEAD).and_then(FullMark::read) {
            Some(secret) => Ok(Some(Self::of_secret(&secret.0))),
            None => Err(Trouble::new(
                "expected a device key: one line, `footfold device key 1` and 64 digits",
                "put the key back from a backup; or move this file away, and take a new device name with the new key",
            )
            .at(path)),
        }
    }

    fn make(place: &Folder) -> Result<Self, Trouble> {
        let secret = chance()?;
        let line = format!("{LEAD}{}\n", FullMark(secret));
        place.create(FILE, &[line.as_bytes()], 0o600)?;
        place.sync()?;
        Ok(Self::of_secret(&secret))
    }
}

/// The system's own number for this machine is nobody else's business: what is kept is made from it.
fn machine() -> Option<String> {
    let named = std::env::var("FOOTFOLD_MACHINE").ok();
    let number = named.or_else(|| std::fs::read_to_string("/etc/machine-id").ok())?;
    let number = number.trim();
    let made = || FullMark(blake3::derive_key("footfold 2026 machine", number.as_bytes())).mark().to_string();
    (!number.is_empty()).then(made)
}

impl std::fmt::Debug for DeviceKey {
    /// Never the secret.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "DeviceKey({})", self.public())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn s16_a_key_is_made_once_and_refused_when_others_can_read_it() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("config");
        let key = DeviceKey::open_or_make(&place).unwrap();
        assert_eq!(DeviceKey::open_or_make(&place).unwrap(), key);
        let file = place.join(FILE);
        assert_eq!(std::fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
        std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o640)).unwrap();
        assert!(DeviceKey::open_or_make(&place).unwrap_err().remedy.contains("chmod 600"));
        std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o600)).unwrap();
        std::fs::write(&file, "8d").unwrap();
        assert!(DeviceKey::open_or_make(&place).unwrap_err().what.contains("64 digits"));
    }
}
