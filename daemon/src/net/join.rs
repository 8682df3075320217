//! Asking to be let in: the newcomer's side of a pairing over the wire (`sync.md` §11-§14).

use std::path::Path;

use http_body_util::Full;
use hyper::{Method, Request, StatusCode};
use ledger_format::mark::FullMark;

use super::line::{Broken, Line, body};
use super::tls::{self, Expect};
use crate::Trouble;
use crate::keys::{DeviceKey, chance};
use crate::pairing::words::{self, Join, Welcome};
use crate::pairing::{Asking, Code, Session};

/// No answer of a pairing is longer.
const ANSWER_BYTES: u64 = 1_000;

/// Calls the machine that shows the code. Gives what it says, and its key.
pub fn join(address: &str, code: Code, key: &DeviceKey, asks: &Join) -> Result<(Welcome, FullMark), Trouble> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.map_err(|e| Trouble::io("call another machine", Path::new("."), &e))?;
    runtime.block_on(converse(address, code, key, asks))
}

async fn converse(address: &str, code: Code, key: &DeviceKey, asks: &Join) -> Result<(Welcome, FullMark), Trouble> {
    let tls = tls::client(key, Expect::Any)?;
    let away = |broken: &Broken| {
        let remedy = "look at the address, and whether `footfold watch` runs there and both are in one network";
        Trouble::new(format!("no pairing with {address}: {broken}"), remedy)
    };
    let mut line = Line::dial(address, &tls).await.map_err(|broken| away(&broken))?;
    let keeper = line.key().ok_or_else(|| away(&Broken::Odd("it shows no key".to_owned())))?;
    let newcomer = key.signing().verifying_key().to_bytes();
    let session = Session { exporter: line.exported(), newcomer, keeper: keeper.0 };
    let (message, asking) = Asking::begin(code, session, chance()?);
    let unfit = |why: &dyn std::fmt::Display| {
        let remedy = "read the code again; after three tries, or five minutes, have a new one shown there";
        Trouble::new(format!("no pairing with {address}: {why}"), remedy)
    };
    let odd = || unfit(&"it gave an unexpected answer");
    let answer = ask(&mut line, "hello", words::hello(&message)).await.map_err(|why| unfit(&why))?;
    let (shown, asked) = asking.hear(&words::read_hello(&answer).ok_or_else(odd)?).map_err(|why| unfit(&why))?;
    let answer = ask(&mut line, "proof", words::proof(&shown)).await.map_err(|why| unfit(&why))?;
    asked.hear(&words::read_proof(&answer).ok_or_else(odd)?).map_err(|why| unfit(&why))?;
    let answer = ask(&mut line, "join", asks.to_string()).await.map_err(|why| unfit(&why))?;
    Ok((Welcome::read(&answer).ok_or_else(odd)?, keeper))
}

async fn ask(line: &mut Line, what: &str, words: String) -> Result<String, Broken> {
    let request = Request::builder().method(Method::POST).uri(format!("/pair/{what}")).body(Full::from(words));
    let response = line.ask(request.map_err(|error| Broken::Odd(error.to_string()))?).await?;
    match response.status() {
        StatusCode::OK => {}
        StatusCode::NOT_FOUND => return Err(Broken::Odd("no code is shown there, or it is void".to_owned())),
        StatusCode::FORBIDDEN => return Err(Broken::Odd("the code does not fit".to_owned())),
        status => return Err(Broken::Odd(status.to_string())),
    }
    let mut text = Vec::new();
    body(response, ANSWER_BYTES, &mut text).await?;
    Ok(String::from_utf8_lossy(&text).into_owned())
}
