"""What a line knows of the herd's ledgers (members.md §5).

A line knows the beginning of each ledger, so what it knows is a number of lines for each device.
"""

from typing import NamedTuple


class Seat(NamedTuple):
    """A line's place in the ledger of a device, counted from 0 over all its files, and the key that its file has."""
    device: str
    index: int
    key: str


class Written(NamedTuple):
    ledger: object
    row: object
    line: object    # None if it is a head, or not canonical


class Knowledge:
    def __init__(self, files):
        """`files` as (device, year, ledger), those of a device in the order of their years."""
        self.written, self._index, self._files = {}, {}, {}
        for device, year, ledger in files:
            lines = self.written.setdefault(device, [])
            self._files[device, year] = ledger
            observations = {row.number: line for row, line in ledger.readable}
            for row in ledger.lines:
                self._index[device, year, row.number] = len(lines)
                lines.append(Written(ledger, row, observations.get(row.number)))
        self._of_others = {device: [] for device in self.written}    # for each line, what is known just behind it
        self._work_out()

    def seat_of(self, device, year, row):
        return self._seat(device, self._index[device, year, row.number])

    def seats(self, *acts):
        """The places of all lines with these acts."""
        for device, lines in self.written.items():
            for index, written in enumerate(lines):
                if written.line and written.line.act in acts:
                    yield self._seat(device, index), written.line

    def seats_in(self, device, year):
        """(row, seat) of the lines of a file after its head; none if the file is not of the herd."""
        ledger = self._files.get((device, year))
        return [(row, self.seat_of(device, year, row)) for row in ledger.lines[1:]] if ledger else []

    def next_seat(self, device):
        """Where a line that followed the last one would stand."""
        lines = self.written[device]
        return self._seat(device, len(lines) - 1)._replace(index=len(lines))

    def before(self, seat):
        """How many lines of each device the line at a seat knows."""
        others = self._of_others[seat.device][seat.index - 1] if seat.index else {}
        return {**others, seat.device: seat.index}

    def knows(self, seat, other):
        return self.before(seat).get(other.device, 0) > other.index

    def of_everybody(self):
        return {device: len(lines) for device, lines in self.written.items()}

    def index_of_mark(self, device, full_mark):
        """Which line of a device has a full mark, or None if it is not here."""
        for index, (ledger, row, _) in enumerate(self.written.get(device, ())):
            if row.mark == full_mark[:16] and ledger.full_mark(row) == full_mark:
                return index
        return None

    def _seat(self, device, index):
        return Seat(device, index, self.written[device][index].ledger.head.key)

    def _work_out(self):
        """Each ledger as far as it goes; a witness waits until what it saw is worked out.

        A witness holds a hash of what it saw, so no two can wait for each other.
        """
        moved = True
        while moved:
            moved = False
            for device, lines in self.written.items():
                done = self._of_others[device]
                while len(done) < len(lines) and (known := self._behind(device, len(done))) is not None:
                    done.append(known)
                    moved = True

    def _behind(self, device, index):
        """What is known of other devices just behind a line, or None if that waits for another ledger."""
        known = self._of_others[device][index - 1] if index else {}
        seen = self._seen(device, self.written[device][index].line)
        if seen is None:
            return known
        other, last = seen
        if last >= len(self._of_others[other]):
            return None
        return larger(known, {**self._of_others[other][last], other: last + 1}, besides=device)

    def _seen(self, device, line):
        """The device, and which of its lines a witness saw last, if the file agrees."""
        if line is None or line.act != "witness" or line.parts["device"] == device:
            return None
        other, year = line.parts["device"], line.parts["year"]
        ledger = self._files.get((other, year))
        row = ledger and ledger.line_seen(line.parts["length"], line.parts["mark"])
        return (other, self._index[other, year, row.number]) if row else None


def larger(one, other, besides):
    devices = (one.keys() | other.keys()) - {besides}
    return {device: max(one.get(device, 0), other.get(device, 0)) for device in devices}
