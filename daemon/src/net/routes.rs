//! What may be asked for (`sync.md`, *What is asked*). Who may not read is answered as if the herd were not here.

use std::convert::Infallible;
use std::str::FromStr;
use std::sync::Arc;

use ledger_format::mark::FullMark;
use tokio::sync::mpsc;
use tokio::task::spawn_blocking;
use tokio::time::{Instant, timeout_at};
use tokio_stream::wrappers::{ReceiverStream, WatchStream};
use tokio_stream::{Stream, StreamExt};
use tracing::warn;
use warp::filters::BoxedFilter;
use warp::http::header::{
    ACCEPT_RANGES, CONTENT_ENCODING, CONTENT_LENGTH, CONTENT_RANGE, CONTENT_TYPE, ETAG, HeaderName, IF_MATCH,
    IF_NONE_MATCH, RANGE,
};
use warp::http::{HeaderMap, HeaderValue, StatusCode};
use warp::reply::{Reply, Response};
use warp::sse::Event;
use warp::{Buf, Filter, Rejection};

use super::herds::{Herds, Seen, View};
use super::limits::{KEEP_ALIVE, PIECE_BYTES, body_due};
use super::metrics::{Counts, add};
use super::take::{self, Taken};
use super::{Caller, span};
use crate::Trouble;
use crate::disk::LedgerName;
use crate::exchange::{BODY_BYTES, Refusal, Said};

/// Routes beside those of herds, such as pairing.
pub type Extra = BoxedFilter<(Response,)>;

/// All routes. What matches none is answered like a herd that is not here.
pub(super) fn routes(herds: &Arc<Herds>, extra: Option<Extra>) -> BoxedFilter<(Response,)> {
    let extra = extra.unwrap_or_else(|| warp::any().and_then(async || Err::<Response, _>(warp::reject())).boxed());
    of_herds(herds).or(extra).unify().recover(async |_: Rejection| Ok::<_, Infallible>(not_here())).unify().boxed()
}

fn of_herds(herds: &Arc<Herds>) -> BoxedFilter<(Response,)> {
    let herds = Arc::clone(herds);
    let asked = warp::path("herds")
        .and(warp::path::param::<Hash>())
        .and(warp::ext::get::<Caller>())
        .and(warp::header::headers_cloned())
        .map(move |founder: Hash, caller: Caller, headers| Request {
            herds: Arc::clone(&herds),
            founder: founder.0,
            caller,
            headers,
        })
        .boxed();
    let file = || warp::path("ledgers").and(warp::path::param::<String>()).and(warp::path::param::<String>());
    let protocol = || warp::path("protocols").and(warp::path::param::<Hash>());
    let end = warp::path::end;
    let list = asked.clone().and(warp::path("ledgers")).and(end()).and(warp::get()).then(list);
    let get = asked.clone().and(file()).and(end()).and(warp::get()).then(ledger);
    let post = asked.clone().and(file()).and(end()).and(warp::post()).and(warp::body::stream());
    let post = post.then(offered);
    let news = asked.clone().and(warp::path("news")).and(end()).and(warp::get()).then(news);
    let give = asked.clone().and(protocol()).and(end()).and(warp::get()).then(protocol_text);
    let take = asked.and(protocol()).and(end()).and(warp::put()).and(warp::body::stream());
    let take = take.then(offered_protocol);
    list.boxed()
        .or(get.boxed())
        .unify()
        .or(post.boxed())
        .unify()
        .or(news.boxed())
        .unify()
        .or(give.boxed().or(take.boxed()).unify())
        .unify()
        .boxed()
}

/// 64 digits in a path.
struct Hash(FullMark);

impl FromStr for Hash {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        FullMark::read(text).map(Self).ok_or(())
    }
}

/// Who asks for what.
struct Request {
    herds: Arc<Herds>,
    founder: FullMark,
    caller: Caller,
    headers: HeaderMap,
}

