"""From any bytes to clean lines (text.md)."""

from typing import NamedTuple

GUESSED, INVISIBLE, CONTROL, TOO_LONG = "guessed", "invisible", "control", "too-long"
REPORTS = (GUESSED, INVISIBLE, CONTROL, TOO_LONG)
LINE_BYTES = 2000

BYTE_ORDER_MARKS = (
    (b"\xEF\xBB\xBF", "utf-8"),
    (b"\xFF\xFE", "utf-16le"),
    (b"\xFE\xFF", "utf-16be"),
)
REPLACEMENT = "\uFFFD"


class Text(NamedTuple):
    encoding: str
    lines: list
    reports: list


def read(data):
    """Any bytes at all give lines and the list of what was done to them."""
    encoding, text, guessed = decode(data)
    lines, reports = [], {GUESSED} if guessed else set()
    for line in split(text):
        cleaned, changes = clean(line)
        reports |= changes
        if len(cleaned.encode()) > LINE_BYTES:
            reports.add(TOO_LONG)
        lines.append(cleaned)
    return Text(encoding, lines, [word for word in REPORTS if word in reports])


def decode(data):
    """The encoding's name, the text without its byte order mark, and whether it was a guess."""
    for mark, encoding in BYTE_ORDER_MARKS:
        if data.startswith(mark):
            return encoding, data[len(mark):].decode(encoding, "replace"), False
    encoding = guess(data)
    return encoding, data.decode(encoding, "replace"), encoding != "utf-8"


def guess(data):
    """Plain letters in UTF-16 have a NUL beside each of them, always on the same side."""
    even, odd = data[0::2], data[1::2]
    if many_nul(odd) and hardly_any_nul(even):
        return "utf-16le"
    if many_nul(even) and hardly_any_nul(odd):
        return "utf-16be"
    try:
        data.decode("utf-8")
        return "utf-8"
    except UnicodeDecodeError:
        return "windows-1252"


def many_nul(part):
    return len(part) > 0 and part.count(0) * 4 >= len(part)


def hardly_any_nul(part):
    return part.count(0) * 50 <= len(part)


def split(text):
    """Lines end at LF, CRLF or a lone CR. The library's own line splitting ends them elsewhere too."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    # What follows the last line end is a line only if there is something in it.
    return lines if lines[-1] else lines[:-1]


def characters(*spans):
    """The characters of single code points and (first, last) spans."""
    for span in spans:
        first, last = span if isinstance(span, tuple) else (span, span)
        yield from map(chr, range(first, last + 1))


def _table():
    """Character to (replacement, report). Earlier rows win, hence the setdefault."""
    rows = (
        (" ", None, (9, 0x0B, 0x0C, 0x85, 0xA0, 0x1680, (0x2000, 0x200A), 0x2028, 0x2029, 0x202F, 0x205F, 0x3000)),
        ("'", None, ((0x2018, 0x201B), 0x2032)),
        ('"', None, ((0x201C, 0x201F), 0x2033)),
        ("-", None, ((0x2010, 0x2015), 0x2212)),
        ("...", None, (0x2026,)),
        ("", INVISIBLE, (0xAD, (0x200B, 0x200F), (0x202A, 0x202E), (0x2060, 0x2069), 0xFEFF, 0x061C, 0x180E)),
        ("", CONTROL, ((0, 0x1F), (0x7F, 0x9F))),
    )
    table = {}
    for becomes, report, spans in rows:
        for character in characters(*spans):
            table.setdefault(character, (becomes, report))
    return table


TABLE = _table()


def clean(line):
    """The cleaned line and the set of reports."""
    out, reports = [], set()
    for character in line:
        becomes, report = TABLE.get(character, (character, None))
        out.append(becomes)
        if report:
            reports.add(report)
    return " ".join(word for word in "".join(out).split(" ") if word), reports


def is_clean(line):
    return REPLACEMENT not in line and clean(line)[0] == line
