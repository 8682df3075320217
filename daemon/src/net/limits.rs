//! Limits of a connection (`sync.md` §9): what a silent, slow, endless or flooding machine may cost.

use std::collections::HashMap;
use std::io;
use std::net::IpAddr;
use std::pin::Pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll, ready};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::{Instant, sleep};

/// A handshake, and a request's head, take no longer.
pub(super) const HEAD: Duration = Duration::from_secs(5);
/// Bytes of a request's head.
pub(super) const HEAD_BYTES: usize = 16 * 1024;
/// A body that moves more slowly is given up.
pub(super) const BODY_BYTES_PER_SECOND: u64 = 1_000;
/// A connection on which nothing moves is ended.
pub(super) const IDLE: Duration = Duration::from_secs(60);
/// Every connection is ended some time: nobody keeps one for ever.
pub(super) const LIFETIME: Duration = Duration::from_secs(3600);
/// So often something is said on a stream of news, so that it is not idle.
pub(super) const KEEP_ALIVE: Duration = Duration::from_secs(20);
/// A file is read and sent in pieces of so many bytes.
pub(super) const PIECE_BYTES: u64 = 256 * 1024;
/// Bodies that are being taken in at a time.
pub(super) const BODIES: usize = 16;
/// Connections from one address: a farm behind one router has a few machines, each with two or three.
const FROM_ONE_ADDRESS: usize = 32;
/// Connections in all.
const IN_ALL: usize = 512;

/// Connections that are open, counted before anything is read from them.
#[derive(Clone, Debug, Default)]
pub(super) struct Doorway {
    open: Arc<Mutex<HashMap<IpAddr, usize>>>,
}

/// A counted connection; it counts until it is dropped.
pub(super) struct Inside {
    doorway: Doorway,
    address: IpAddr,
}

impl Doorway {
    /// Lets a connection in, if there is room.
    pub(super) fn enter(&self, address: IpAddr) -> Option<Inside> {
        let address = address.to_canonical();
        let mut open = lock(&self.open);
        let in_all: usize = open.values().sum();
        let here = open.entry(address).or_default();
        if *here >= FROM_ONE_ADDRESS || in_all >= IN_ALL {
            return None;
        }
        *here += 1;
        Some(Inside { doorway: self.clone(), address })
    }
}

impl Drop for Inside {
    fn drop(&mut self) {
        let mut open = lock(&self.doorway.open);
        if let Some(here) = open.get_mut(&self.address) {
            *here -= 1;
            if *here == 0 {
                open.remove(&self.address);
            }
        }
    }
}

/// How a connection goes.
#[derive(Clone, Debug)]
pub(super) struct Pace(Arc<Mutex<Going>>);

#[derive(Debug)]
struct Going {
    began: Instant,
    /// When bytes last moved.
    moved: Instant,
    /// Since when a request's head has been coming in.
    head_since: Option<Instant>,
    /// Requests that are being answered.
    answering: usize,
}

/// A request that is being answered; over when it is dropped.
pub(super) struct Answering(Pace);

impl Pace {
    /// A connection that begins: the first head is due.
    pub(super) fn new() -> Self {
        let now = Instant::now();
        Self(Arc::new(Mutex::new(Going { began: now, moved: now, head_since: Some(now), answering: 0 })))
    }

    /// The head of a request is there.
    pub(super) fn answering(&self) -> Answering {
        let mut going = lock(&self.0);
        going.head_since = None;
        going.answering += 1;
        Answering(self.clone())
    }

    fn came(&self) {
        let (mut going, now) = (lock(&self.0), Instant::now());
        going.moved = now;
        if going.answering == 0 {
            going.head_since.get_or_insert(now);
        }
    }

    fn went(&self) {
        lock(&self.0).moved = Instant::now();
    }

    /// When the connection is to end if nothing moves until then.
    fn ends(&self) -> Instant {
        let going = lock(&self.0);
        let due = [Some(going.began + LIFETIME), Some(going.moved + IDLE), going.head_since.map(|since| since + HEAD)];
        due.into_iter().flatten().min().unwrap_or(going.began)
    }

    /// Returns once the connection has gone on for too long, in whichever way.
    pub(super) async fn over(&self) {
        loop {
            let left = self.ends().saturating_duration_since(Instant::now());
            if left.is_zero() {
                return;
            }
            // The next head may begin at any moment.
            sleep(left.min(HEAD / 5)).await;
        }
    }
}

impl Drop for Answering {
    fn drop(&mut self) {
        lock(&self.0.0).answering -= 1;
    }
}

/// A stream whose bytes are noticed.
pub(super) struct Paced<S> {
    stream: S,
    pace: Pace,
}

impl<S> Paced<S> {
    pub(super) fn new(stream: S, pace: Pace) -> Self {
        Self { stream, pace }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Paced<S> {
    fn poll_read(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        let before = buf.filled().len();
        ready!(Pin::new(&mut self.stream).poll_read(cx, buf))?;
        if buf.filled().len() > before {
            self.pace.came();
        }
        Poll::Ready(Ok(()))
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Paced<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, buf: &[u8]) -> Poll<io::Result<usize>> {
        let n = ready!(Pin::new(&mut self.stream).poll_write(cx, buf))?;
        self.pace.went();
        Poll::Ready(Ok(n))
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

/// When a body must have come so far: it may take five seconds to begin.
pub(super) fn body_due(began: Instant, bytes: usize) -> Instant {
    began + HEAD + Duration::from_millis(bytes as u64 * 1000 / BODY_BYTES_PER_SECOND)
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn s11_one_address_cannot_take_all_places() {
        let doorway = Doorway::default();
        let (one, other) = (IpAddr::from([10, 0, 0, 1]), IpAddr::from([10, 0, 0, 2]));
        let mut inside: Vec<Inside> = std::iter::from_fn(|| doorway.enter(one)).collect();
        assert_eq!(inside.len(), FROM_ONE_ADDRESS);
        assert!(doorway.enter(other).is_some());
        inside.pop();
        assert!(doorway.enter(one).is_some());
    }

    #[test]
    fn s11_a_head_is_due_soon_a_quiet_connection_later() {
        let pace = Pace::new();
        let due = |pace: &Pace| pace.ends().saturating_duration_since(Instant::now());
        assert!(due(&pace) <= HEAD);
        let answering = pace.answering();
        assert!(due(&pace) > HEAD && due(&pace) <= IDLE);
        pace.came();
        assert!(due(&pace) > HEAD, "a body is no head");
        drop(answering);
        assert!(due(&pace) > HEAD);
        pace.came();
        assert!(due(&pace) <= HEAD);
    }
}
