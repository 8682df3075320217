"""What the files of a herd say of each other, and of themselves: witnesses, links between years, statements
(mark.md §7, §9, §15)."""

from typing import NamedTuple

import folder
import merge
import text
from blake3 import Blake3
from ledger import Ledger, seen_through
from members import Members
from rows import SEAL_BYTES, has_sealed_shape
from statements import BY_ITSELF, Statements, two_histories

WHY_CHARACTERS = 100    # a damaged word may be as long as a line


class Claim(NamedTuple):
    """Somebody saw a file with this full mark, at this length if one was given."""
    device: str
    year: str
    seen_by: str
    length: int | None
    mark: str
    by_another: bool


class Seen(NamedTuple):
    """Of two that reach equally far, that of another device counts for more."""
    end: int
    by_another: bool
    line: int
    by: str


def further(one, other):
    return max((one, other), key=lambda seen: seen[:2] if seen else (0, False))


class File:
    def __init__(self, device, year, data, statements):
        self.device, self.year = device, year
        self.raw = Ledger(data)     # as the bytes stand
        through = None if self.raw.unbroken and not self.raw.changed_blanks else seen_through(data)
        self.shown = text.read(data).lines
        self.only_looks_changed = through is not None
        self.ledger = through or self.raw
        self.statements = Statements(statements, self.ledger.head, year)
        self.seen = None            # the last line that anybody vouches for, be it the writer
        self.seen_by_others = None  # the last line that another device vouches for
        self.findings = []          # something is to be done
        self.notes = []             # something is to be known

    @property
    def complete_up_to(self):
        return self.seen.end if self.seen else 0

    def weigh(self, claim):
        ledger = self.ledger
        if claim.length is not None and claim.length > ledger.size:
            self._find(f"shorter than was seen by {claim.seen_by}")
            return
        row = _line_claimed(ledger, claim)
        if row is None:
            self._find(f"a history that others saw differently ({claim.seen_by})")
            return
        seen = Seen(row.end, claim.by_another, row.number, claim.seen_by)
        if claim.by_another:
            self.seen_by_others = further(self.seen_by_others, seen)
        self.seen = further(self.seen, seen)

    def _find(self, finding):
        """Once is enough: a witness who disagrees does so in every later line too."""
        if finding not in self.findings:
            self.findings.append(finding)


class Herd:
    def __init__(self, root):
        found = folder.look(root)
        self.ignored = found.ignored
        statements = {(device, year): path.read_bytes() for device, year, path in found.statements}
        self.files = [
            File(device, year, path.read_bytes(), statements.pop((device, year), b""))
            for device, year, path in found.ledgers
        ]
        self.merged, self.founder = merge.files_of_herd([(file.device, file.year, file.ledger) for file in self.files])
        self.members = Members(self.merged, self.founder)
        protocols = {name: path.read_bytes() for name, path in found.protocols}
        misnamed = {name for name, content in protocols.items() if Blake3(content).hexdigest() != name}
        self.misnamed_protocols = [path.name for name, path in found.protocols if name in misnamed]
        self.protocols = {name: content for name, content in protocols.items() if name not in misnamed}
        self.missing = sorted({*self._weigh_claims(), *((device, year, BY_ITSELF) for device, year in statements)})
        for file in self.files:
            file.findings += [*self._not_of_this_herd(file), *_own_findings(file)]
            file.notes += [*_own_notes(file), *self._kept_apart(file)]
        self._look_for_second_beginnings()
        self.copies = [(f"ledgers/{device}/{path.name}", self._lines_of_its_own(device, path)) for device, path in found.copies]

    def _not_of_this_herd(self, file):
        if file.ledger.head and self.founder and file.ledger.head.herd_key != self.founder:
            yield "its head names another founder"

    def _kept_apart(self, file):
        apart = self.members.apart_in(file.device, file.year)
        if apart:
            (number, why), *more = apart
            yield f"kept apart: line {number}{and_more(more)}: {why}"

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
        return missing

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
        yield Claim(file.device, head.follows_year, f"its own {file.year}", None, head.follows_mark, by_another=False)
    for seen_line in ledger.observations:
        seen = seen_line.parts
        if seen_line.act == "witness" and seen["device"] != file.device:
            yield Claim(seen["device"], seen["year"], file.device, seen["length"], seen["mark"], by_another=True)
    for said in file.statements.said:
        yield Claim(file.device, file.year, BY_ITSELF, said.length, said.mark, by_another=False)


def _line_claimed(ledger, claim):
    """The vouched line the claim speaks of, if the bytes up to it are those that were seen."""
    if claim.length is None:
        return ledger.line_of_full_mark(claim.mark)
    return ledger.line_seen(claim.length, claim.mark)


def _own_findings(file):
    ledger = file.ledger
    if ledger.head and ledger.head.device != file.device:
        yield f"its head names {ledger.head.device}"
    yield from findings_in_statements(file)
    if ledger.not_canonical:
        (number, why), *more = ledger.not_canonical
        yield f"not canonical: line {number}{and_more(more)}: {str(why)[:WHY_CHARACTERS]}"


def findings_in_statements(file):
    if file.statements.nothing:
        (number, why), *more = file.statements.nothing
        yield f"line {number}{and_more(more)} of {file.year}.sig says nothing: {why}"
    two = two_histories(file.statements.said, lambda one: _agrees(file, one))
    if two:
        first, second = two
        yield (
            f"two histories by its own word: line {first.number} of {file.year}.sig says {first}, "
            f"line {second.number} {second}"
        )


def stated(file):
    """What the statements come to, for programs: up to where they agree, which do not, which goes furthest beyond."""
    said = sorted(file.statements.said, key=lambda one: one.length)
    agreeing = [one.length for one in said if one.length <= file.ledger.size and _agrees(file, one)]
    return {
        "agree_up_to": max(agreeing, default=0),
        "different": [[one.length, one.mark] for one in said if one.length <= file.ledger.size and not _agrees(file, one)],
        "beyond": max((one.length for one in said if one.length > file.ledger.size), default=0),
        "say_nothing": [number for number, _ in file.statements.nothing],
    }


def _agrees(file, statement):
    return file.ledger.line_seen(statement.length, statement.mark) is not None


def _own_notes(file):
    ledger = file.ledger
    if ledger.steps_back():
        number, *more = ledger.steps_back()
        yield f"the clock stepped back at line {number}{and_more(more)}"


def and_more(others):
    return f" and {len(others)} more" if others else ""
