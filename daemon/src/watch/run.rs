//! The daemon: one thread, one loop, until it is told to end.

use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::{Duration, Instant};

use chrono::NaiveDateTime;
use ledger_format::line::utc_text;
use ledger_format::vocabulary::Capacity;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{UnixListener, UnixStream};
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::Semaphore;
use tokio::task::LocalSet;
use tokio::time::{sleep, timeout};
use tracing::{debug, error, info, warn};

use super::hints::Hints;
use super::keeper::{Keeper, Moment, ledgers_of};
use super::known::{self, Asked};
use super::live::Live;
use super::report::{DaemonRow, HerdRow, Status, TroubleRow, worst_first};
use super::socket::{self, EACH_WAY, Listening, Pair, REQUEST_BYTES, Reply, Request, What};
use super::{Setup, Show, Writer, day_in};
use crate::Trouble;
use crate::disk::HerdFolder;
use crate::net::{self, Door, Net};
use crate::pairing::Code;

/// Connections answered side by side; more wait their turn.
const TOGETHER: usize = 16;
/// Events come in swarms; they are looked into together.
const SWARM: Duration = Duration::from_millis(50);
/// With hundreds of herds to look at, those who ask have their turn in between.
const AT_A_STRETCH: Duration = Duration::from_millis(200);

/// Watches until it is told to end.
pub fn run(setup: Setup) -> Result<(), Trouble> {
    let made = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = made.map_err(|e| Trouble::io("start the daemon", Path::new("."), &e))?;
    LocalSet::new().block_on(&runtime, serve(setup))
}

struct Daemon {
    setup: Setup,
    writer: Option<Writer>,
    keepers: Vec<Keeper>,
    hints: Hints,
    live: Live,
    net: Option<Net>,
    door: Option<Door>,
    began: Instant,
    since: NaiveDateTime,
    answered: u64,
}

async fn serve(setup: Setup) -> Result<(), Trouble> {
    let failed = |e: std::io::Error| Trouble::io("listen to signals", Path::new("."), &e);
    let mut ended = signal(SignalKind::terminate()).map_err(failed)?;
    let mut stopped = signal(SignalKind::interrupt()).map_err(failed)?;
    let listening = open_socket(&setup);
    let listener = listening.as_ref().and_then(|listening| to_tokio(listening).ok());
    let daemon = Rc::new(RefCell::new(Daemon::new(setup)));
    let bell = daemon.borrow().hints.bell();
    let room = Rc::new(Semaphore::new(TOGETHER));
    loop {
        let wait = daemon.borrow_mut().turn();
        tokio::select! {
            () = bell.notified() => sleep(SWARM).await,
            () = sleep(wait) => {}
            stream = next(listener.as_ref()) => answer_apart(stream, &daemon, &room),
            _ = ended.recv() => break,
            _ = stopped.recv() => break,
        }
    }
    daemon.borrow_mut().end();
    Ok(())
}

/// Other machines are called and may call; without a key there is nobody to be.
fn start_net(setup: &Setup, writer: Option<&Writer>, door: Option<&Door>) -> Option<Net> {
    let writer = writer?;
    let net = Net::start(net::Setup {
        listen: setup.listen,
        metrics: setup.metrics,
        config: setup.config.clone(),
        folders: setup.folders.clone(),
        device: Some(writer.device.clone()),
        key: writer.key.clone(),
        clock: setup.clock,
        extra: door.map(Door::routes),
    });
    net.inspect_err(|trouble| warn!("nothing is exchanged with others: {trouble}; to do: {}", trouble.remedy)).ok()
}

fn open_socket(setup: &Setup) -> Option<Listening> {
    match socket::listen(setup.socket.as_deref()?) {
        Ok(listening) => Some(listening),
        Err(trouble) => {
            warn!("no commands are answered: {trouble}; to do: {}", trouble.remedy);
            None
        }
    }
}

fn to_tokio(listening: &Listening) -> std::io::Result<UnixListener> {
    UnixListener::from_std(listening.listener.try_clone()?)
}

async fn next(listener: Option<&UnixListener>) -> Option<UnixStream> {
    match listener {
        Some(listener) => match listener.accept().await {
            Ok((stream, _)) => Some(stream),
            Err(error) => {
                // Out of handles, most likely: no reason to ask again at once.
                debug!("a connection failed: {error}");
                sleep(Duration::from_millis(200)).await;
                None
            }
        },
        None => std::future::pending().await,
    }
}

/// Each connection on its own, so that a slow one holds up nobody.
fn answer_apart(stream: Option<UnixStream>, daemon: &Rc<RefCell<Daemon>>, room: &Rc<Semaphore>) {
    let Some(stream) = stream else { return };
    let (daemon, room) = (Rc::clone(daemon), Rc::clone(room));
    tokio::task::spawn_local(async move {
        let Ok(_place) = room.acquire().await else { return };
        if let Err(error) = converse(stream, &daemon).await {
            debug!("a request was not answered: {error}");
        }
    });
}

