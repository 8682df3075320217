//! The device's Ed25519 key: outside every herd folder, for its owner's eyes only.

use std::os::unix::fs::PermissionsExt;
use std::path::Path;

use ed25519_dalek::SigningKey;
use ledger_format::mark::FullMark;

use crate::Trouble;
use crate::disk::Folder;

const FILE: &str = "device.key";
const LEAD: &str = "footfold device key 1 ";

/// The key of this machine.
pub struct DeviceKey(SigningKey);

impl DeviceKey {
    /// Reads the key in the configuration folder, or makes it on first use.
    pub fn open_or_make(folder: &Path) -> Result<Self, Trouble> {
        std::fs::create_dir_all(folder).map_err(|e| Trouble::io("make the configuration folder", folder, &e))?;
        let place = Folder::open(folder)?;
        match Self::read(&place)? {
            Some(key) => Ok(key),
            None => Self::make(&place),
        }
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
    pub fn public(&self) -> String {
        FullMark(self.0.verifying_key().to_bytes()).to_string()
    }

    /// The key itself, for signing.
    pub fn signing(&self) -> &SigningKey {
        &self.0
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
            Some(secret) => Ok(Some(Self(SigningKey::from_bytes(&secret.0)))),
            None => Err(Trouble::new(
                "expected a device key: one line, `footfold device key 1` and 64 digits",
                "put the key back from a backup; or move this file away, and take a new device name with the new key",
            )
            .at(path)),
        }
    }

    fn make(place: &Folder) -> Result<Self, Trouble> {
        let mut secret = [0; 32];
        getrandom::fill(&mut secret)
            .map_err(|e| Trouble::new(format!("the system gives no random bytes: {e}"), "run the command again"))?;
        let line = format!("{LEAD}{}\n", FullMark(secret));
        place.create(FILE, &[line.as_bytes()], 0o600)?;
        place.sync()?;
        Ok(Self(SigningKey::from_bytes(&secret)))
    }
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
        let key = DeviceKey::open_or_make(&place).unwrap().public();
        assert_eq!(DeviceKey::open_or_make(&place).unwrap().public(), key);
        let file = place.join(FILE);
        assert_eq!(std::fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
        std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o640)).unwrap();
        assert!(DeviceKey::open_or_make(&place).unwrap_err().remedy.contains("chmod 600"));
        std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o600)).unwrap();
        std::fs::write(&file, "8d").unwrap();
        assert!(DeviceKey::open_or_make(&place).unwrap_err().what.contains("64 digits"));
    }
}
