"""Vectors of members: lines of several devices, and who had which right at each of them.

The form is that of merge (`log_vectors.py`), and more: see README.md.
"""

import re

from blake3 import Blake3
from build import full_mark, head_body, seal_at
from ledger import Ledger
from log_vectors import HEAD_SEALED, YEAR
from members import Members
from merge import files_of_herd
from vectors_read import Mismatch, expect, sections

HEADER = {"comment", "rule", "founder"}
OF_A_DEVICE = {"key", "lacks"}
SECTIONS = {"lines", "rights", "now", "not a keeper"}


class Case:
    def __init__(self, header, rest):
        self.parts = {name: [row.removeprefix("  ") for row in rows] for name, rows in sections(rest, SECTIONS).items()}
        strange = [key for key in header if key not in HEADER and key.split(" ")[0] not in OF_A_DEVICE]
        if strange or self.parts.keys() - SECTIONS:
            raise Mismatch(f"what is {', '.join(strange) or 'that section'}?")
        self.header = header
        self.files, self.written = {}, []    # of each row: the device, and its file just behind the row
        for row in self.parts["lines"]:
            self._seal(*row.split(" ", 2))
        here = [(device, YEAR, Ledger(self._here(device))) for device in self.files]
        self.members = Members(*files_of_herd(here))

    def key(self, device):
        return Blake3(self.header.get(f"key {device}", device).encode()).hexdigest()

    def rights(self):
        return [self._right(number) for number in range(1, len(self.written) + 1)]

    def no_keepers(self):
        numbers = range(1, len(self.written) + 1)
        return [number for number in numbers if self._is_here(number) and self.members.is_no_keepers(self._seat(number))]

    def now(self, device):
        return self.members.now(device, self.key(device))

    def _seal(self, device, sealed, body):
        if device not in self.files:
            self.files[device] = seal_at(b"", self._head(device), HEAD_SEALED)
        body = re.sub(r"\{(?:([a-z]+):)?([a-z0-9-]+)\}", lambda found: self._value(*found.groups()), body)
        self.files[device] = seal_at(self.files[device], body, sealed)
        self.written.append((device, self.files[device]))

    def _head(self, device):
        founder = self.header.get("founder", device)
        after = "" if founder == device else f" founder {self.key(founder)}"
        return head_body(device, key=self.key(device), follows=after)

    def _value(self, kind, name):
        """What stands for `{KIND:NAME}`; `{N}` is the mark of a row, as in merge."""
        if kind == "key":
            return self.key(name)
        if kind == "full" and not name.isdigit():
            return full_mark(seal_at(b"", self._head(name), HEAD_SEALED))
        upto = self.written[int(name) - 1][1]
        return {None: full_mark(upto)[:16], "full": full_mark(upto), "length": str(len(upto))}[kind]

    def _here(self, device):
        lines = self.files[device].splitlines(keepends=True)
        return b"".join(lines[:len(lines) - int(self.header.get(f"lacks {device}", 0))])

    def _is_here(self, number):
        device, upto = self.written[number - 1]
        return len(upto) <= len(self._here(device))

    def _seat(self, number):
        device, upto = self.written[number - 1]
        file = self.members.knowledge.written[device, self.key(device)][0].file
        return self.members.seat_of(device, YEAR, file.line_seen(len(upto), full_mark(upto)))

    def _right(self, number):
        return self.members.word(self._seat(number)) if self._is_here(number) else "not here"


def check_members(header, rest):
    case = Case(header, rest)
    expect("the rights", dict(enumerate(case.parts["rights"], 1)), dict(enumerate(case.rights(), 1)))
    rows = [row.split(" ") for row in case.parts["now"]]
    expect("the rights now", dict(rows), {device: case.now(device) for device, _ in rows})
    numbers = " ".join(case.parts.get("not a keeper", ())).split()
    expect("what does not count", [int(number) for number in numbers], case.no_keepers())
