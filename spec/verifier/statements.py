"""Signed statements of how far a file goes (mark.md §15 to 17)."""

import re
from typing import NamedTuple

import ed25519
import values
from refused import Refused

BY_ITSELF = "its own statement"
SHAPE = re.compile(
    rb"(footfold 1 statement herd ([a-z0-9-]+) device ([a-z0-9-]+) year ([0-9]{4}) length ([1-9][0-9]{0,9})"
    rb" mark ([0-9a-f]{64}) at ([0-9TZ:-]{20})) signed ([0-9a-f]{128})"
)


class Statement(NamedTuple):
    number: int     # of its line, from 1
    length: int
    mark: str

    def __str__(self):
        return f"{self.length} bytes with the mark {self.mark}"


class Statements:
    """The lines of a `.sig` file: those that say something, and (line number, why) of those that do not."""

    def __init__(self, data, head, year):
        self.said, self.nothing = [], []
        for number, content in enumerate(lines_of(data), 1):
            why = why_nothing(content, head, year)
            if why:
                self.nothing.append((number, why))
            else:
                *_, length, mark, _, _ = SHAPE.fullmatch(content).groups()
                self.said.append(Statement(number, int(length), mark.decode()))


def lines_of(data):
    """What stands behind the last LF is the rest of a power cut, and says nothing."""
    return data.split(b"\n")[:-1]


def why_nothing(content, head, year):
    """Why a line is no statement of the file with this head and year, or None if it is one."""
    found = SHAPE.fullmatch(content)
    if not found:
        return "not in the form of a statement"
    if head is None:
        return "its file has no head, and so no key"
    said, herd, device, of_year, _, _, at, signature = found.groups()
    if (herd.decode(), device.decode(), of_year.decode()) != (head.herd, head.device, year):
        return "of another file"
    if not is_time(at.decode()):
        return "not in the form of a statement"
    if not ed25519.verify(bytes.fromhex(head.key), said, bytes.fromhex(signature.decode())):
        return "the signature is wrong"
    return None


def is_time(word):
    try:
        return values.sealed_time(word) == word
    except Refused:
        return False


def two_histories(said, agrees):
    """The first two statements of a device that cannot be of one file, or None; `agrees` asks the file that is here."""
    at_length = {}
    for one in said:
        other = at_length.setdefault(one.length, one)
        if other.mark != one.mark:
            return other, one
    longest = max((one for one in said if agrees(one)), key=lambda one: one.length, default=None)
    if longest is None:
        return None
    wrong = next((one for one in said if one.length < longest.length and not agrees(one)), None)
    return wrong and tuple(sorted((wrong, longest)))
