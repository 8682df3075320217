//! Finding machines in the same network by multicast DNS: a device name, the beginning of its key, a port; never a
//! herd. What is found is a hint: who answers there is known by the key alone.

use std::net::{IpAddr, SocketAddr};
use std::time::{Duration, Instant};

use mdns_sd::{IfKind, ResolvedService, ServiceDaemon, ServiceEvent, ServiceInfo};

use crate::Trouble;

const SERVICE: &str = "_footfold._tcp.local.";
const KEY: &str = "key";
const PAIRING: &str = "pairing";
/// Digits of the key that are announced: enough to tell machines of one name apart.
const PREFIX: usize = 8;

/// Where machines are looked for and announced.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Nearby {
    /// Nowhere.
    Off,
    /// On every interface.
    Everywhere,
    /// On this interface.
    On(String),
}

/// What is announced.
#[derive(Clone, Copy, Debug)]
pub struct Announced<'a> {
    /// The device.
    pub device: &'a str,
    /// Its public key, 64 digits.
    pub key: &'a str,
    /// Where it listens.
    pub port: u16,
    /// Whether it shows a code and waits.
    pub is_pairing: bool,
}

/// A machine that was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// What it calls its device.
    pub device: String,
    /// The beginning of what it says is its key.
    pub key: String,
    /// Where it says it listens.
    pub addresses: Vec<SocketAddr>,
    /// Whether it says that it shows a code and waits.
    pub is_pairing: bool,
}

/// Ends with its being dropped.
pub struct Announcing {
    daemon: ServiceDaemon,
    name: String,
}

impl Nearby {
    /// `$FOOTFOLD_NEARBY` if it is set (`off`, or an interface), else what the settings say.
    pub fn of(is_on: bool) -> Self {
        match std::env::var("FOOTFOLD_NEARBY").ok().filter(|set| !set.is_empty()) {
            Some(set) if set == "off" => Self::Off,
            Some(interface) => Self::On(interface),
            None if is_on => Self::Everywhere,
            None => Self::Off,
        }
    }

    fn daemon(&self) -> Result<Option<ServiceDaemon>, Trouble> {
        if *self == Self::Off {
            return Ok(None);
        }
        let daemon = ServiceDaemon::new().map_err(|e| trouble(&e))?;
        if let Self::On(interface) = self {
            daemon.disable_interface(IfKind::All).map_err(|e| trouble(&e))?;
            daemon.enable_interface(IfKind::Name(interface.clone())).map_err(|e| trouble(&e))?;
        }
        Ok(Some(daemon))
    }
}

/// Announces a machine for as long as what is given lives; none if that is turned off.
pub fn announce(nearby: &Nearby, what: &Announced) -> Result<Option<Announcing>, Trouble> {
    let Some(daemon) = nearby.daemon()? else { return Ok(None) };
    let key = prefix(what.key);
    let instance = format!("{}-{key}", what.device);
    let properties = [(KEY, key), (PAIRING, if what.is_pairing { "yes" } else { "no" })];
    let host = format!("{instance}.local.");
    let service =
        ServiceInfo::new(SERVICE, &instance, &host, (), what.port, &properties[..]).map_err(|e| trouble(&e))?;
    let service = service.enable_addr_auto();
    let name = service.get_fullname().to_owned();
    daemon.register(service).map_err(|e| trouble(&e))?;
    Ok(Some(Announcing { daemon, name }))
}

/// Looks for machines for a while, or until `is_enough` of those found.
pub fn find(nearby: &Nearby, time: Duration, is_enough: impl Fn(&[Found]) -> bool) -> Result<Vec<Found>, Trouble> {
    let Some(daemon) = nearby.daemon()? else { return Ok(Vec::new()) };
    let events = daemon.browse(SERVICE).map_err(|e| trouble(&e))?;
    let until = Instant::now() + time;
    let mut all: Vec<Found> = Vec::new();
    while let Ok(event) = events.recv_timeout(until.saturating_duration_since(Instant::now())) {
        let ServiceEvent::ServiceResolved(service) = event else { continue };
        let Some(found) = read(&service) else { continue };
        all.retain(|known| (&known.device, &known.key) != (&found.device, &found.key));
        all.push(found);
        if is_enough(&all) {
            break;
        }
    }
    let _ = daemon.shutdown();
    all.sort_by(|a, b| (&a.device, &a.key).cmp(&(&b.device, &b.key)));
    Ok(all)
}

/// What a stranger may have made up: names are checked as if typed.
fn read(service: &ResolvedService) -> Option<Found> {
    let instance = service.get_fullname().strip_suffix(SERVICE)?.strip_suffix('.')?;
    let key = service.get_property_val_str(KEY)?;
    let device = instance.strip_suffix(key)?.strip_suffix('-')?;
    let is_key = key.len() == PREFIX && key.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
    if !is_key || !ledger_format::line::is_name(device) {
        return None;
    }
    let mut addresses: Vec<IpAddr> = service.get_addresses().iter().map(mdns_sd::ScopedIp::to_ip_addr).collect();
    // Those that a person could type first.
    addresses.sort_by_key(|address| (address.is_ipv6(), *address));
    Some(Found {
        device: device.to_owned(),
        key: key.to_owned(),
        addresses: addresses.into_iter().map(|address| SocketAddr::new(address, service.get_port())).collect(),
        is_pairing: service.get_property_val_str(PAIRING) == Some("yes"),
    })
}

fn prefix(key: &str) -> &str {
    key.get(..PREFIX).unwrap_or(key)
}

fn trouble(error: &mdns_sd::Error) -> Trouble {
    Trouble::new(
        format!("machines nearby cannot be looked for: {error}"),
        "type the address instead, as in `--at 192.168.1.20:4777`; or set `nearby: false` in the settings",
    )
}

impl Drop for Announcing {
    fn drop(&mut self) {
        if let Ok(done) = self.daemon.unregister(&self.name) {
            // The goodbye should go out before the thread ends.
            let _ = done.recv_timeout(Duration::from_secs(1));
        }
        let _ = self.daemon.shutdown();
    }
}

impl std::fmt::Debug for Announcing {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Announcing({})", self.name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEVICE_KEY: &str = "8d0c1f2a00000000000000000000000000000000000000000000000000000000";

    #[test]
    fn a_machine_that_waits_is_found_on_the_loopback_and_no_herd_is_named() {
        let lo = Nearby::On("lo".to_owned());
        let device = format!("crush-{}", std::process::id());
        let what = Announced { device: &device, key: DEVICE_KEY, port: 4778, is_pairing: true };
        let announcing = announce(&lo, &what).unwrap().unwrap();
        assert!(format!("{announcing:?}").contains(&device));
        let is_it = |found: &Found| found.device == device;
        let all = find(&lo, Duration::from_secs(20), |all| all.iter().any(is_it)).unwrap();
        let found = all.into_iter().find(is_it).unwrap();
        assert_eq!((found.key.as_str(), found.is_pairing), ("8d0c1f2a", true));
        assert!(
            found.addresses.iter().all(|address| address.ip().is_loopback() && address.port() == 4778),
            "{found:?}"
        );
        assert!(!found.addresses.is_empty());
    }

    #[test]
    fn turned_off_nothing_is_announced_and_nothing_found() {
        let what = Announced { device: "crush", key: DEVICE_KEY, port: 4778, is_pairing: true };
        assert!(announce(&Nearby::Off, &what).unwrap().is_none());
        assert!(find(&Nearby::Off, Duration::from_secs(20), |_| true).unwrap().is_empty());
    }
}
