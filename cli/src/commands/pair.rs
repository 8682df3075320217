//! `footfold pair`: one machine shows a code, the other types it, and the herd is on both.

use std::io::{Write, stdout};
use std::net::{SocketAddr, TcpStream};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Duration;

use daemon::Trouble;
use daemon::keys::DeviceKey;
use daemon::nearby::{self, Announced, Found, Nearby};
use daemon::net::peers::{self, Peer};
use daemon::net::{self, Going, LetIn};
use daemon::pairing::Code;
use daemon::pairing::words::{Join, Welcome};
use daemon::seal::{NewHerd, join_herd};
use daemon::settings::{self, Settings};
use daemon::watch::socket::{self, Pair, Reply, What};
use ledger_format::mark::FullMark;
use ledger_format::work::roll::roll;

use crate::fail::{Fail, MEND, Outcome};
use crate::look::{Look, Place};
use crate::place::{self, Common, Seat, Writer};
use crate::show;

/// Let another machine into a herd: without a code one is shown here, to be typed there
#[derive(clap::Args, Debug)]
pub(super) struct Args {
    /// The code that the other machine shows
    #[arg(value_name = "CODE", requires = "folder")]
    code: Option<String>,
    /// The folder to hold the herd in; it must be empty or not there yet
    #[arg(value_name = "FOLDER")]
    folder: Option<PathBuf>,
    /// Where the other machine is, as in 192.168.1.20:4777; else it is looked for nearby
    #[arg(long = "at", value_name = "ADDRESS", requires = "code")]
    address: Option<String>,
    /// What the other machine may do: keeper, writer or reader
    #[arg(long = "as", value_name = "CAPACITY", default_value = "writer", conflicts_with = "code")]
    #[arg(value_parser = ["keeper", "writer", "reader"])]
    capacity: String,
    #[command(flatten)]
    writer: Writer,
}

/// How often a keeper looks whether somebody came.
const LOOK: Duration = Duration::from_millis(300);
/// How long machines nearby are looked for, and how long one of their addresses may take to answer.
const NEARBY: Duration = Duration::from_secs(4);
const REACH: Duration = Duration::from_secs(2);

pub(super) fn run(common: &Common, args: &Args) -> Outcome {
    match (&args.code, &args.folder) {
        (Some(code), Some(folder)) => ask(args, code, folder),
        _ => show_code(common, args),
    }
}

/// The keeper's side.
fn show_code(common: &Common, args: &Args) -> Outcome {
    let seat = Seat::take(common, &args.writer)?;
    let place = Place::of(common)?;
    let herd = place.herd(&Look::on(place.today), place.today)?;
    let rows = roll(herd.log(), herd.members());
    let own = (seat.device(), seat.key());
    if !rows.devices.iter().any(|row| (row.device.as_str(), row.key.as_str()) == own && row.may == "keeper") {
        let what = format!("{} is no keeper here: it can let nobody in", own.0);
        return Err(Trouble::new(what, "show the code on a keeper's machine: `footfold members` lists them").into());
    }
    let folder = seat.herd.path();
    let folder = folder.canonicalize().map_err(|e| Trouble::io("name the folder", folder, &e))?;
    let code = Code::draw(chance()?);
    let digits = code.to_string().replace(' ', "");
    let pair = Pair { folder, code: digits.clone(), capacity: args.capacity.clone() };
    daemon(What::Pair(pair))?;
    let mut out = stdout().lock();
    let settings = place::settings()?;
    let port = settings.listen.map_or(0, |listen| listen.port());
    let nearby = Nearby::of(settings.nearby());
    let announced = Announced { device: seat.device(), key: seat.key(), port, is_pairing: true };
    let announcing = nearby::announce(&nearby, &announced);
    writeln!(out, "Code: {code}    good once, for five minutes\n")?;
    writeln!(out, "Lets a {} into {}. Type on the other machine:", args.capacity, show::text(&rows.herd))?;
    writeln!(out, "  footfold pair {digits} FOLDER --device NAME --by INITIALS")?;
    if !matches!(announcing, Ok(Some(_))) {
        writeln!(out, "It is not looked for nearby here.")?;
    }
    writeln!(out, "If it does not find this machine, add --at ADDRESS:{port} with the address")?;
    writeln!(out, "that this machine has in your network. End with Ctrl-C.")?;
    out.flush()?;
    loop {
        std::thread::sleep(LOOK);
        match daemon(What::Pairing)? {
            Going::Waiting(_) => {}
            Going::LetIn(let_in) => return let_in_told(&mut out, &let_in, &args.capacity, &rows.herd),
            Going::Void(why) => {
                return Err(Trouble::new(format!("nobody was let in: {why}"), "say `footfold pair` again").into());
            }
        }
    }
}

fn let_in_told(out: &mut impl Write, let_in: &LetIn, capacity: &str, herd: &str) -> Outcome {
    writeln!(out, "\nLet in: {}, {capacity} of {}", show::text(&let_in.device), show::text(herd))?;
    writeln!(out, "  asked by {}, key {}", show::text(&let_in.by), let_in.key.get(..16).unwrap_or_default())?;
    writeln!(out, "Not the one you meant? footfold members revoke {}", show::text(&let_in.device))?;
    Ok(ExitCode::SUCCESS)
}