async fn converse(mut stream: UnixStream, daemon: &RefCell<Daemon>) -> std::io::Result<()> {
    let request = timeout(EACH_WAY, read_request(&mut stream)).await??;
    let reply = match serde_json::from_slice::<Request>(&request) {
        Ok(request) => daemon.borrow_mut().reply(request),
        Err(_) => Reply::Declined("the request is not understood".to_owned()),
    };
    let bytes = serde_json::to_vec(&reply)?;
    timeout(EACH_WAY, stream.write_all(&bytes)).await??;
    stream.shutdown().await
}

async fn read_request(stream: &mut UnixStream) -> std::io::Result<Vec<u8>> {
    let (mut request, mut piece) = (Vec::new(), [0; 4096]);
    loop {
        let n = stream.read(&mut piece).await?;
        request.extend_from_slice(&piece[..n]);
        if n == 0 || request.ends_with(b"\n") {
            return Ok(request);
        }
        if request.len() > REQUEST_BYTES {
            return Err(std::io::Error::other("a request longer than allowed"));
        }
    }
}

impl Daemon {
    fn new(setup: Setup) -> Self {
        let writer = match &setup.writer {
            Ok(writer) => Some(writer.clone()),
            Err(trouble) => {
                error!("nothing is kept: {trouble}; to do: {}", trouble.remedy);
                None
            }
        };
        let folders = setup.folders.iter();
        let mut keepers: Vec<Keeper> = folders.map(|path| Keeper::new(path.clone(), setup.settle_ms)).collect();
        for keeper in &mut keepers {
            keeper.polls = !setup.is_native;
        }
        let hints = Hints::new(keepers.len(), setup.is_native);
        let since = (setup.clock)();
        let door = writer.clone().filter(|_| setup.listen.is_some()).map(|writer| Door::new(writer, setup.clock));
        let net = start_net(&setup, writer.as_ref(), door.as_ref());
        Self {
            writer,
            keepers,
            hints,
            live: Live::default(),
            net,
            door,
            began: Instant::now(),
            since,
            answered: 0,
            setup,
        }
    }

    /// The clock is read anew at each look: after a sleep of weeks there is one look, not one for each that was missed.
    fn moment(&self) -> Moment {
        let ms = u64::try_from(self.began.elapsed().as_millis()).unwrap_or(u64::MAX);
        Moment { ms, now: (self.setup.clock)() }
    }

    /// Looks at what is due or was touched, for a while. Says how long nothing else is.
    fn turn(&mut self) -> Duration {
        let (began, taken) = (Instant::now(), self.hints.take());
        for fault in &taken.faults {
            warn!("the system's events: {fault}; every herd is looked at anyway");
        }
        for at in taken.herds {
            self.keepers[at].was_hinted = true;
        }
        for at in 0..self.keepers.len() {
            let moment = self.moment();
            let was_hinted = self.keepers[at].was_hinted;
            if was_hinted || self.keepers[at].next <= moment.ms {
                self.look(at, moment);
                if let Some(net) = &self.net {
                    net.changed(at);
                }
            }
            if began.elapsed() > AT_A_STRETCH {
                return Duration::ZERO;
            }
        }
        if let Some(at) = self.keepers.iter().position(|keeper| keeper.is_to_be_known) {
            // Read ahead, one at a time, so that whoever asks how things stand need not wait for all.
            self.keepers[at].is_to_be_known = false;
            self.row(at);
            return Duration::ZERO;
        }
        let now = self.moment().ms;
        let next = self.keepers.iter().map(|keeper| keeper.next).min().unwrap_or(now + 1000);
        Duration::from_millis(next.saturating_sub(now).max(1))
    }

    fn look(&mut self, at: usize, moment: Moment) {
        let keeper = &mut self.keepers[at];
        if !keeper.look(moment, self.writer.as_ref()) {
            return;
        }
        // Only now there is a folder to watch; a save in between is found by looking again soon.
        match self.hints.watch(at, &ledgers_of(&keeper.path)) {
            Ok(()) => keeper.polls = keeper.is_far(),
            Err(why) => {
                keeper.polls = true;
                info!(herd = keeper.name(), "polled: {why}");
            }
        }
        keeper.next = keeper.next.min(moment.ms + 1);
    }

    /// Keeps what is settled; what is not stays as it was typed.
    fn end(&mut self) {
        for at in 0..self.keepers.len() {
            let moment = self.moment();
            self.look(at, moment);
            if self.keepers[at].waiting().is_empty() {
                continue;
            }
            // What waits may be our own text; only what somebody typed is worth a word.
            let row = self.row(at);
            for left in row.unsealed.iter().filter(|left| left.remark.is_none()) {
                info!(herd = self.keepers[at].name(), file = left.file, "left as typed: from line {} on", left.line);
            }
        }
        info!("ended");
    }

