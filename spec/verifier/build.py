"""Ledgers made by hand, for the tests and the vectors."""

from blake3 import Blake3

KEY = "8d0c" * 16


def head_body(device="crush-laptop", herd="quillmere", follows="", key=KEY):
    return f"footfold 1 herd {herd} device {device} key {key} zone Europe/London{follows}"


def full_mark(data):
    """The full mark of the last line of `data`, which ends in a sealed line."""
    return Blake3(data[:-17]).hexdigest()


def seal(data, body, minute, year=2026):
    """`data` with one more line, sealed at a minute of one morning."""
    return seal_at(data, body, f"{year}-03-14T09:{minute:02}:11Z")


def seal_at(data, body, sealed):
    before = data + f"{body} | {sealed} ".encode()
    return before + Blake3(before).hexdigest()[:16].encode() + b"\n"


def ledger(bodies, **head):
    data = seal(b"", head_body(**head), 0)
    for minute, body in enumerate(bodies, 1):
        data = seal(data, body, minute)
    return data


class Growing:
    """A ledger that is long: each byte is hashed once. Of each line it keeps what a witness says of it."""

    def __init__(self, head):
        self.data, self.seen, self._hasher = b"", [], Blake3()
        self.add(head)

    def add(self, body):
        before = f"{body} | 2026-03-14T09:00:11Z ".encode()
        self._hasher.update(before)
        full = self._hasher.hexdigest()
        mark = full[:16].encode() + b"\n"
        self._hasher.update(mark)
        self.data += before + mark
        self.seen.append(f"length {len(self.data)} mark {full}")


def rows(data):
    """The lines of a ledger that ends in LF, each with its LF."""
    return [row + b"\n" for row in data.split(b"\n")[:-1]]