impl Request {
    /// The herd as it stands now, if the caller may read it now.
    async fn herd(&self) -> Option<(usize, Arc<View>)> {
        // No disk is asked for a stranger: so a herd that is here answers no later than one that is not.
        let (at, seen) = self.herds.seen(self.founder)?;
        if !seen.may_read(self.caller.key) {
            return None;
        }
        let view = fresh(&self.herds, at).await?;
        (view.founder == self.founder && view.may_read(self.caller.key)).then_some((at, view))
    }

    fn header(&self, name: &HeaderName) -> Option<&str> {
        self.headers.get(name)?.to_str().ok()
    }
}

pub(super) async fn fresh(herds: &Arc<Herds>, at: usize) -> Seen {
    let herds = Arc::clone(herds);
    spawn_blocking(move || herds.refresh(at)).await.ok().flatten()
}

fn not_here() -> Response {
    status(StatusCode::NOT_FOUND)
}

fn status(status: StatusCode) -> Response {
    status.into_response()
}

fn with(mut response: Response, name: HeaderName, value: &str) -> Response {
    if let Ok(value) = HeaderValue::from_str(value) {
        response.headers_mut().insert(name, value);
    }
    response
}

fn text(body: impl Into<Vec<u8>>) -> Response {
    with(body.into().into_response(), CONTENT_TYPE, "text/plain; charset=utf-8")
}

async fn list(request: Request) -> Response {
    let Some((_, view)) = request.herd().await else { return not_here() };
    let response = if request.header(&IF_NONE_MATCH) == Some(&view.tag) {
        status(StatusCode::NOT_MODIFIED)
    } else {
        text(view.body.clone())
    };
    with(response, ETAG, &view.tag)
}

/// A file's name in a path.
fn name(device: &str, year: &str) -> Option<LedgerName> {
    let is_year = year.len() == 4 && year.bytes().all(|b| b.is_ascii_digit());
    LedgerName::new(device, year.parse().ok().filter(|_| is_year)?)
}

async fn ledger(request: Request, device: String, year: String) -> Response {
    let Some((_, view)) = request.herd().await else { return not_here() };
    let Some(said) = name(&device, &year).and_then(|name| view.told(&name).cloned()) else { return not_here() };
    let range = request.header(&RANGE).and_then(span);
    let (from, to) = match range {
        Some((from, to)) => (from, to.map_or(said.length, |to| said.length.min(to.saturating_add(1)))),
        None => (0, said.length),
    };
    let tagged = |response| with(response, ETAG, &format!("\"{}\"", said.mark));
    if from >= to {
        let none = status(StatusCode::RANGE_NOT_SATISFIABLE);
        return tagged(with(none, CONTENT_RANGE, &format!("bytes */{}", said.length)));
    }
    let mut response = tagged(text(Vec::new()));
    if range.is_some() {
        *response.status_mut() = StatusCode::PARTIAL_CONTENT;
        response = with(response, CONTENT_RANGE, &format!("bytes {from}-{}/{}", to - 1, said.length));
    }
    response = with(with(response, ACCEPT_RANGES, "bytes"), CONTENT_LENGTH, &(to - from).to_string());
    let body = warp::reply::stream(pieces(view, said.name, from, to)).into_response().into_body();
    *response.body_mut() = body;
    response
}

/// The bytes piece by piece, each read once the one before is on its way.
fn pieces(view: Arc<View>, name: LedgerName, from: u64, to: u64) -> ReceiverStream<Result<Vec<u8>, Trouble>> {
    let (send, receive) = mpsc::channel(1);
    tokio::spawn(async move {
        let mut at = from;
        while at < to {
            let next = to.min(at + PIECE_BYTES);
            let (view, name) = (Arc::clone(&view), name.clone());
            let Ok(piece) = spawn_blocking(move || take::bytes(&view, &name, at, next)).await else { return };
            let is_wrong = piece.is_err();
            if send.send(piece).await.is_err() || is_wrong {
                return;
            }
            at = next;
        }
    });
    ReceiverStream::new(receive)
}

