//! The listener: one's own loop, so that every limit holds before, in and after TLS.

use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use hyper::body::{Body, Bytes, Frame, Incoming, SizeHint};
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::TokioIo;
use hyper_util::service::TowerToHyperService;
use rustls::ServerConfig;
use tokio::net::{TcpListener, TcpStream};
use tokio::time::{sleep, timeout};
use tokio_rustls::TlsAcceptor;
use tracing::{debug, info, warn};
use warp::filters::BoxedFilter;
use warp::http::{Request, Response};

use super::herds::Herds;
use super::limits::{Answering, Doorway, HEAD, HEAD_BYTES, Pace, Paced};
use super::metrics::add;
use super::{Caller, EXPORTED, tls};

/// After a failure to open the port, or to take a connection, it is tried again.
const AGAIN: Duration = Duration::from_secs(2);

/// Listens for ever.
pub(super) async fn listen(
    address: SocketAddr,
    tls: Arc<ServerConfig>,
    herds: Arc<Herds>,
    routes: BoxedFilter<(warp::reply::Response,)>,
) {
    let listener = open(address, "others may call").await;
    let (acceptor, doorway) = (TlsAcceptor::from(tls), Doorway::default());
    loop {
        match listener.accept().await {
            Ok((stream, from)) => {
                let Some(inside) = doorway.enter(from.ip()) else {
                    add(&herds.counts.turned_away, 1);
                    debug!(%from, "too many connections: not let in");
                    continue;
                };
                let (acceptor, routes, herds) = (acceptor.clone(), routes.clone(), Arc::clone(&herds));
                tokio::spawn(async move {
                    let _open = herds.counts.opened();
                    serve(stream, from, &acceptor, routes).await;
                    drop(inside);
                });
            }
            Err(error) => {
                // Out of handles, most likely: no reason to ask again at once.
                debug!("a connection failed: {error}");
                sleep(Duration::from_millis(200)).await;
            }
        }
    }
}

/// Opens a port, again and again until it goes; says so.
pub(super) async fn open(address: SocketAddr, opened: &str) -> TcpListener {
    let mut is_told = false;
    loop {
        match TcpListener::bind(address).await {
            Ok(listener) => {
                let address = listener.local_addr().unwrap_or(address);
                info!(%address, "{opened}");
                return listener;
            }
            Err(error) if !is_told => {
                warn!(%address, "nobody can call here: {error}; to do: change the address in the settings, or end what else listens there");
                is_told = true;
            }
            Err(_) => {}
        }
        sleep(AGAIN).await;
    }
}

async fn serve(
    stream: TcpStream,
    from: SocketAddr,
    acceptor: &TlsAcceptor,
    routes: BoxedFilter<(warp::reply::Response,)>,
) {
    let _ = stream.set_nodelay(true);
    let stream = match timeout(HEAD, acceptor.accept(stream)).await {
        Ok(Ok(stream)) => stream,
        Ok(Err(error)) => return debug!(%from, "no connection: {error}"),
        Err(_) => return debug!(%from, "no connection: too slow"),
    };
    let session = stream.get_ref().1;
    let exported = session.export_keying_material([0; 32], EXPORTED, None);
    let (Some(key), Ok(exported)) = (tls::key_of(session.peer_certificates()), exported) else { return };
    let (caller, pace) = (Caller { key, exported }, Pace::new());
    let service = TowerToHyperService::new(warp::service(routes));
    let answer = service_fn(|mut request: Request<Incoming>| {
        let answering = pace.answering();
        request.extensions_mut().insert(caller);
        let answer = service.call(request);
        async move { answer.await.map(|response: Response<_>| response.map(|body| Noticed { body, _answering: answering })) }
    });
    let mut builder = http1::Builder::new();
    // The time of a head is kept by the pace: hyper's would count the quiet before it too.
    builder.header_read_timeout(None).max_buf_size(HEAD_BYTES).max_headers(32).half_close(false);
    let connection = builder.serve_connection(TokioIo::new(Paced::new(stream, pace.clone())), answer);
    tokio::select! {
        ended = connection => {
            if let Err(error) = ended {
                debug!(%from, "a connection ended: {error}");
            }
        }
        () = pace.over() => debug!(%from, "a connection was ended: too quiet, too slow or too long"),
    }
}

/// A body that says when it is done with.
struct Noticed<B> {
    body: B,
    _answering: Answering,
}

impl<B: Body<Data = Bytes> + Unpin> Body for Noticed<B> {
    type Data = Bytes;
    type Error = B::Error;

    fn poll_frame(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, B::Error>>> {
        Pin::new(&mut self.body).poll_frame(cx)
    }

    fn is_end_stream(&self) -> bool {
        self.body.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.body.size_hint()
    }
}
