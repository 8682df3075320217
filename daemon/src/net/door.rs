//! Letting a machine in: the keeper's side of a pairing over the wire (`sync.md` §11-§14).

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::Instant;

use chrono::NaiveDateTime;
use hyper::body::Bytes;
use ledger_format::keep;
use ledger_format::line::Act;
use ledger_format::mark::FullMark;
use ledger_format::members::Members;
use ledger_format::merge::{Ledger, Log};
use ledger_format::vocabulary::Capacity;
use serde::{Deserialize, Serialize};
use tokio::task::spawn_blocking;
use tracing::{info, warn};
use warp::http::StatusCode;
use warp::reply::{Reply, Response};
use warp::{Filter, Rejection};

use super::herds::lock;
use super::{Caller, Extra};
use crate::Trouble;
use crate::disk::HerdFolder;
use crate::keys::chance;
use crate::pairing::words::{self, Join, Welcome};
use crate::pairing::{Code, Gate, Hearing, Names, Paired, Refusal, Session, free_name};
use crate::seal::{Desk, seal_text};
use crate::watch::{Writer, day_in};

/// No body of a pairing is longer.
const BODY_BYTES: u64 = 512;

/// What a code was shown for, and who used it.
struct Shown {
    gate: Gate,
    began: Instant,
    folder: PathBuf,
    capacity: Capacity,
    /// Newcomers by what only both ends of their connection know; at most one a try.
    callers: HashMap<[u8; 32], At>,
    let_in: Option<LetIn>,
}

/// How far a newcomer has come.
enum At {
    Heard(Hearing),
    Proven(Paired),
}

/// Who was let in, for the person who shows the code.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LetIn {
    /// The name under which it was admitted.
    pub device: String,
    /// Who asked.
    pub by: String,
    /// Its key, 64 digits.
    pub key: String,
}

/// How it goes with the code that was shown last.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Going {
    /// Nobody has typed it yet; so many tries are left.
    Waiting(u8),
    /// Somebody was let in.
    LetIn(LetIn),
    /// It is void, and this is why.
    Void(String),
}

/// The door of a machine. It is shut until a keeper shows a code.
#[derive(Clone)]
pub struct Door {
    shown: Arc<Mutex<Option<Shown>>>,
    writer: Writer,
    clock: fn() -> NaiveDateTime,
}

impl Door {
    /// A door that is shut.
    pub fn new(writer: Writer, clock: fn() -> NaiveDateTime) -> Self {
        Self { shown: Arc::default(), writer, clock }
    }

    /// Opens it for whoever types the code. A code that was shown before is void from now on.
    pub fn open(&self, code: Code, folder: PathBuf, capacity: Capacity) {
        let (gate, callers) = (Gate::open(code, 0), HashMap::new());
        let shown = Shown { gate, began: Instant::now(), folder, capacity, callers, let_in: None };
        *lock(&self.shown) = Some(shown);
    }

    /// Shuts it: the code is void.
    pub fn shut(&self) {
        *lock(&self.shown) = None;
    }

    /// How it goes.
    pub fn going(&self) -> Going {
        let shown = lock(&self.shown);
        let Some(shown) = shown.as_ref() else { return Going::Void("no code is shown".to_owned()) };
        // Who has begun may still be showing that it has the code, at the third try too.
        let has_begun = !shown.callers.is_empty();
        match (&shown.let_in, shown.gate.closed(shown.ms())) {
            (Some(let_in), _) => Going::LetIn(let_in.clone()),
            (None, Some(Refusal::Late)) => Going::Void(Refusal::Late.to_string()),
            (None, Some(why)) if !has_begun => Going::Void(why.to_string()),
            _ => Going::Waiting(shown.gate.tries_left()),
        }
    }

