"""Vectors of merge and fold: lines of several devices, and what the log and the cows are then.

A row of `lines:` is `DEVICE SEALED BODY`. In a body `{N}` is the mark of the N-th row.
"""

import re

import state_text
from build import head_body, seal_at
from fold import Fold
from ledger import Ledger
from merge import Log, entries_of
from protocol import Protocol, Protocols
from vectors_read import Mismatch, expect, sections

HEAD_SEALED, YEAR, KEY = "2026-01-01T08:00:00Z", "2026", "8" * 64
HEADER = {"comment", "rule", "on", "known", "repeat", "early"}
SECTIONS = {"lines", "state", "standing", "order", "twice"}


class Case:
    def __init__(self, header, rest):
        self.parts = {name: [row.removeprefix("  ") for row in rows] for name, rows in sections(rest).items()}
        if unknown := (header.keys() - HEADER) | (self.parts.keys() - SECTIONS):
            raise Mismatch(f"what is {', '.join(sorted(unknown))}?")
        self.header = header
        self.marks, files = seal_all(self.parts["lines"])
        self.entries = list(entries_of([(device, YEAR, Ledger(data)) for device, data in files.items()]))
        self.log = Log(self.entries, header.get("known"))

    def state(self):
        default = Protocol()
        numbers = Protocol(int(self.header.get("repeat", default.repeat)), int(self.header.get("early", default.early)))
        return list(state_text.lines(Fold(self.log, self.header["on"], Protocols(default=numbers))))

    def standing(self):
        words = {(entry.device, entry.mark): self.log.word(entry) for entry in self.log.entries}
        return [words[line] for line in self.marks]

    def order(self):
        return [self._number(entry) for entry in self.log.entries]

    def twice(self):
        return [f"{self._number(said.entry)} {self._number(other)}" for said in self.log.said for other in said.others]

    def _number(self, entry):
        return self.marks.index((entry.device, entry.mark)) + 1


def seal_all(rows):
    """(device, mark) of each row, and the file of each device."""
    marks, files = [], {}
    for row in rows:
        device, sealed, body = row.split(" ", 2)
        body = re.sub(r"\{([0-9]+)\}", lambda found: marks[int(found.group(1)) - 1][1], body)
        if device not in files:
            files[device] = seal_at(b"", head_body(device, key=KEY), HEAD_SEALED)
        files[device] = seal_at(files[device], body, sealed)
        marks.append((device, files[device][-17:-1].decode()))
    return marks, files


def check_fold(header, rest):
    case = Case(header, rest)
    expect("the state", case.parts["state"], case.state())


def check_merge(header, rest):
    case = Case(header, rest)
    expect("the state", case.parts["state"], case.state())
    if "standing" in case.parts:
        expect("what stands", words_of(case.parts["standing"]), case.standing())
    if "order" in case.parts:
        expect("the order", [int(word) for word in words_of(case.parts["order"])], case.order())
    if "twice" in case.parts:
        expect("what is said twice", case.parts["twice"], case.twice())


def words_of(rows):
    return " ".join(rows).split()
