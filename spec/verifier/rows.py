"""A file as rows of bytes, and which of them have the shape of a sealed line (mark.md §3)."""

import re
from typing import NamedTuple

SEAL = re.compile(rb" \| [0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z [0-9a-f]{16}")
SEAL_BYTES, MARK_BYTES, TIME_BYTES = 40, 16, 20


class Row(NamedTuple):
    number: int     # from 1
    start: int
    end: int        # just after the LF
    content: bytes  # without the LF
    sealed: bool    # by its shape: nothing is said of its mark

    @property
    def body(self):
        return self.content[:-SEAL_BYTES]

    @property
    def sealed_time(self):
        return self.content[-MARK_BYTES - 1 - TIME_BYTES:-MARK_BYTES - 1].decode()

    @property
    def mark(self):
        return self.content[-MARK_BYTES:].decode()

    @property
    def mark_start(self):
        return self.end - 1 - MARK_BYTES


def has_sealed_shape(content):
    return len(content) > SEAL_BYTES and SEAL.fullmatch(content[-SEAL_BYTES:]) is not None


def sealed_part(data):
    """All rows up to the last one of sealed shape, loose ones among them too."""
    rows, keep, start = [], 0, 0
    while (feed := data.find(b"\n", start)) >= 0:
        content = data[start:feed]
        rows.append(Row(len(rows) + 1, start, feed + 1, content, has_sealed_shape(content)))
        if rows[-1].sealed:
            keep = len(rows)
        start = feed + 1
    return rows[:keep]