    /// What newcomers may ask for.
    pub fn routes(&self) -> Extra {
        let asked = |what: &'static str| {
            warp::path("pair")
                .and(warp::path(what))
                .and(warp::path::end())
                .and(warp::post())
                .and(warp::ext::get::<Caller>())
                .and(warp::body::content_length_limit(BODY_BYTES))
                .and(warp::body::bytes())
        };
        let (first, second, third) = (self.clone(), self.clone(), self.clone());
        let hello = asked("hello").map(move |caller, body: Bytes| first.hello(caller, &body));
        let proof = asked("proof").map(move |caller, body: Bytes| second.proof(caller, &body));
        let join = asked("join").and_then(move |caller, body: Bytes| {
            let door = third.clone();
            async move {
                let joined = spawn_blocking(move || door.join(caller, &body)).await;
                Ok::<_, Rejection>(joined.unwrap_or_else(|_| refused(StatusCode::INTERNAL_SERVER_ERROR)))
            }
        });
        hello.boxed().or(proof.boxed()).unify().or(join.boxed()).unify().boxed()
    }

    fn session(&self, caller: Caller) -> Session {
        let keeper = self.writer.key.signing().verifying_key().to_bytes();
        Session { exporter: caller.exported, newcomer: caller.key.0, keeper }
    }

    fn hello(&self, caller: Caller, body: &[u8]) -> Response {
        let mut shown = lock(&self.shown);
        let Some(shown) = shown.as_mut() else { return refused(StatusCode::NOT_FOUND) };
        let Ok(chance) = chance() else { return refused(StatusCode::INTERNAL_SERVER_ERROR) };
        let message = text(body).and_then(words::read_hello).map_or_else(Vec::new, Vec::from);
        let now = shown.ms();
        shown.callers.remove(&caller.exported);
        match shown.gate.hello(self.session(caller), &message, chance, now) {
            Ok((said, hearing)) => {
                shown.callers.insert(caller.exported, At::Heard(hearing));
                words::hello(&said).into_response()
            }
            Err(why) => of(why),
        }
    }

    fn proof(&self, caller: Caller, body: &[u8]) -> Response {
        let mut shown = lock(&self.shown);
        let Some(shown) = shown.as_mut() else { return refused(StatusCode::NOT_FOUND) };
        let Some(At::Heard(hearing)) = shown.callers.remove(&caller.exported) else {
            return refused(StatusCode::NOT_FOUND);
        };
        let proof = text(body).and_then(words::read_proof).map_or_else(Vec::new, Vec::from);
        let now = shown.ms();
        match shown.gate.proof(hearing, &proof, now) {
            Ok((said, paired)) => {
                shown.callers.insert(caller.exported, At::Proven(paired));
                words::proof(&said).into_response()
            }
            Err(why) => {
                warn!(key = %caller.key, "pairing: {why}");
                of(why)
            }
        }
    }

    /// For a thread that may wait.
    fn join(&self, caller: Caller, body: &[u8]) -> Response {
        let (folder, capacity) = {
            let mut shown = lock(&self.shown);
            let Some(shown) = shown.as_mut() else { return refused(StatusCode::NOT_FOUND) };
            let Some(At::Proven(paired)) = shown.callers.remove(&caller.exported) else {
                return refused(StatusCode::NOT_FOUND);
            };
            debug_assert_eq!(paired.newcomer, caller.key.0);
            (shown.folder.clone(), shown.capacity)
        };
        let Some(join) = text(body).and_then(Join::read) else { return refused(StatusCode::FORBIDDEN) };
        match self.admit(&folder, &join, caller.key, capacity) {
            Ok(welcome) => {
                let key = caller.key.to_string();
                info!(device = welcome.device, key, herd = welcome.herd, "let in as {}", capacity.word());
                let let_in = LetIn { device: welcome.device.clone(), by: join.by, key };
                if let Some(shown) = lock(&self.shown).as_mut() {
                    shown.let_in = Some(let_in);
                }
                welcome.to_string().into_response()
            }
            Err(trouble) => {
                warn!("nobody was let in: {trouble}; to do: {}", trouble.remedy);
                refused(StatusCode::INTERNAL_SERVER_ERROR)
            }
        }
    }

    fn admit(
        &self,
        folder: &std::path::Path,
        join: &Join,
        key: FullMark,
        capacity: Capacity,
    ) -> Result<Welcome, Trouble> {
        let herd = HerdFolder::open(folder)?;
        let (about, now, log) = (herd.about()?, (self.clock)(), log_of(&herd)?);
        let open = || Trouble::new("the herd is open: nobody can be let in", "`footfold members` says what to do");
        let founder = Members::of(&log).founder().ok_or_else(open)?;
        let full = || Trouble::new(format!("no name like {} is free", join.device), "type another name there");
        let device = free_name(&join.device, &key.to_string(), &names_of(&log)).ok_or_else(full)?;
        let Writer { device: own, by, key: own_key } = &self.writer;
        let today = day_in(&about.zone, now)?;
        let desk = Desk { herd: &herd, device: own, by, key: own_key, now, today };
        let line = format!("herd admit {device} key {key} as {}", capacity.word());
        let sealed = seal_text(&desk, line.as_bytes())?;
        if sealed.kept.is_empty() {
            return Err(Trouble::new("the line that lets it in was not kept", "`footfold status` says why"));
        }
        let keeper = own.clone();
        Ok(Welcome { herd: about.herd, keeper, founder: founder.to_string(), zone: about.zone, device, capacity })
    }
}

impl Shown {
    fn ms(&self) -> u64 {
        u64::try_from(self.began.elapsed().as_millis()).unwrap_or(u64::MAX)
    }
}

fn log_of(herd: &HerdFolder) -> Result<Log, Trouble> {
    let mut ledgers = Vec::new();
    for name in herd.ledgers()?.files {
        if let Some(bytes) = herd.read(&name)? {
            ledgers.extend(Ledger::read(&name.device, name.year, keep::plain(&bytes)));
        }
    }
    Ok(Log::union(ledgers))
}

/// Every name that a head or a line speaks of.
fn names_of(log: &Log) -> Names {
    let mut names = Names::default();
    for ledger in log.ledgers() {
        names.has_key(&ledger.device, &ledger.key.to_string());
    }
    // Reading a line anew costs; few lines are about the herd.
    for id in log.in_order().filter(|id| log.text(*id).contains(" herd ")) {
        match log.body(id).act {
            Act::Admit { device, key, .. } => names.has_key(device, key),
            Act::Revoke { device, .. } | Act::Witness { device, .. } => names.is_named(device),
            _ => {}
        }
    }
    names
}

fn text(body: &[u8]) -> Option<&str> {
    std::str::from_utf8(body).ok()
}

fn of(why: Refusal) -> Response {
    refused(if why.is_void() { StatusCode::NOT_FOUND } else { StatusCode::FORBIDDEN })
}

fn refused(status: StatusCode) -> Response {
    status.into_response()
}
