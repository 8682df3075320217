//! Both sides by hand, and those who would come in between.

use super::*;

const NEWCOMER: [u8; 32] = [1; 32];
const KEEPER: [u8; 32] = [2; 32];

fn session(exporter: u8) -> Session {
    Session { exporter: [exporter; 32], newcomer: NEWCOMER, keeper: KEEPER }
}

fn code() -> Code {
    Code::read("4821 7730").unwrap()
}

fn gate() -> Gate {
    Gate::open(code(), 1000)
}

/// A whole pairing at a time, each side in its own session.
fn pair(gate: &mut Gate, typed: &str, here: Session, there: Session, now: u64) -> Result<(Paired, Paired), Refusal> {
    let (message, asking) = Asking::begin(Code::read(typed).unwrap(), here, [7; 32]);
    let (answer, hearing) = gate.hello(there, &message, [8; 32], now)?;
    let (shown, asked) = asking.hear(&answer)?;
    let (back, let_in) = gate.proof(hearing, shown.as_bytes(), now)?;
    Ok((asked.hear(back.as_bytes())?, let_in))
}

#[test]
fn the_right_code_pairs_once() {
    let mut gate = gate();
    let (here, there) = pair(&mut gate, "48217730", session(9), session(9), 2000).unwrap();
    assert_eq!(here, there);
    assert_eq!(here, Paired { newcomer: NEWCOMER, keeper: KEEPER });
    assert_eq!(pair(&mut gate, "48217730", session(9), session(9), 2001).unwrap_err(), Refusal::Used);
    assert_eq!(gate.closed(2001), Some(Refusal::Used));
}

#[test]
fn a_wrong_code_is_refused_and_the_fourth_try_too() {
    let mut gate = gate();
    for left in [2, 1, 0] {
        assert_eq!(pair(&mut gate, "48217731", session(9), session(9), 2000).unwrap_err(), Refusal::WrongCode);
        assert_eq!(gate.tries_left(), left);
    }
    // Now even the right one.
    assert_eq!(pair(&mut gate, "48217730", session(9), session(9), 2000).unwrap_err(), Refusal::Tried);
    assert!(Refusal::Tried.is_void());
}

#[test]
fn two_wrong_codes_leave_one_try() {
    let mut gate = gate();
    for _ in 0..2 {
        assert!(!pair(&mut gate, "00000000", session(9), session(9), 2000).unwrap_err().is_void());
    }
    assert!(pair(&mut gate, "48217730", session(9), session(9), 2000).is_ok());
}

#[test]
fn tries_begun_side_by_side_are_counted_before_they_end() {
    let mut gate = gate();
    let begun: Vec<Hearing> = (0..3)
        .map(|i| {
            let (message, _) = Asking::begin(code(), session(9), [i; 32]);
            gate.hello(session(9), &message, [8; 32], 2000).unwrap().1
        })
        .collect();
    let (message, asking) = Asking::begin(code(), session(9), [7; 32]);
    assert_eq!(gate.hello(session(9), &message, [8; 32], 2000).unwrap_err(), Refusal::Tried);
    drop(asking);
    // Those that were begun may end, each with what it shows.
    for hearing in begun {
        assert_eq!(gate.proof(hearing, &[0; 32], 2000).unwrap_err(), Refusal::WrongCode);
    }
}

#[test]
fn the_first_of_two_uses_the_code_up() {
    let mut gate = gate();
    let mut both = Vec::new();
    for i in [3, 4] {
        let (message, asking) = Asking::begin(code(), session(9), [i; 32]);
        let (answer, hearing) = gate.hello(session(9), &message, [i + 8; 32], 2000).unwrap();
        both.push((hearing, asking.hear(&answer).unwrap().0));
    }
    let (second, first) = (both.pop().unwrap(), both.pop().unwrap());
    assert!(gate.proof(first.0, first.1.as_bytes(), 2000).is_ok());
    assert_eq!(gate.proof(second.0, second.1.as_bytes(), 2000).unwrap_err(), Refusal::Used);
}

#[test]
fn five_minutes_are_the_end_of_it() {
    let mut gate = gate();
    let last = 1000 + VALID_MS - 1;
    let (message, asking) = Asking::begin(code(), session(9), [7; 32]);
    let (answer, hearing) = gate.hello(session(9), &message, [8; 32], last).unwrap();
    let (shown, _) = asking.hear(&answer).unwrap();
    // Begun in time, ended too late.
    assert_eq!(gate.proof(hearing, shown.as_bytes(), last + 1).unwrap_err(), Refusal::Late);
    assert_eq!(pair(&mut gate, "48217730", session(9), session(9), last + 1).unwrap_err(), Refusal::Late);
    assert!(pair(&mut Gate::open(code(), 1000), "48217730", session(9), session(9), last).is_ok());
}

