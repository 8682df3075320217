//! Calling peers: each on its own, so that one that is away, silent or slow holds up nobody.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use http_body_util::Full;
use hyper::body::{Bytes, Incoming};
use hyper::header::{IF_MATCH, IF_NONE_MATCH, RANGE};
use hyper::{Method, Request, Response, StatusCode};
use ledger_format::mark::FullMark;
use rustls::ClientConfig;
use tokio::task::{JoinHandle, spawn_blocking};
use tokio::time::{Instant, sleep};
use tracing::{debug, info, warn};

use super::herds::{Herds, View};
use super::line::{Broken, Line, News, body};
use super::peers::{self, Peer};
use super::routes::fresh;
use super::take::{self, Taken};
use super::tls::{self, Expect};
use crate::Trouble;
use crate::disk::{HerdFolder, LedgerName};
use crate::exchange::{BODY_BYTES, Intake, List, Move, Refusal, Said, compare};
use crate::states;

/// How often the file of peers is looked at.
const PEERS: Duration = Duration::from_secs(2);
/// A peer that cannot be reached is called again after this, then after twice as long, up to the most.
const AGAIN: Duration = Duration::from_secs(1);
const AGAIN_AT_MOST: Duration = Duration::from_secs(60);
/// Without news the list is asked for as often as this all the same.
const QUIET: Duration = Duration::from_secs(300);
/// Room for a statement in a body.
const STATEMENT_BYTES: u64 = 1_000;
/// Statements of one file that are offered in a row.
const STEPS: usize = 64;

/// Keeps a caller for each peer in the file, for ever.
pub(super) async fn call_all(config: PathBuf, herds: Arc<Herds>) {
    let mut calls: BTreeMap<Peer, JoinHandle<()>> = BTreeMap::new();
    let mut told: Option<Trouble> = None;
    loop {
        let place = config.clone();
        match spawn_blocking(move || peers::all(&place)).await {
            Ok(Ok(all)) => {
                told = None;
                let all: BTreeSet<Peer> = all.into_iter().filter(|peer| peer.key != own(&herds)).collect();
                calls.retain(|peer, call| {
                    all.contains(peer) || {
                        call.abort();
                        false
                    }
                });
                for peer in all {
                    let call = || tokio::spawn(keep_calling(peer.clone(), Arc::clone(&herds)));
                    calls.entry(peer.clone()).or_insert_with(call);
                }
            }
            Ok(Err(trouble)) if told.as_ref() != Some(&trouble) => {
                warn!("the peers cannot be read: {trouble}; to do: {}", trouble.remedy);
                told = Some(trouble);
            }
            _ => {}
        }
        sleep(PEERS).await;
    }
}

fn own(herds: &Herds) -> FullMark {
    FullMark(herds.key.signing().verifying_key().to_bytes())
}

async fn keep_calling(peer: Peer, herds: Arc<Herds>) {
    let tls = match tls::client(&herds.key, Expect::Key(peer.key)) {
        Ok(tls) => tls,
        Err(trouble) => return warn!("{trouble}; to do: {}", trouble.remedy),
    };
    let mut call =
        Call { peer, herds, tls, line: None, coming: BTreeMap::new(), refused: BTreeSet::new(), heard: None };
    let (mut wait, mut last) = (AGAIN, String::new());
    loop {
        let began = Instant::now();
        let Err(broken) = call.converse().await else { continue };
        call.line = None;
        if broken.to_string() != last {
            last = broken.to_string();
            info!(peer = call.peer.device, address = call.peer.address, "{broken}");
        }
        // Who was there for a while is likely there again soon.
        wait = if began.elapsed() > AGAIN_AT_MOST { AGAIN } else { wait };
        sleep(wait).await;
        wait = (wait * 2).min(AGAIN_AT_MOST);
    }
}

/// What a peer told last.
struct Heard {
    tag: String,
    list: List,
}

struct Call {
    peer: Peer,
    herds: Arc<Herds>,
    tls: Arc<ClientConfig>,
    line: Option<Line>,
    /// Tails that were cut.
    coming: BTreeMap<LedgerName, Intake>,
    /// Statements whose tails did not hold: not asked for again from this peer.
    refused: BTreeSet<String>,
    heard: Option<Heard>,
}