/// A body within its limits: of its bytes, and of how slowly it may come. It is never unpacked.
async fn whole_body<B: Buf>(
    request: &Request,
    body: impl Stream<Item = Result<B, warp::Error>>,
) -> Result<Vec<u8>, StatusCode> {
    if request.headers.contains_key(CONTENT_ENCODING) {
        return Err(StatusCode::UNSUPPORTED_MEDIA_TYPE);
    }
    let _room = request.herds.bodies.try_acquire().map_err(|_| StatusCode::TOO_MANY_REQUESTS)?;
    let (began, mut bytes) = (Instant::now(), Vec::new());
    let mut body = std::pin::pin!(body);
    loop {
        let next = timeout_at(body_due(began, bytes.len()), body.next()).await;
        match next.map_err(|_| StatusCode::REQUEST_TIMEOUT)? {
            None => return Ok(bytes),
            Some(Err(_)) => return Err(StatusCode::BAD_REQUEST),
            Some(Ok(mut piece)) => {
                if (bytes.len() + piece.remaining()) as u64 > BODY_BYTES {
                    return Err(StatusCode::PAYLOAD_TOO_LARGE);
                }
                while piece.has_remaining() {
                    let chunk = piece.chunk();
                    let n = chunk.len();
                    bytes.extend_from_slice(chunk);
                    piece.advance(n);
                }
            }
        }
    }
}

async fn offered<B: Buf>(
    request: Request,
    device: String,
    year: String,
    body: impl Stream<Item = Result<B, warp::Error>>,
) -> Response {
    let Some((at, view)) = request.herd().await else { return not_here() };
    let Some(name) = name(&device, &year) else { return status(StatusCode::UNPROCESSABLE_ENTITY) };
    let body = match whole_body(&request, body).await {
        Ok(body) => body,
        Err(refused) => return closing(status(refused)),
    };
    let Some((said, tail)) = statement_and_tail(&body).filter(|(said, _)| said.name == name) else {
        return status(StatusCode::UNPROCESSABLE_ENTITY);
    };
    let Some(from) = said.length.checked_sub(tail.len() as u64) else {
        return status(StatusCode::UNPROCESSABLE_ENTITY);
    };
    let thought = match (request.header(&IF_MATCH), request.header(&IF_NONE_MATCH)) {
        (Some(tag), None) => FullMark::read(tag.trim_matches('"')),
        (None, Some("*")) => None,
        _ => return status(StatusCode::PRECONDITION_REQUIRED),
    };
    let (herds, tail) = (Arc::clone(&request.herds), tail.to_vec());
    let taking = spawn_blocking(move || {
        let taken = take::offered(&herds, &view, from, thought, &tail, &said);
        count(&herds.counts, &taken);
        (taken, herds.refresh(at))
    });
    let Ok((taken, view)) = taking.await else { return status(StatusCode::INTERNAL_SERVER_ERROR) };
    answer(taken, &view, &name, &request.caller)
}

fn count(counts: &Counts, taken: &Result<Taken, Trouble>) {
    match taken {
        Ok(Taken::Kept { bytes }) => {
            add(&counts.offers_taken, 1);
            add(&counts.bytes_taken, *bytes);
        }
        Ok(Taken::Enough) => {
            add(&counts.offers_refused, 1);
            add(&counts.over_quota, 1);
        }
        _ => add(&counts.offers_refused, 1),
    }
}

/// The first line, and the bytes behind it.
fn statement_and_tail(body: &[u8]) -> Option<(Said, &[u8])> {
    let end = memchr::memchr(b'\n', body)?;
    Some((Said::read(std::str::from_utf8(&body[..end]).ok()?)?, &body[end + 1..]))
}