#[test]
fn somebody_between_two_sessions_has_another_password() {
    // Same code, same keys as each side sees them, but two sessions.
    assert_eq!(pair(&mut gate(), "48217730", session(9), session(10), 2000).unwrap_err(), Refusal::WrongCode);
    // And the keeper's message alone does not let the newcomer believe it.
    let mut open = gate();
    let (message, asking) = Asking::begin(code(), session(9), [7; 32]);
    let (answer, _) = open.hello(session(10), &message, [8; 32], 2000).unwrap();
    let (_, asked) = asking.hear(&answer).unwrap();
    assert_eq!(asked.hear(&[0; 32]).unwrap_err(), Refusal::WrongCode);
}

#[test]
fn keys_swapped_or_another_key_do_not_pair() {
    let here = session(9);
    let swapped = Session { newcomer: KEEPER, keeper: NEWCOMER, ..here };
    let other = Session { newcomer: [3; 32], ..here };
    for there in [swapped, other, Session { keeper: [3; 32], ..here }] {
        assert_eq!(pair(&mut gate(), "48217730", here, there, 2000).unwrap_err(), Refusal::WrongCode);
        assert_eq!(pair(&mut gate(), "48217730", there, here, 2000).unwrap_err(), Refusal::WrongCode);
    }
}

#[test]
fn what_was_heard_once_is_worth_nothing_in_another_session() {
    let mut first = gate();
    let (message, asking) = Asking::begin(code(), session(9), [7; 32]);
    let (answer, hearing) = first.hello(session(9), &message, [8; 32], 2000).unwrap();
    let (shown, _) = asking.hear(&answer).unwrap();
    assert!(first.proof(hearing, shown.as_bytes(), 2000).is_ok());
    // The same message and proof, to a gate with the same code: another session, and chance anew.
    for (exporter, chance) in [(10, 8), (9, 11)] {
        let mut again = gate();
        let (_, hearing) = again.hello(session(exporter), &message, [chance; 32], 2000).unwrap();
        assert_eq!(again.proof(hearing, shown.as_bytes(), 2000).unwrap_err(), Refusal::WrongCode);
    }
}

#[test]
fn our_own_words_sent_back_are_refused() {
    let (message, asking) = Asking::begin(code(), session(9), [7; 32]);
    assert_eq!(asking.hear(&message).unwrap_err(), Refusal::Reflected);
    let (message, asking) = Asking::begin(code(), session(9), [7; 32]);
    let (answer, _) = gate().hello(session(9), &message, [8; 32], 2000).unwrap();
    let (shown, asked) = asking.hear(&answer).unwrap();
    assert_eq!(asked.hear(shown.as_bytes()).unwrap_err(), Refusal::Reflected);
    // A stranger who sends the keeper's message back to it in a second try has no proof to send.
    let mut open = gate();
    let (message, _) = Asking::begin(code(), session(9), [7; 32]);
    let (answer, _) = open.hello(session(9), &message, [8; 32], 2000).unwrap();
    let (_, hearing) = open.hello(session(9), &answer, [9; 32], 2000).unwrap();
    assert_eq!(open.proof(hearing, &[0; 32], 2000).unwrap_err(), Refusal::WrongCode);
}

#[test]
fn what_is_no_message_is_a_try_and_nothing_more() {
    let mut open = gate();
    assert_eq!(open.hello(session(9), b"", [8; 32], 2000).unwrap_err(), Refusal::NoMessage);
    assert_eq!(open.hello(session(9), &[0xff; 33], [8; 32], 2000).unwrap_err(), Refusal::NoMessage);
    assert_eq!(open.tries_left(), 1);
    let (message, _) = Asking::begin(code(), session(9), [7; 32]);
    let (_, hearing) = open.hello(session(9), &message, [8; 32], 2000).unwrap();
    assert_eq!(open.proof(hearing, &[0; 31], 2000).unwrap_err(), Refusal::NoMessage);
}

#[test]
fn s2_a_stranger_in_the_pairing_minute_learns_nothing_from_three_guesses() {
    // What the keeper says depends on nothing but chance, code and session: no herd goes in, none comes out. A guess
    // is judged only when something is shown, and the keeper shows nothing before.
    let mut open = gate();
    for guess in ["00000000", "11111111", "48217731"] {
        let (message, asking) = Asking::begin(Code::read(guess).unwrap(), session(9), [7; 32]);
        let (answer, hearing) = open.hello(session(9), &message, [8; 32], 2000).unwrap();
        let (shown, asked) = asking.hear(&answer).unwrap();
        assert_eq!(open.proof(hearing, shown.as_bytes(), 2000).unwrap_err(), Refusal::WrongCode);
        // With what the stranger has, no guess of what the keeper would show is believed either.
        assert!(asked.hear(shown.as_bytes()).is_err());
    }
    assert_eq!(open.closed(2000), Some(Refusal::Tried));
}