impl Call {
    /// Exchanges what there is, then waits for news here or there. Ends only with what broke.
    async fn converse(&mut self) -> Result<(), Broken> {
        let at = loop {
            match self.herds.seen(self.peer.herd) {
                Some((at, _)) => break at,
                None => sleep(AGAIN).await,
            }
        };
        let mut views = self.herds.watch(at);
        let mut news: Option<News> = None;
        loop {
            let view = fresh(&self.herds, at).await.filter(|view| view.founder == self.peer.herd);
            let Some(view) = view else {
                sleep(AGAIN).await;
                continue;
            };
            views.mark_unchanged();
            self.round(at, &view).await?;
            if news.is_none() {
                let mut line = Line::dial(&self.peer.address, &self.tls).await?;
                let response = line.ask(self.request(Method::GET, "news")?).await?;
                expect(&response, StatusCode::OK)?;
                news = Some(News::new(line, response));
                info!(peer = self.peer.device, herd = view.herd, "in touch");
            }
            let Some(stream) = &mut news else { continue };
            let known = self.heard.as_ref().map(|heard| heard.tag.clone());
            tokio::select! {
                tag = stream.next() => {
                    let mut tag = tag?;
                    while Some(&tag) == known.as_ref() {
                        tokio::select! {
                            next = stream.next() => tag = next?,
                            changed = views.changed() => { changed.map_err(|_| Broken::Slow)?; break }
                            () = sleep(QUIET) => break,
                        }
                    }
                }
                changed = views.changed() => changed.map_err(|_| Broken::Slow)?,
                () = sleep(QUIET) => {}
            }
        }
    }

    /// Asks for the list, then for what is lacking here, then offers what is lacking there.
    async fn round(&mut self, at: usize, view: &Arc<View>) -> Result<(), Broken> {
        self.ask_list(&view.herd).await?;
        let Some(heard) = &self.heard else { return Ok(()) };
        let (moves, mut has_changed) = (compare(&view.holding, &heard.list), false);
        for step in moves {
            has_changed |= self.step(view, step).await?;
        }
        if has_changed {
            fresh(&self.herds, at).await;
        }
        Ok(())
    }

    /// Says whether anything was taken.
    async fn step(&mut self, view: &Arc<View>, step: Move) -> Result<bool, Broken> {
        match step {
            Move::Ask { said, .. } | Move::Look(said) if self.refused.contains(said.line()) => Ok(false),
            Move::Ask { from, said } => self.ask_tail(view, from, said).await,
            Move::Look(said) => self.look(view, said).await,
            Move::OwnIsLonger(said) => self.ask_own(view, said).await,
            Move::Offer { name, theirs } => self.offer(view, &name, theirs).await.map(|()| false),
            Move::AskProtocol(hash) => self.ask_protocol(view, hash).await,
            Move::OfferProtocol(hash) => self.offer_protocol(view, hash).await.map(|()| false),
        }
    }

    fn request(&self, method: Method, what: &str) -> Result<Request<Full<Bytes>>, Broken> {
        self.request_with(method, what, &[], Vec::new())
    }

    fn request_with(
        &self,
        method: Method,
        what: &str,
        headers: &[(hyper::header::HeaderName, String)],
        body: Vec<u8>,
    ) -> Result<Request<Full<Bytes>>, Broken> {
        let mut request = Request::builder().method(method).uri(format!("/herds/{}/{what}", self.peer.herd));
        for (name, value) in headers {
            request = request.header(name, value);
        }
        request.body(Full::from(body)).map_err(|error| Broken::Odd(error.to_string()))
    }

    async fn ask(&mut self, request: Request<Full<Bytes>>) -> Result<Response<Incoming>, Broken> {
        if self.line.as_ref().is_none_or(Line::is_closed) {
            self.line = Some(Line::dial(&self.peer.address, &self.tls).await?);
        }
        match &mut self.line {
            Some(line) => line.ask(request).await,
            None => Err(Broken::Slow),
        }
    }

    async fn ask_list(&mut self, herd: &str) -> Result<(), Broken> {
        let known = self.heard.iter().map(|heard| (IF_NONE_MATCH, heard.tag.clone())).collect::<Vec<_>>();
        let response = self.ask(self.request_with(Method::GET, "ledgers", &known, Vec::new())?).await?;
        if response.status() == StatusCode::NOT_MODIFIED {
            return body(response, 0, &mut Vec::new()).await;
        }
        expect(&response, StatusCode::OK)?;
        let tag = response.headers().get("etag").and_then(|tag| tag.to_str().ok()).unwrap_or_default().to_owned();
        let mut text = Vec::new();
        body(response, BODY_BYTES, &mut text).await?;
        self.heard = Some(Heard { tag, list: List::read(&String::from_utf8_lossy(&text), herd) });
        Ok(())
    }

