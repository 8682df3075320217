"""How a vector is read: header lines `key: value`, an empty line, then sections."""


class Mismatch(Exception):
    pass


def read_case(path):
    """The header as a dict, and what follows the first empty line."""
    content = path.read_bytes().decode("utf-8")
    if path.suffix == ".json":
        return {}, content
    header, gap, rest = content.partition("\n\n")
    if not gap:
        raise Mismatch("no empty line after the header")
    return dict(row.split(": ", 1) for row in header.split("\n")), rest


def sections(rest, names=()):
    """Lines under each `name:` line: a name is one word, or one of these."""
    found, current = {}, None
    for row in rest.split("\n"):
        if row.endswith(":") and (row[:-1].isalpha() or row[:-1] in names):
            current = found.setdefault(row[:-1], [])
        elif row:
            if current is None:
                raise Mismatch(f"{row!r} is in no section")
            current.append(row)
    return found


def expect(what, wanted, got):
    if wanted != got:
        raise Mismatch(f"{what} should be {wanted!r}, is {got!r}")
