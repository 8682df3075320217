//! A connection to a peer, and what is asked over it. What a peer answers is within the same limits as what it asks.

use std::error::Error as _;
use std::sync::Arc;
use std::time::Duration;

use http_body_util::{BodyExt, Full};
use hyper::body::{Bytes, Incoming};
use hyper::client::conn::http1::{self, SendRequest};
use hyper::header::HOST;
use hyper::{Request, Response};
use hyper_util::rt::TokioIo;
use ledger_format::mark::FullMark;
use rustls::ClientConfig;
use rustls::pki_types::ServerName;
use thiserror::Error;
use tokio::net::TcpStream;
use tokio::task::JoinHandle;
use tokio::time::{Instant, timeout, timeout_at};
use tokio_rustls::TlsConnector;

use super::limits::{IDLE, body_due};
use super::{EXPORTED, tls};

/// Reaching a machine and shaking hands takes no longer.
const DIAL: Duration = Duration::from_secs(10);

/// Why a connection, or what was asked over it, failed.
#[derive(Debug, Error)]
pub(super) enum Broken {
    /// Nobody answers.
    #[error("it cannot be reached: {0}")]
    Away(String),
    /// The handshake failed.
    #[error("another machine answers there, or it has another key now: {0}")]
    Stranger(String),
    /// The connection ended in the middle.
    #[error("the connection ended: {0}")]
    Ended(String),
    /// It does not answer, or too slowly.
    #[error("it is silent or too slow")]
    Slow,
    /// It sends more than is sensible.
    #[error("it sent more than expected")]
    TooMuch,
    /// It answers what makes no sense here.
    #[error("it does not hold this herd, or this machine is not admitted there")]
    NotHere,
    /// It answers what makes no sense here.
    #[error("it gave an unexpected answer: {0}")]
    Odd(String),
    /// A fault of this machine.
    #[error("{0}")]
    Here(#[from] crate::Trouble),
}

/// A connection.
pub(super) struct Line {
    sender: SendRequest<Full<Bytes>>,
    host: String,
    task: JoinHandle<()>,
    key: Option<FullMark>,
    exported: [u8; 32],
}

impl Drop for Line {
    fn drop(&mut self) {
        self.task.abort();
    }
}

impl Line {
    /// Calls an address; the verifier in `tls` knows who must answer.
    pub(super) async fn dial(address: &str, tls: &Arc<ClientConfig>) -> Result<Self, Broken> {
        timeout(DIAL, Self::dial_slowly(address, tls)).await.map_err(|_| Broken::Away("no answer".to_owned()))?
    }

    async fn dial_slowly(address: &str, tls: &Arc<ClientConfig>) -> Result<Self, Broken> {
        let stream = TcpStream::connect(address).await.map_err(|error| Broken::Away(error.to_string()))?;
        let _ = stream.set_nodelay(true);
        let ip = stream.peer_addr().map_err(|error| Broken::Away(error.to_string()))?.ip();
        let connector = TlsConnector::from(Arc::clone(tls));
        let stream = connector.connect(ServerName::IpAddress(ip.into()), stream).await;
        let stream = stream.map_err(|error| match error.get_ref().and_then(|inner| inner.downcast_ref()) {
            Some(rustls::Error::InvalidCertificate(_)) => Broken::Stranger(error.to_string()),
            _ => Broken::Away(error.to_string()),
        })?;
        let session = stream.get_ref().1;
        let key = tls::key_of(session.peer_certificates());
        let exported = session.export_keying_material([0; 32], EXPORTED, None);
        let exported = exported.map_err(|error| Broken::Away(error.to_string()))?;
        let (sender, connection) = http1::handshake(TokioIo::new(stream)).await.map_err(|error| ended(&error))?;
        let task = tokio::spawn(async move {
            let _ = connection.await;
        });
        Ok(Self { sender, host: address.to_owned(), task, key, exported })
    }

    /// The key that the other side holds.
    pub(super) fn key(&self) -> Option<FullMark> {
        self.key
    }

    /// What both ends of this session know and nobody between them.
    pub(super) fn exported(&self) -> [u8; 32] {
        self.exported
    }

    /// Whether it can be asked no more.
    pub(super) fn is_closed(&self) -> bool {
        self.sender.is_closed()
    }

    /// Asks, and gives the answer's head; its body is to be read before the next is asked.
    pub(super) async fn ask(&mut self, request: Request<Full<Bytes>>) -> Result<Response<Incoming>, Broken> {
        let (mut parts, body) = request.into_parts();
        let host = self.host.parse().map_err(|_| Broken::Odd("an address that is none".to_owned()))?;
        parts.headers.insert(HOST, host);
        let sending = async {
            self.sender.ready().await?;
            self.sender.send_request(Request::from_parts(parts, body)).await
        };
        timeout(IDLE, sending).await.map_err(|_| Broken::Slow)?.map_err(|error| ended(&error))
    }
}

/// The reason stands deep in the chain of errors.
fn ended(error: &hyper::Error) -> Broken {
    let mut reason = error.to_string();
    let mut source = error.source();
    while let Some(inner) = source {
        reason = inner.to_string();
        source = inner.source();
    }
    Broken::Ended(reason)
}

/// A body of at most so many bytes. What came of one that was cut is in `so_far`.
pub(super) async fn body(response: Response<Incoming>, most: u64, so_far: &mut Vec<u8>) -> Result<(), Broken> {
    let (began, mut body) = (Instant::now(), response.into_body());
    loop {
        let next = timeout_at(body_due(began, so_far.len()), body.frame()).await.map_err(|_| Broken::Slow)?;
        let Some(frame) = next else { return Ok(()) };
        if let Ok(piece) = frame.map_err(|error| ended(&error))?.into_data() {
            if (so_far.len() + piece.len()) as u64 > most {
                return Err(Broken::TooMuch);
            }
            so_far.extend_from_slice(&piece);
        }
    }
}

/// A stream of news.
pub(super) struct News {
    body: Incoming,
    text: Vec<u8>,
    /// The connection that it comes over.
    _line: Line,
}

/// A piece of news is a short line.
const NEWS_BYTES: usize = 4096;

impl News {
    pub(super) fn new(line: Line, response: Response<Incoming>) -> Self {
        Self { body: response.into_body(), text: Vec::new(), _line: line }
    }

    /// Waits for the next piece of news: the `ETag` that the list has now.
    pub(super) async fn next(&mut self) -> Result<String, Broken> {
        loop {
            while let Some(end) = memchr::memchr(b'\n', &self.text) {
                let line: Vec<u8> = self.text.drain(..=end).collect();
                if let Some(tag) = line.strip_prefix(b"data:") {
                    return Ok(String::from_utf8_lossy(tag).trim().to_owned());
                }
            }
            let frame = timeout(IDLE, self.body.frame()).await.map_err(|_| Broken::Slow)?;
            let frame = frame.ok_or_else(|| Broken::Ended("no more news".to_owned()))?;
            if let Ok(piece) = frame.map_err(|error| ended(&error))?.into_data() {
                self.text.extend_from_slice(&piece);
            }
            if self.text.len() > NEWS_BYTES {
                return Err(Broken::TooMuch);
            }
        }
    }
}