    /// Goes on from where it was cut, and judges once all has come.
    async fn ask_tail(&mut self, view: &Arc<View>, from: u64, said: Said) -> Result<bool, Broken> {
        let known = self.coming.remove(&said.name).filter(|coming| coming.fits(from, &said));
        let mut coming = known.unwrap_or_else(|| Intake::new(from, said.clone()));
        let came = self.ask_bytes(&mut coming).await;
        if let Err(broken) = came {
            self.coming.insert(said.name.clone(), coming);
            return Err(broken);
        }
        let (herds, view_here, of) = (Arc::clone(&self.herds), Arc::clone(view), said.clone());
        let taken = blocking(move || take::tail(&herds, &view_here, from, coming.bytes(), &of)).await?;
        if matches!(taken, Taken::Refused(Refusal::DoesNotGoOn)) {
            return self.ask_whole(view, said).await;
        }
        Ok(self.tell(&taken, &said))
    }

    /// The other holds more of this machine's own file: it was set back to a backup, or there are two of it.
    async fn ask_own(&mut self, view: &Arc<View>, said: Said) -> Result<bool, Broken> {
        let (view_here, of) = (Arc::clone(view), said.clone());
        if blocking(move || take::has_fork(&view_here, &of)).await? {
            return Ok(false);
        }
        let from = view.holding.files.get(&said.name).map_or(0, |held| held.length);
        self.ask_tail(view, from, said).await
    }

    /// Asks for what is still wanted.
    async fn ask_bytes(&mut self, coming: &mut Intake) -> Result<(), Broken> {
        let name = coming.said().name.clone();
        while let Some(range) = coming.wants() {
            let bytes = (RANGE, format!("bytes={}-{}", range.start, range.end - 1));
            let what = format!("ledgers/{}/{:04}", name.device, name.year);
            let response = self.ask(self.request_with(Method::GET, &what, &[bytes], Vec::new())?).await?;
            expect(&response, StatusCode::PARTIAL_CONTENT)?;
            let mut piece = Vec::new();
            let ended = body(response, range.end - range.start, &mut piece).await;
            coming.put(range.start, &piece).map_err(|_| Broken::TooMuch)?;
            ended?;
            if piece.is_empty() {
                return Err(Broken::Odd("no bytes".to_owned()));
            }
        }
        Ok(())
    }

    /// What does not go on from here is damage or another history: the whole file tells.
    async fn ask_whole(&mut self, view: &Arc<View>, said: Said) -> Result<bool, Broken> {
        let (view_here, of) = (Arc::clone(view), said.clone());
        if blocking(move || take::has_fork(&view_here, &of)).await? {
            return Ok(false);
        }
        let mut whole = Intake::new(0, said.clone());
        self.ask_bytes(&mut whole).await?;
        let (herds, view, of) = (Arc::clone(&self.herds), Arc::clone(view), said.clone());
        let taken = blocking(move || take::whole(&herds, &view, whole.bytes(), &of)).await?;
        Ok(self.tell(&taken, &said))
    }

    /// As much is held here: the statement is kept, or proves another history.
    async fn look(&mut self, view: &Arc<View>, said: Said) -> Result<bool, Broken> {
        let (herds, view_here, of) = (Arc::clone(&self.herds), Arc::clone(view), said.clone());
        let taken = blocking(move || take::tail(&herds, &view_here, of.length, &[], &of)).await?;
        if matches!(taken, Taken::Refused(Refusal::AnotherHistory)) {
            return self.ask_whole(view, said).await;
        }
        Ok(self.tell(&taken, &said))
    }

    /// Tells a person; says whether the herd changed here.
    fn tell(&mut self, taken: &Taken, said: &Said) -> bool {
        let (peer, file) = (&self.peer.device, &said.name);
        match taken {
            Taken::Kept { bytes } => {
                if *bytes > 0 {
                    info!(peer, %file, bytes, "lines came");
                }
                return true;
            }
            Taken::OtherLength => debug!(peer, %file, "changed meanwhile"),
            Taken::Own => {
                warn!(peer, %file, "it holds more of this machine's own file: kept in .footfold/forks, to be met");
            }
            Taken::Enough => warn!(peer, %file, "{}", super::ENOUGH),
            Taken::Refused(Refusal::AnotherHistory) => {
                warn!(peer, %file, "another history: nothing of it was merged; it is kept in .footfold/forks");
                self.refused.insert(said.line().to_owned());
            }
            Taken::Refused(refusal) => {
                warn!(peer, %file, "nothing was taken of what it holds: {refusal}");
                self.refused.insert(said.line().to_owned());
            }
        }
        false
    }

