"""The canonical body of a line (line.md): a value, or the clause it offends."""

import re
from typing import NamedTuple

from acts import ACTS, NEED_WORDS, NO_REFERENCE
from cursor import Cursor
from refused import Refused, require
from text import is_clean
from values import cow, date, device, mark, name, time, who

BODY_BYTES = 2400


class Line(NamedTuple):
    date: str
    time: str | None
    subject: tuple          # ("cow", "417"), ("group", "heifers") or ("herd", None)
    act: str
    parts: dict
    replaces: dict | None
    who: str
    words: str | None


def read(body, writer=None):
    """A Line, or raises the Refused that says why not. `writer` is the device that wrote it, if known."""
    at = Cursor(_clean(body))
    day = date(at.word())
    moment = time(at.word()) if ":" in at.peek() else None
    subject = _subject(at)
    act, parts = _act(at, subject[0])
    replaces = _reference(at, act, writer)
    require(at.maybe("by"), 10, f"{at.peek()!r} has no place after {act} here")
    by, words = _by(at.rest)
    require(words or act not in NEED_WORDS, 10, f"{act} needs words")
    return Line(day, moment, subject, act, parts, replaces, by, words)


def _clean(body):
    require(len(body) <= BODY_BYTES, 1, "the body is longer than 2,400 bytes")
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError:
        raise Refused(1, "the body is not UTF-8") from None
    require(is_clean(text), 1, "the body is not clean text")
    return text


def _subject(at):
    word = at.word()
    if word == "herd":
        return word, None
    if word == "group":
        return word, name(at.word())
    return "cow", cow(word)


def _act(at, subject):
    word = at.word()
    require(word in ACTS, 10, f"{word} is not an act")
    read_parts, subjects = ACTS[word]
    require(subject in subjects, 10, f"{word} is not said of a {subject}")
    return word, read_parts(at)


def _reference(at, act, writer):
    if not at.maybe("replaces"):
        return None
    require(act not in NO_REFERENCE, 10, f"{act} has no reference")
    reference = {"mark": mark(at.word()), "of": at.maybe_after("of", device)}
    require(writer is None or reference["of"] != writer, 7, "a line of the same device is named without it")
    return reference


def _by(rest):
    by = re.match("[^ :]*", rest).group()
    words = rest.removeprefix(who(by))
    if not words:
        return by, None
    require(words.startswith(":"), 2, f"{words!r} has no place after by {by}")
    require(words.startswith(": ") and len(words) > 2, 6, "words follow a colon and a space")
    return by, words[2:]
