"""What the files of a herd say of each other: witnesses and links between years (mark.md §7 and §9)."""

from typing import NamedTuple

import folder
import text
from blake3 import Blake3
from ledger import Ledger, seen_through
from rows import SEAL_BYTES, has_sealed_shape

WHY_CHARACTERS = 100    # a damaged word may be as long as a line


class Claim(NamedTuple):
    """Somebody saw a file with this full mark, at this length if one was given."""
    device: str
    year: str
    seen_by: str
    length: int | None
    mark: str


class File:
    def __init__(self, device, year, data):
        self.device, self.year = device, year
        self.raw = Ledger(data)     # as the bytes stand
        through = None if self.raw.unbroken and not self.raw.changed_blanks else seen_through(data)
        self.shown = text.read(data).lines
        self.only_looks_changed = through is not None
        self.ledger = through or self.raw
        self.complete_line = None   # the last line that others vouch for
        self.seen_by = None
        self.findings = []          # something is to be done
        self.notes = []             # something is to be known

    @property
    def complete_up_to(self):
        return self.complete_line.end if self.complete_line else 0

    def weigh(self, claim):
        ledger = self.ledger
        if claim.length is not None and claim.length > ledger.size:
            self._find(f"shorter than was seen by {claim.seen_by}")
            return
        row = _line_claimed(ledger, claim)
        if row is None:
            self._find(f"a history that others saw differently ({claim.seen_by})")
        elif row.end > self.complete_up_to:
            self.complete_line, self.seen_by = row, claim.seen_by

    def _find(self, finding):
        """Once is enough: a witness who disagrees does so in every later line too."""
        if finding not in self.findings:
            self.findings.append(finding)


class Herd:
    def __init__(self, root):
        found = folder.look(root)
        self.ignored = found.ignored
        self.files = [File(device, year, path.read_bytes()) for device, year, path in found.ledgers]
        protocols = {name: path.read_bytes() for name, path in found.protocols}
        misnamed = {name for name, content in protocols.items() if Blake3(content).hexdigest() != name}
        self.misnamed_protocols = [path.name for name, path in found.protocols if name in misnamed]
        self.protocols = {name: content for name, content in protocols.items() if name not in misnamed}
        self.missing = self._weigh_claims()
        for file in self.files:
            file.findings += _own_findings(file)
            file.notes += _own_notes(file)
        self._look_for_second_beginnings()
        self.copies = [(f"ledgers/{device}/{path.name}", self._lines_of_its_own(device, path)) for device, path in found.copies]

    def _lines_of_its_own(self, device, path):
        known = set()
        for file in self.files:
            if file.device == device:
                for content in file.shown:
                    known |= {content, content[:-SEAL_BYTES]} if has_sealed_shape(content.encode()) else {content}
        lines = enumerate(text.read(path.read_bytes()).lines, 1)
        return [number for number, content in lines if content and content[0] != ";" and content not in known]

    def _weigh_claims(self):
        """Give each claim to its file; what is left are (device, year, seen_by) of files that are not there."""
        by_name = {(file.device, file.year): file for file in self.files}
        missing = set()
        for claim in sorted(claim for file in self.files for claim in claims_of(file)):
            file = by_name.get((claim.device, claim.year))
            if file:
                file.weigh(claim)
            else:
                missing.add((claim.device, claim.year, claim.seen_by))
        return sorted(missing)

    def _look_for_second_beginnings(self):
        beginnings = {}
        for file in self.files:
            if file.ledger.head and not file.ledger.head.follows_year:
                beginnings.setdefault(file.device, []).append(file)
        for files in beginnings.values():
            for file in files[1:]:
                file.findings.append(f"follows nothing, though {files[0].year} is there")


def claims_of(file):
    """Only vouched lines can claim anything, and nobody is a witness of their own file."""
    ledger = file.ledger
    if ledger.lines and ledger.head.follows_year:
        head = ledger.head
        yield Claim(file.device, head.follows_year, f"its own {file.year}", None, head.follows_mark)
    for seen_line in ledger.observations:
        seen = seen_line.parts
        if seen_line.act == "witness" and seen["device"] != file.device:
            yield Claim(seen["device"], seen["year"], file.device, seen["length"], seen["mark"])


def _line_claimed(ledger, claim):
    """The vouched line the claim speaks of, if the bytes up to it are those that were seen."""
    if claim.length is None:
        return ledger.line_of_full_mark(claim.mark)
    row = ledger.line_ending_at(claim.length)
    return row if row and ledger.full_mark(row) == claim.mark else None


def _own_findings(file):
    ledger = file.ledger
    if ledger.head and ledger.head.device != file.device:
        yield f"its head names {ledger.head.device}"
    if ledger.not_canonical:
        (number, why), *more = ledger.not_canonical
        yield f"not canonical: line {number}{and_more(more)}: {str(why)[:WHY_CHARACTERS]}"


def _own_notes(file):
    ledger = file.ledger
    if ledger.steps_back():
        number, *more = ledger.steps_back()
        yield f"the clock stepped back at line {number}{and_more(more)}"


def and_more(others):
    return f" and {len(others)} more" if others else ""