    /// Offers what lies behind what the other told, in as many steps as bodies need.
    async fn offer(&mut self, view: &Arc<View>, name: &LedgerName, mut theirs: Option<Said>) -> Result<(), Broken> {
        for _ in 0..STEPS {
            let (view_here, of) = (Arc::clone(view), name.clone());
            let from = theirs.as_ref().map_or(0, |said| said.length);
            let Some((said, tail)) = blocking(move || next_step(&view_here, &of, from)).await? else { return Ok(()) };
            let thought = match &theirs {
                Some(theirs) => (IF_MATCH, format!("\"{}\"", theirs.mark)),
                None => (IF_NONE_MATCH, "*".to_owned()),
            };
            let bytes = [said.line().as_bytes(), b"\n", &tail].concat();
            let what = format!("ledgers/{}/{:04}", name.device, name.year);
            let response = self.ask(self.request_with(Method::POST, &what, &[thought], bytes)?).await?;
            let (status, mut text) = (response.status(), Vec::new());
            body(response, STATEMENT_BYTES, &mut text).await?;
            let answered = std::str::from_utf8(&text).ok().and_then(|line| Said::read(line.trim_end()));
            match status {
                StatusCode::NO_CONTENT => theirs = Some(said),
                StatusCode::PRECONDITION_FAILED if answered != theirs && answered.is_some() => theirs = answered,
                StatusCode::PRECONDITION_FAILED => return Ok(()),
                StatusCode::NOT_FOUND => return Err(Broken::NotHere),
                _ => {
                    warn!(peer = self.peer.device, file = %name, "what was offered was not taken: {status}");
                    return Ok(());
                }
            }
        }
        Ok(())
    }

    async fn ask_protocol(&mut self, view: &Arc<View>, hash: FullMark) -> Result<bool, Broken> {
        let response = self.ask(self.request(Method::GET, &format!("protocols/{hash}"))?).await?;
        expect(&response, StatusCode::OK)?;
        let mut text = Vec::new();
        body(response, BODY_BYTES, &mut text).await?;
        let (herds, view) = (Arc::clone(&self.herds), Arc::clone(view));
        let is_taken = blocking(move || take::protocol(&herds, &view, hash, &text)).await?;
        if !is_taken {
            warn!(peer = self.peer.device, "a protocol that is not what its name says was not taken");
        }
        Ok(is_taken)
    }

    async fn offer_protocol(&mut self, view: &Arc<View>, hash: FullMark) -> Result<(), Broken> {
        let view = Arc::clone(view);
        let Some(text) = blocking(move || take::protocol_text(&view, hash)).await? else { return Ok(()) };
        let request = self.request_with(Method::PUT, &format!("protocols/{hash}"), &[], text)?;
        let response = self.ask(request).await?;
        body(response, STATEMENT_BYTES, &mut Vec::new()).await
    }
}

/// The statement that leads furthest from there in one body, and the bytes up to it.
pub(super) fn next_step(view: &View, name: &LedgerName, from: u64) -> Result<Option<(Said, Vec<u8>)>, Trouble> {
    let Some(told) = view.told(name).filter(|told| told.length > from) else { return Ok(None) };
    let fits = |said: &Said| said.length > from && said.length - from <= BODY_BYTES - STATEMENT_BYTES;
    let said = if fits(told) {
        Some(told.clone())
    } else {
        let herd = HerdFolder::open(&view.folder)?;
        let lines = states::lines(&herd, name)?;
        lines.iter().filter_map(|line| Said::read(line)).filter(fits).max_by_key(|said| said.length)
    };
    let Some(said) = said else { return Ok(None) };
    let tail = take::bytes(view, name, from, said.length)?;
    Ok(Some((said, tail)))
}

fn expect(response: &Response<Incoming>, expected: StatusCode) -> Result<(), Broken> {
    match response.status() {
        status if status == expected => Ok(()),
        StatusCode::NOT_FOUND => Err(Broken::NotHere),
        status => Err(Broken::Odd(status.to_string())),
    }
}

async fn blocking<T: Send + 'static>(work: impl FnOnce() -> Result<T, Trouble> + Send + 'static) -> Result<T, Broken> {
    let ended = |_| Broken::Ended("the work here failed".to_owned());
    spawn_blocking(work).await.map_err(ended)?.map_err(Broken::Here)
}
