"""What a line knows of the herd's ledgers (members.md §4, §5).

A ledger is a device's files with one key. A line knows the beginning of each ledger, so what it knows is a number of
lines for each.
"""

from typing import NamedTuple


class Seat(NamedTuple):
    """Where a line stands: in which ledger, as which of its lines from 0 on, and in which row of which year."""
    device: str
    key: str
    index: int
    place: tuple    # year, number of the row; by these come all lines of a device, whatever the key

    @property
    def ledger(self):
        return self.device, self.key


class Written(NamedTuple):
    file: object
    row: object
    seat: Seat
    line: object    # None if it is a head, or not canonical


class Knowledge:
    def __init__(self, files):
        """`files` as (device, year, ledger), those of a device in the order of their years."""
        self.written, self._seats, self._files = {}, {}, {}
        for device, year, file in files:
            lines = self.written.setdefault((device, file.head.key), [])
            self._files[device, year] = file
            observations = {row.number: line for row, line in file.readable}
            for row in file.lines:
                seat = Seat(device, file.head.key, len(lines), (year, row.number))
                self._seats[device, year, row.number] = seat
                lines.append(Written(file, row, seat, observations.get(row.number)))
        self._of_others = {ledger: [] for ledger in self.written}    # for each line, what is known just behind it
        self._work_out()

    def seat_of(self, device, year, row):
        return self._seats[device, year, row.number]

    def said(self, *acts):
        """(seat, line) of all lines with these acts, for each ledger."""
        for lines in self.written.values():
            yield [(written.seat, written.line) for written in lines if written.line and written.line.act in acts]

    def seats_in(self, device, year):
        """(row, seat) of the lines of a file after its head; none if the file is not of the herd."""
        file = self._files.get((device, year))
        return [(row, self.seat_of(device, year, row)) for row in file.lines[1:]] if file else []

    def first_heads(self):
        """(device, head) of the first file of each device."""
        first = {}
        for (device, _), file in self._files.items():
            first.setdefault(device, file.head)
        return first.items()

    def before(self, seat):
        """How many lines of each ledger the line at a seat knows."""
        others = self._of_others[seat.ledger][seat.index - 1] if seat.index else {}
        return {**others, seat.ledger: seat.index}

    def knows(self, seat, other):
        return is_in(self.before(seat), other)

    def of_everybody(self):
        return {ledger: len(lines) for ledger, lines in self.written.items()}

    def seat_of_mark(self, device, full_mark):
        """The line of a device with a full mark, or None if it is not here."""
        for (of_device, _), lines in self.written.items():
            for file, row, seat, _ in lines if of_device == device else ():
                if row.mark == full_mark[:16] and file.full_mark(row) == full_mark:
                    return seat
        return None

    def _work_out(self):
        """Each ledger as far as it goes; a witness waits until what it saw is worked out.

        A witness holds a hash of what it saw, so no two can wait for each other.
        """
        moved = True
        while moved:
            moved = False
            for ledger, lines in self.written.items():
                done = self._of_others[ledger]
                while len(done) < len(lines) and (known := self._behind(ledger, len(done))) is not None:
                    done.append(known)
                    moved = True

    def _behind(self, ledger, index):
        """What is known of other ledgers just behind a line, or None if that waits for another ledger."""
        known = self._of_others[ledger][index - 1] if index else {}
        last = self._seen(self.written[ledger][index].line)
        if last is None or last.ledger == ledger:
            return known
        if last.index >= len(self._of_others[last.ledger]):
            return None
        return larger(known, {**self._of_others[last.ledger][last.index], last.ledger: last.index + 1}, besides=ledger)

    def _seen(self, line):
        """The last line that a witness saw, if the file agrees."""
        if line is None or line.act != "witness":
            return None
        device, year = line.parts["device"], line.parts["year"]
        file = self._files.get((device, year))
        row = file and file.line_seen(line.parts["length"], line.parts["mark"])
        return self.seat_of(device, year, row) if row else None


def is_in(known, seat):
    return known.get(seat.ledger, 0) > seat.index


def larger(one, other, besides):
    ledgers = (one.keys() | other.keys()) - {besides}
    return {ledger: max(one.get(ledger, 0), other.get(ledger, 0)) for ledger in ledgers}
