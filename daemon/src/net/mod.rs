//! Herds exchanged with other machines (`spec/sync.md`): a listener, a caller for each peer, and the herds' folders
//! between them. It runs on a thread of its own, so that neither herds nor peers hold each other up.

mod caller;
mod door;
mod herds;
mod join;
mod limits;
mod line;
mod metrics;
pub mod peers;
mod routes;
mod server;
mod take;
pub mod tls;
#[cfg(test)]
mod world;

use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use chrono::NaiveDateTime;
use ledger_format::mark::FullMark;
use tokio::sync::mpsc;
use tokio::task::spawn_blocking;
use tracing::warn;

use crate::Trouble;
use crate::keys::DeviceKey;
pub use door::{Door, Going, LetIn};
use herds::Herds;
pub use join::join;
pub use routes::Extra;

/// What is told where a device has written more in a day than is taken.
const ENOUGH: &str =
    "more new lines of this device than are taken in a day; look at them, then end the daemon and start it again";
/// Every herd is looked at as often as this, whatever the events say.
const FULL_LOOK: Duration = Duration::from_secs(30);
/// Threads that may wait for disks.
const DISK_THREADS: usize = 8;

/// What the net needs to know.
pub struct Setup {
    /// Where others may call; nobody may, if none.
    pub listen: Option<SocketAddr>,
    /// Where its figures can be read; nowhere, if none.
    pub metrics: Option<SocketAddr>,
    /// The configuration folder, where the peers stand.
    pub config: PathBuf,
    /// The herds' folders.
    pub folders: Vec<PathBuf>,
    /// The device that writes here.
    pub device: Option<String>,
    /// Its key.
    pub key: DeviceKey,
    /// The clock, UTC.
    pub clock: fn() -> NaiveDateTime,
    /// Routes beside those of herds.
    pub extra: Option<Extra>,
}

/// Who is at the other end of a connection: a route gets it by `warp::ext::get::<Caller>()`.
#[derive(Clone, Copy, Debug)]
pub struct Caller {
    /// The key that it holds.
    pub key: FullMark,
    /// What both ends of this session know and nobody between them, for pairing.
    pub exported: [u8; 32],
}

/// The label of [`Caller::exported`].
const EXPORTED: &[u8] = b"EXPORTER-footfold-pairing";

/// The net, running. It ends with this.
pub struct Net {
    hint: Option<mpsc::UnboundedSender<usize>>,
    thread: Option<JoinHandle<()>>,
}

impl Net {
    /// Begins to listen and to call.
    pub fn start(setup: Setup) -> Result<Self, Trouble> {
        let server = setup.listen.map(|address| Ok((address, tls::server(&setup.key)?))).transpose()?;
        let (hint, hints) = mpsc::unbounded_channel();
        let failed = |e: std::io::Error| Trouble::io("start the exchange with others", &setup.config, &e);
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .max_blocking_threads(DISK_THREADS)
            .build()
            .map_err(failed)?;
        let Setup { metrics, config, folders, device, key, clock, extra, .. } = setup;
        let herds = Arc::new(Herds::new(&folders, device, key, clock));
        let run = move || {
            runtime.block_on(async {
                if let Some((address, tls)) = server {
                    tokio::spawn(server::listen(address, tls, Arc::clone(&herds), routes::routes(&herds, extra)));
                }
                if let Some(address) = metrics {
                    tokio::spawn(metrics::listen(address, Arc::clone(&herds)));
                }
                tokio::spawn(caller::call_all(config, Arc::clone(&herds)));
                look(&herds, hints).await;
            });
            runtime.shutdown_timeout(Duration::from_secs(2));
        };
        let thread = std::thread::Builder::new().name("net".to_owned()).spawn(run);
        let thread =
            thread.map_err(|e| Trouble::io("start the exchange with others", std::path::Path::new("."), &e))?;
        Ok(Self { hint: Some(hint), thread: Some(thread) })
    }

    /// A herd, by its place among the folders, may have changed.
    pub fn changed(&self, at: usize) {
        if let Some(hint) = &self.hint {
            let _ = hint.send(at);
        }
    }
}

impl Drop for Net {
    fn drop(&mut self) {
        self.hint = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Looks at herds that may have changed, and at all of them now and then. Ends when nobody hints any more.
async fn look(herds: &Arc<Herds>, mut hints: mpsc::UnboundedReceiver<usize>) {
    let mut due: Vec<usize> = (0..herds.len()).collect();
    loop {
        due.sort_unstable();
        due.dedup();
        for at in due.drain(..) {
            let herds = Arc::clone(herds);
            if spawn_blocking(move || herds.refresh(at)).await.is_err() {
                warn!("a herd could not be looked at");
            }
        }
        match tokio::time::timeout(FULL_LOOK, hints.recv()).await {
            Ok(None) => return,
            Ok(Some(at)) => due.push(at),
            Err(_) => due.extend(0..herds.len()),
        }
        while let Ok(at) = hints.try_recv() {
            due.push(at);
        }
    }
}

/// `bytes=N-` or `bytes=N-M`.
fn span(range: &str) -> Option<(u64, Option<u64>)> {
    let (from, to) = range.strip_prefix("bytes=")?.split_once('-')?;
    let number = |digits: &str| digits.bytes().all(|b| b.is_ascii_digit()).then(|| digits.parse().ok()).flatten();
    let to = if to.is_empty() { None } else { Some(number(to)?) };
    Some((number(from)?, to))
}
