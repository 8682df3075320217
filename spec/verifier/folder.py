"""What lies in a herd folder: ledgers, protocols, and what is passed over."""

import re
from typing import NamedTuple

from refused import Refused
from values import device

FILE_BYTES = 4_000_000_000


class Found(NamedTuple):
    ledgers: list       # (device, year, path)
    statements: list    # (device, year, path)
    protocols: list     # (hash, path)
    ignored: list       # (place in the folder, why)
    copies: list        # (device, path): left beside ledgers by programs that copy folders (mark.md §14)


def look(root):
    found = Found([], [], [], [], [])
    for path in entries(root):
        if path.name not in ("ledgers", "protocols"):
            found.ignored.append((path.name, "not a part of a herd folder"))
        elif not is_folder(path):
            found.ignored.append((path.name, "not a folder"))
        elif path.name == "ledgers":
            look_at_ledgers(path, found)
        else:
            look_at_protocols(path, found)
    return found


def look_at_ledgers(ledgers, found):
    for folder in entries(ledgers):
        place = f"ledgers/{folder.name}"
        if not is_device(folder.name):
            found.ignored.append((place, "not a device's name"))
        elif not is_folder(folder):
            found.ignored.append((place, "not a folder"))
        else:
            for path in entries(folder):
                why = why_no_file(path, r"[0-9]{4}\.(txt|sig)", "not named YEAR.txt or YEAR.sig")
                if why_no_file(path, r"(?s)[0-9]{4}[^a-zA-Z0-9].*\.txt", "no copy") is None:
                    found.copies.append((folder.name, path))
                elif why:
                    found.ignored.append((f"{place}/{path.name}", why))
                else:
                    kind = found.ledgers if path.suffix == ".txt" else found.statements
                    kind.append((folder.name, path.stem, path))


def look_at_protocols(protocols, found):
    for path in entries(protocols):
        why = why_no_file(path, r"[0-9a-f]{64}\.ron", "not named for a hash")
        if why:
            found.ignored.append((f"protocols/{path.name}", why))
        else:
            found.protocols.append((path.stem, path))


def entries(folder):
    return sorted(folder.iterdir(), key=lambda path: path.name)


def is_folder(path):
    return path.is_dir() and not path.is_symlink()


def is_device(name):
    try:
        return device(name) == name
    except Refused:
        return False


def why_no_file(path, pattern, misnamed):
    """A link may point out of the folder, and a pipe may never end, so neither is opened."""
    if not re.fullmatch(pattern, path.name):
        return misnamed
    if path.is_symlink() or not path.is_file():
        return "not a regular file"
    if path.stat().st_size > FILE_BYTES:
        return "longer than a ledger may be"
    return None
