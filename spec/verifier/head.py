"""The head: the body of a file's first line (mark.md §2)."""

import re
from typing import NamedTuple

from refused import Refused
from values import device

SHAPE = re.compile(
    rb"footfold 1 herd ([a-z0-9-]+) device ([a-z0-9-]+) key ([0-9a-f]{64}) zone ([A-Za-z0-9/_+-]+)"
    rb"(?: founder ([0-9a-f]{64}))?"
    rb"(?: follows ([0-9]{4}) ([0-9a-f]{64}))?"
)


class Head(NamedTuple):
    herd: str
    device: str
    key: str
    zone: str
    founder: str | None
    follows_year: str | None
    follows_mark: str | None

    @property
    def herd_key(self):
        """The founder's key. It is the device's own if the device begins the herd (members.md §1)."""
        return self.founder or self.key


def read(body):
    """The Head, or None if the body is not one."""
    found = SHAPE.fullmatch(body)
    if not found:
        return None
    head = Head(*(part and part.decode() for part in found.groups()))
    try:
        device(head.herd)   # a herd's name obeys the same rule
        device(head.device)
    except Refused:
        return None
    return head
