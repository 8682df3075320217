"""One ledger file: its head, what of it holds, and what of that is canonical (mark.md §1 to 5)."""

from bisect import bisect_left
from datetime import datetime, timedelta

import head
import line
import text
import values
from marks import Marks
from refused import Refused, require
from rows import has_sealed_shape, sealed_part

STEP_BACK = timedelta(minutes=1)


class Ledger:
    def __init__(self, data):
        rows = sealed_part(data)
        self.size = len(data)
        self.head = head.read(rows[0].body) if rows and rows[0].sealed else None
        self._marks = Marks(data, rows)
        self.first_broken = self._find_break(rows)
        self.unbroken = self.first_broken is None
        vouched = rows if self.unbroken else rows[:self.first_broken - 1]
        self.vouched_bytes = vouched[-1].end if vouched else 0
        tail = data[rows[-1].end if rows else 0:]
        self.tail_bytes = len(tail)
        self.changed_blanks = any(has_sealed_shape(cleaned_bytes(content)) for content in tail.split(b"\n"))
        self.lines = [row for row in vouched if row.sealed]
        self.readable, self.not_canonical = self._read_bodies(vouched)
        self.observations = [observation for _, observation in self.readable]
        self._ends = {row.end: row for row in self.lines}

    def _find_break(self, rows):
        """The number of the first row that does not hold, or None."""
        if self.head is None:
            return 1
        if self._marks.hold(rows[-1]):
            return None
        sealed = [row for row in rows if row.sealed]
        # Marks hold up to some row and not after it, for each covers all before it.
        wrong = sealed[bisect_left(sealed, True, key=lambda row: not self._marks.hold(row))]
        return next((row.number for row in rows if not row.sealed and row.number < wrong.number), wrong.number)

    def _read_bodies(self, vouched):
        """(row, observation) of the canonical rows, and (line number, why) of those that are not."""
        readable, refusals = [], []
        for row in vouched:
            try:
                check_seal(row)
                if row.number > 1:
                    readable.append((row, line.read(row.body, self.head.device)))
            except Refused as why:
                refusals.append((row.number, why))
        return readable, refusals

    def full_mark(self, row):
        return self._marks.full(row)

    def line_seen(self, length, mark):
        """The vouched line that ends at a length, if its full mark is the one that somebody saw there."""
        row = self._ends.get(length)
        return row if row and self.full_mark(row) == mark else None

    def line_of_full_mark(self, mark):
        """Looked for from the end, where a link points if all is well."""
        return next((row for row in reversed(self.lines) if row.mark == mark[:16] and self.full_mark(row) == mark), None)

    def steps_back(self):
        """Numbers of lines sealed, by the clock, more than a minute before the line above."""
        times = [(row.number, _moment(row.sealed_time)) for row in self.lines]
        times = [(number, moment) for number, moment in times if moment]
        return [n for (_, before), (n, after) in zip(times, times[1:]) if before - after > STEP_BACK]


def seen_through(data):
    """The file as it was before an editor changed blanks, line ends or encoding (mark.md §12), if that is unbroken."""
    encoding, decoded, _ = text.decode(data)
    bytes_only = not encoding.startswith("utf-16")
    plain = data.removeprefix(b"\xEF\xBB\xBF") if bytes_only else decoded.encode()
    lines = plain.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    for change in (bytes, cleaned_bytes):
        ledger = Ledger(b"\n".join(change(line) for line in lines))
        if ledger.unbroken and not ledger.changed_blanks:
            return ledger
    return None


def cleaned_bytes(content):
    try:
        return text.clean(content.decode())[0].encode()
    except UnicodeDecodeError:
        return content


def check_seal(row):
    require(row.sealed, 1, "a line without a seal has been sealed over")
    require(len(row.body) <= line.BODY_BYTES, 1, "the body is longer than 2,400 bytes")
    values.sealed_time(row.sealed_time)


def _moment(sealed_time):
    try:
        return datetime.strptime(sealed_time, "%Y-%m-%dT%H:%M:%SZ")
    except ValueError:
        return None