    fn reply(&mut self, request: Request) -> Reply {
        if request.version != socket::version() {
            let what = format!("the daemon is footfold {}, the command is {}", socket::version(), request.version);
            return Reply::Declined(what);
        }
        match request.what {
            What::Status => Reply::Status(self.status()),
            What::Pair(pair) => self.pair(&pair),
            What::Pairing => self.pairing(),
            What::PairNoMore => {
                self.door.iter().for_each(Door::shut);
                self.pairing()
            }
            What::Show(show) => match self.show(&show) {
                Ok(reply) => reply,
                Err(trouble) => Reply::Declined(trouble.to_string()),
            },
        }
    }

    fn pair(&self, pair: &Pair) -> Reply {
        let declined = |why: &str| Reply::Declined(why.to_owned());
        if !self.keepers.iter().any(|keeper| keeper.path == pair.folder && keeper.trouble.is_none()) {
            return declined("the daemon does not watch this herd");
        }
        let capacity = Capacity::ALL.iter().find(|known| known.word() == pair.capacity);
        let (Some(code), Some(capacity)) = (Code::read(&pair.code), capacity) else {
            return declined("the request is not understood");
        };
        if let Some(door) = &self.door {
            door.open(code, pair.folder.clone(), *capacity);
        }
        self.pairing()
    }

    fn pairing(&self) -> Reply {
        match &self.door {
            Some(door) => Reply::Pairing(door.going()),
            None => Reply::Declined("nobody can call this machine: `listen` is not set".to_owned()),
        }
    }

    fn show(&mut self, show: &Show) -> Result<Reply, Trouble> {
        let declined = |why: &str| Ok(Reply::Declined(why.to_owned()));
        let watched = |keeper: &&Keeper| keeper.path == show.folder && keeper.trouble.is_none();
        if show.config != self.setup.config {
            return declined("another configuration");
        }
        if self.keepers.iter().find(watched).is_none() {
            return declined("not watched");
        }
        let now = (self.setup.clock)();
        let today = day_in(&HerdFolder::open(&show.folder)?.about()?.zone, now)?;
        let reader = self.setup.reader.as_ref();
        let folded = self.live.herd(&show.folder, today, now, reader)?;
        let Some(answer) = reader.answer(&show.folder, folded, show) else { return declined("not answered here") };
        self.answered += 1;
        debug!(folder = %show.folder.display(), "answered");
        Ok(Reply::Answer(answer))
    }

    fn status(&mut self) -> Status {
        let mut herds: Vec<HerdRow> = (0..self.keepers.len()).map(|at| self.row(at)).collect();
        worst_first(&mut herds);
        let daemon = DaemonRow {
            process: std::process::id(),
            since: utc_text(self.since),
            settle_ms: self.setup.settle_ms,
            writes_as: self.writer.as_ref().map(|writer| writer.device.clone()),
            answered: self.answered,
            in_memory: self.live.len(),
            trouble: self.setup.writer.as_ref().err().map(TroubleRow::from),
        };
        Status { daemon: Some(daemon), herds }
    }

    fn row(&mut self, at: usize) -> HerdRow {
        let Moment { ms, now } = self.moment();
        let device = self.writer.as_ref().map(|writer| writer.device.as_str());
        let keeper = &mut self.keepers[at];
        if keeper.is_far() {
            // Times jump there.
            keeper.known = None;
        }
        let mut row = match HerdFolder::open(&keeper.path) {
            Ok(herd) if keeper.trouble.is_none() => known::row(&mut keeper.known, &herd, device, Asked::at(now, ms)),
            _ => HerdRow { folder: keeper.path.display().to_string(), ..HerdRow::default() },
        };
        row.herd = row.herd.or_else(|| keeper.herd.clone());
        // The lock is our own.
        row.watched_by_another = None;
        let waiting = keeper.waiting();
        for unsealed in row.unsealed.iter_mut().filter(|unsealed| unsealed.remark.is_none()) {
            if waiting.contains(&unsealed.file) {
                "not settled".clone_into(&mut unsealed.why);
            }
        }
        let troubles = keeper.trouble.iter().chain(&keeper.unsealed).map(TroubleRow::from);
        let new: Vec<TroubleRow> = troubles.filter(|trouble| !row.troubles.contains(trouble)).collect();
        row.troubles.splice(0..0, new);
        if keeper.trouble.is_none() {
            row.watched_since = keeper.since.map(utc_text);
            row.found_by = Some(if keeper.polls { "polling" } else { "events" }.to_owned());
        }
        row.notes.extend(keeper.notes.iter().cloned());
        row.last_sealed = row.last_sealed.or_else(|| keeper.last_sealed.map(utc_text));
        row
    }
}

/// The folders to watch, each by its path from the root, so that all name a folder the same way.
pub fn canonical(folders: impl IntoIterator<Item = PathBuf>) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for folder in folders {
        let folder = folder.canonicalize().or_else(|_| std::path::absolute(&folder)).unwrap_or(folder);
        if !all.contains(&folder) {
            all.push(folder);
        }
    }
    all
}