fn daemon(what: What) -> Result<Going, Fail> {
    let reply = socket::place()?.and_then(|socket| socket::ask(&socket, what));
    let to_do = "set `listen` in the settings, as in `listen: \"0.0.0.0:4777\"`, and start `footfold watch` anew";
    match reply {
        Some(Reply::Pairing(going)) => Ok(going),
        Some(Reply::Declined(why)) => Err(Trouble::new(format!("no code can be shown: {why}"), to_do).into()),
        _ => Err(Trouble::new("no code can be shown: no `footfold watch` runs here", to_do).into()),
    }
}

fn chance() -> Result<[u8; 16], Fail> {
    Ok(daemon::keys::chance()?)
}

/// The newcomer's side.
fn ask(args: &Args, code: &str, folder: &Path) -> Outcome {
    let digits = || Fail::usage("a code has 8 digits", "type it as the other machine shows it, as in 48217730");
    let code = Code::read(code).ok_or_else(digits)?;
    let (device, by) = args.writer.names()?;
    may_begin(folder)?;
    let config = settings::folder()?;
    let settings = Settings::read(&config)?;
    let key = DeviceKey::open_or_make(&config)?;
    let address = match &args.address {
        Some(address) => address.clone(),
        None => found_nearby(&Nearby::of(settings.nearby()))?,
    };
    let (welcome, keeper) = net::join(&address, code, &key, &Join { device, by: by.clone() })?;
    let founder = FullMark::read(&welcome.founder).ok_or_else(digits)?;
    let now = place::now();
    let new = NewHerd {
        herd: &welcome.herd,
        zone: &welcome.zone,
        device: &welcome.device,
        key: &key,
        by: &by,
        now,
        today: place::today(now, &welcome.zone)?,
        protocol: None,
    };
    let herd = join_herd(folder, &new, &welcome.founder)?;
    let path = std::path::absolute(herd.path()).map_err(|e| Trouble::io("name the folder", herd.path(), &e))?;
    let device = welcome.keeper.clone();
    peers::add(&config, Peer { address, key: keeper, device, herd: founder })?;
    let is_first = Settings::write_first(&config, &welcome.device, &by, &path)?;
    welcomed(&welcome, keeper, &path, &config, is_first)
}

/// The address of the one machine nearby that shows a code.
fn found_nearby(nearby: &Nearby) -> Result<String, Fail> {
    let mut found = nearby::find(nearby, NEARBY, |_| false)?;
    found.retain(|found| found.is_pairing);
    let one = |found: &Found| {
        let address = found.addresses.first().map_or(String::new(), |address| format!(" at {address}"));
        format!("{} (key {}){address}", found.device, found.key)
    };
    let reached = |address: &&SocketAddr| TcpStream::connect_timeout(address, REACH).is_ok();
    match found.as_slice() {
        [] => Err(Trouble::new("no machine nearby shows a code", WHERE).into()),
        [found] => match found.addresses.iter().find(reached) {
            Some(address) => Ok(address.to_string()),
            None => Err(Trouble::new(format!("{} does not answer", one(found)), WHERE).into()),
        },
        several => {
            let names = several.iter().map(one).collect::<Vec<_>>().join(", ");
            Err(Trouble::new(format!("several machines nearby show a code: {names}"), WHERE).into())
        }
    }
}

const WHERE: &str = "say where it is: `footfold pair CODE FOLDER --at ADDRESS`, as in `--at 192.168.1.20:4777`";

fn welcomed(welcome: &Welcome, keeper: FullMark, path: &Path, config: &Path, is_first: bool) -> Outcome {
    let mut out = stdout().lock();
    let key = keeper.to_string();
    writeln!(out, "Let in: {}, {} of {}", welcome.device, welcome.capacity.word(), welcome.herd)?;
    writeln!(out, "  by {}, key {}", welcome.keeper, key.get(..16).unwrap_or_default())?;
    writeln!(out, "  the herd will be in {}", show::text(&path.display().to_string()))?;
    let file = config.join(settings::FILE);
    let settings = Settings::read(config)?;
    if !is_first && !settings.herds.iter().any(|herd| herd == path) {
        let line = format!("{:?},", path.display().to_string());
        writeln!(out, "\nTo hold it among your herds, add this line to `herds` in\n{}:\n    {line}", file.display())?;
    }
    if settings.device.as_ref() != Some(&welcome.device) {
        writeln!(out, "\nHere you are {}: set `device` in\n{}", welcome.device, file.display())?;
        return Ok(ExitCode::from(MEND));
    }
    writeln!(out, "\nNext: `footfold watch` fetches what the others wrote, and keeps in touch.")?;
    Ok(ExitCode::SUCCESS)
}

/// A code is used up by being let in: what would fail then is looked at before.
fn may_begin(folder: &Path) -> Result<(), Fail> {
    let is_used = std::fs::read_dir(folder).is_ok_and(|mut inside| inside.next().is_some());
    if is_used {
        let what = format!("expected an empty folder for the herd, found {} in use", folder.display());
        return Err(Trouble::new(what, "name a folder that is not there yet").into());
    }
    Ok(())
}
