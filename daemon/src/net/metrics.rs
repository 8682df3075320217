//! Figures of a machine that serves many herds, in the open text format for metrics (`OpenMetrics` 1.0). They name no
//! herd and no device: who reads them need not be let in anywhere.

use std::convert::Infallible;
use std::fmt::Write;
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use http_body_util::Full;
use hyper::body::{Bytes, Incoming};
use hyper::header::CONTENT_TYPE;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper::{Request, Response, StatusCode};
use hyper_util::rt::TokioIo;
use tokio::time::timeout;

use super::herds::Herds;
use super::server;

/// One asks, is answered, and goes.
const ANSWERED_WITHIN: Duration = Duration::from_secs(5);
const FORMAT: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// What is counted since the start.
#[derive(Debug, Default)]
pub(super) struct Counts {
    pub(super) connections: AtomicU64,
    pub(super) turned_away: AtomicU64,
    pub(super) open: AtomicU64,
    pub(super) bytes_taken: AtomicU64,
    pub(super) offers_taken: AtomicU64,
    pub(super) offers_refused: AtomicU64,
    pub(super) over_quota: AtomicU64,
}

pub(super) fn add(count: &AtomicU64, more: u64) {
    count.fetch_add(more, Ordering::Relaxed);
}

/// A connection that is counted as open until this is dropped.
pub(super) struct Open<'a>(&'a Counts);

impl Counts {
    pub(super) fn opened(&self) -> Open<'_> {
        add(&self.connections, 1);
        add(&self.open, 1);
        Open(self)
    }
}

impl Drop for Open<'_> {
    fn drop(&mut self) {
        self.0.open.fetch_sub(1, Ordering::Relaxed);
    }
}

/// Answers for ever, to whoever can reach the address: choose one of the machine's own.
pub(super) async fn listen(address: SocketAddr, herds: Arc<Herds>) {
    let listener = server::open(address, "figures can be read").await;
    loop {
        let Ok((stream, _)) = listener.accept().await else {
            tokio::time::sleep(Duration::from_millis(200)).await;
            continue;
        };
        let answer = service_fn(|request: Request<Incoming>| {
            let response = respond(request.uri().path(), &herds);
            async move { Ok::<_, Infallible>(response) }
        });
        let mut builder = http1::Builder::new();
        let connection =
            builder.header_read_timeout(None).keep_alive(false).serve_connection(TokioIo::new(stream), answer);
        let _ = timeout(ANSWERED_WITHIN, connection).await;
    }
}

fn respond(path: &str, herds: &Herds) -> Response<Full<Bytes>> {
    let is_asked = path == "/metrics";
    let mut response = Response::new(Full::from(if is_asked { text(herds) } else { String::new() }));
    if !is_asked {
        *response.status_mut() = StatusCode::NOT_FOUND;
    }
    response.headers_mut().insert(CONTENT_TYPE, hyper::header::HeaderValue::from_static(FORMAT));
    response
}

fn text(herds: &Herds) -> String {
    let (shared, files, bytes) = herds.held();
    let counts = &herds.counts;
    let read = |count: &AtomicU64| count.load(Ordering::Relaxed);
    let mut text = String::new();
    let rows: [(&str, &str, &str, u64); 11] = [
        ("herds", "gauge", "Herd folders that are served.", herds.len() as u64),
        ("herds_shared", "gauge", "Of them, herds that others may ask for.", shared),
        ("ledgers", "gauge", "Ledger files held in these.", files),
        ("ledger_bytes", "gauge", "Bytes of these.", bytes),
        ("connections_open", "gauge", "Connections that are open.", read(&counts.open)),
        ("connections", "counter", "Connections let in.", read(&counts.connections)),
        ("connections_turned_away", "counter", "Connections for which there was no room.", read(&counts.turned_away)),
        ("offers_taken", "counter", "Offers of lines that were taken.", read(&counts.offers_taken)),
        ("offers_refused", "counter", "Offers of lines that were not taken.", read(&counts.offers_refused)),
        ("offers_over_quota", "counter", "Of them, beyond what is taken in a day.", read(&counts.over_quota)),
        ("taken_bytes", "counter", "Bytes of lines taken.", read(&counts.bytes_taken)),
    ];
    for (name, kind, help, value) in rows {
        let total = if kind == "counter" { "_total" } else { "" };
        let _ = writeln!(text, "# TYPE footfold_{name} {kind}\n# HELP footfold_{name} {help}");
        let _ = writeln!(text, "footfold_{name}{total} {value}");
    }
    text + "# EOF\n"
}