fn answer(taken: Result<Taken, Trouble>, view: &Seen, name: &LedgerName, caller: &Caller) -> Response {
    let ours = |code: StatusCode| match view.as_ref().and_then(|view| view.told(name)) {
        Some(said) => {
            let mut response = text(format!("{}\n", said.line()));
            *response.status_mut() = code;
            with(response, ETAG, &format!("\"{}\"", said.mark))
        }
        None => status(code),
    };
    match taken {
        Ok(Taken::Kept { .. }) => status(StatusCode::NO_CONTENT),
        Ok(Taken::OtherLength) => ours(StatusCode::PRECONDITION_FAILED),
        Ok(Taken::Refused(Refusal::DoesNotGoOn | Refusal::AnotherHistory) | Taken::Own) => {
            warn!(file = %name, key = %caller.key, "lines offered that do not go on from what is held here");
            ours(StatusCode::CONFLICT)
        }
        Ok(Taken::Refused(refusal)) => {
            warn!(file = %name, key = %caller.key, "lines offered were not taken: {refusal}");
            status(StatusCode::UNPROCESSABLE_ENTITY)
        }
        Ok(Taken::Enough) => {
            warn!(file = %name, key = %caller.key, "{}", super::ENOUGH);
            status(StatusCode::TOO_MANY_REQUESTS)
        }
        Err(trouble) => failed(&trouble),
    }
}

fn failed(trouble: &Trouble) -> Response {
    warn!("nothing was taken: {trouble}; to do: {}", trouble.remedy);
    let is_full = trouble.what.ends_with("the disk is full");
    status(if is_full { StatusCode::INSUFFICIENT_STORAGE } else { StatusCode::INTERNAL_SERVER_ERROR })
}

/// The rest of a body that is not read must not be taken for the next request.
fn closing(response: Response) -> Response {
    with(response, warp::http::header::CONNECTION, "close")
}

async fn protocol_text(request: Request, hash: Hash) -> Response {
    let Some((_, view)) = request.herd().await else { return not_here() };
    if !view.holding.protocols.contains(&hash.0) {
        return not_here();
    }
    match spawn_blocking(move || take::protocol_text(&view, hash.0)).await {
        Ok(Ok(Some(bytes))) => text(bytes),
        _ => not_here(),
    }
}

async fn offered_protocol<B: Buf>(
    request: Request,
    hash: Hash,
    body: impl Stream<Item = Result<B, warp::Error>>,
) -> Response {
    let Some((at, view)) = request.herd().await else { return not_here() };
    let body = match whole_body(&request, body).await {
        Ok(body) => body,
        Err(refused) => return closing(status(refused)),
    };
    let herds = Arc::clone(&request.herds);
    let taking = spawn_blocking(move || {
        let taken = take::protocol(&herds, &view, hash.0, &body);
        herds.refresh(at);
        taken
    });
    match taking.await {
        Ok(Ok(true)) => status(StatusCode::NO_CONTENT),
        Ok(Ok(false)) => status(StatusCode::UNPROCESSABLE_ENTITY),
        Ok(Err(trouble)) => failed(&trouble),
        Err(_) => status(StatusCode::INTERNAL_SERVER_ERROR),
    }
}

/// The list's `ETag`, now and each time that it changes, for as long as the caller may read.
async fn news(request: Request) -> Response {
    let Some((at, view)) = request.herd().await else { return not_here() };
    let (founder, caller, mut last) = (view.founder, request.caller.key, String::new());
    let views = WatchStream::new(request.herds.watch(at));
    let may = move |view: &Seen| view.as_ref().is_some_and(|view| view.founder == founder && view.may_read(caller));
    let tags = views.take_while(may).filter_map(move |view| {
        let tag = view?.tag.clone();
        (tag != last).then(|| {
            last.clone_from(&tag);
            Ok::<_, Infallible>(Event::default().data(tag))
        })
    });
    warp::sse::reply(warp::sse::keep_alive().interval(KEEP_ALIVE).stream(tags)).into_response()
}
