"""Makes spec/vectors/mark/*.txt: one good ledger, and what can happen to it.

python3 spec/verifier/make_mark_vectors.py

The expectations are written by hand here, not taken from the verifier.
"""

from pathlib import Path

from build import KEY, head_body, ledger, rows, seal
from make_statement_vectors import all_vectors, header_rows

FOLDER = Path(__file__).resolve().parent.parent / "vectors" / "mark"
HEX_PER_ROW = 96

BODIES = (
    "2026-03-14 09:12 417 lesion WLA RH outer zone 3 grade 2 by kj: runs toward the heel",
    "2026-03-14 09:12 417 trim lame RH by kj",
    "2026-03-14 09:12 417 block on RH inner wood by kj",
    "2026-03-14 09:15 418 score 3 by ao",
    "2026-03-14 herd bath copper 5% passes 2 by ao",
)
GOOD = ledger(BODIES)
ROWS = rows(GOOD)
LAST = len(ROWS)
OTHER = ledger(("2026-03-14 419 seen RH by mw",), device="vet-tablet")
TYPED = b"419 2 by ao\n"
LINK = " follows 2025 " + "5e1f" * 16
FOUNDER = " founder " + "51ab" * 16


def upto(number):
    """How many bytes stand before line `number` of the good ledger."""
    return sum(map(len, ROWS[:number - 1]))


def without(number):
    return b"".join(ROWS[:number - 1] + ROWS[number:])


def with_before(number, row):
    return b"".join(ROWS[:number - 1] + [row] + ROWS[number - 1:])


def swapped(number):
    return b"".join(ROWS[:number - 1] + [ROWS[number], ROWS[number - 1]] + ROWS[number + 1:])


def edited(number, old, new):
    assert old in ROWS[number - 1]
    return b"".join(ROWS[:number - 1] + [ROWS[number - 1].replace(old, new)] + ROWS[number:])


def with_mark_digit_changed(number):
    digit = ROWS[number - 1][-2:-1]
    changed = ROWS[number - 1][:-2] + (b"0" if digit != b"0" else b"1") + b"\n"
    return b"".join(ROWS[:number - 1] + [changed] + ROWS[number:])


def unbroken():
    """name, bytes, vouched, comment"""
    whole = len(GOOD)
    yield "head-alone", ROWS[0], len(ROWS[0]), "a file that has only begun"
    yield "whole", GOOD, whole, "a head and five sealed lines"
    yield "head-follows", ledger(BODIES[:2], follows=LINK), None, "the head of a second file names the one before"
    yield "head-founder", ledger(BODIES[:2], follows=FOUNDER), None, "a later device's head names the founder"
    yield "head-founder-follows", ledger(BODIES[:2], follows=FOUNDER + LINK), None, "its second file names both"
    yield "typed-tail", GOOD + TYPED, whole, "a typed line is the tail and is not vouched for"
    yield "tail-without-line-end", GOOD + b"419 2", whole, "a tail still being typed"
    yield "tail-not-utf-8", GOOD + b"\xff\xfe\x00\n", whole, "the tail may be any bytes"
    yield "tail-crlf", GOOD + b"\r\n419 2\r\n", whole, "an editor's line ends in the tail"
    yield "cut-at-line-end", GOOD[:upto(4)], upto(4), "unbroken is not complete: the marks that are left are right"
    yield "cut-in-last-mark", GOOD[:-5], upto(LAST), "the last line lost its end, and with it its seal: it is tail"
    yield "cut-before-last-feed", GOOD[:-1], upto(LAST), "a line without its LF is not sealed"
    yield "bar-in-words", ledger((BODIES[0] + " | not a seal",)), None, "the seal is found from the end of the line"
    yield "seal-in-words", ledger((BODIES[0] + " | 2026-03-14T09:20:11Z 3f9c2a7d51be4c08",)), None, \
        "words that look like a seal, with the line's own seal after them"
    yield "seal-of-capitals-in-tail", GOOD + b"419 2 | 2026-03-14T09:20:11Z 3F9C2A7D51BE4C08\n", whole, \
        "hexadecimal capitals are no mark, so this is tail"
    yield "seal-of-40-bytes-in-tail", GOOD + b" | 2026-03-14T09:20:11Z 3f9c2a7d51be4c08\n", whole, \
        "a seal without a body has not the shape of a sealed line"
    yield "seal-with-cr-in-tail", GOOD + b"419 2 | 2026-03-14T09:20:11Z 3f9c2a7d51be4c08\r\n", whole, \
        "the byte before the LF must be the mark's last digit"
    yield "time-steps-back", seal(seal(GOOD, BODIES[3], 50), BODIES[3], 10), None, "sealed times need not increase"
    yield "not-canonical", seal(GOOD, "2026-03-14 417 score  9 by ao", 30), None, \
        "marks say that nothing changed, not that it was well written"
    yield "long", ledger(BODIES * 9), None, "more bytes than one, two and four chunks of the hash"


def broken():
    """name, bytes, first line that does not hold, vouched, comment"""
    yield "empty", b"", 1, 0, "no head"
    yield "only-tail", TYPED * 2, 1, 0, "typed lines without a head"
    yield "head-missing", without(1), 1, 0, "the first line was deleted"
    yield "head-not-a-head", seal(seal(b"", BODIES[3], 0), BODIES[4], 1), 1, 0, "all marks are right, but there is no head"
    yield "head-other-format", seal(b"", head_body().replace("footfold 1", "footfold 2"), 0), 1, 0, "not this format"
    yield "head-follows-founder", ledger(BODIES[:2], follows=LINK + FOUNDER), 1, 0, "every part of a head in its place"
    yield "head-founder-short-key", ledger(BODIES[:2], follows=FOUNDER[:-2]), 1, 0, "a key of 62 digits"
    yield "head-reserved-device", seal(b"", head_body(device="aux"), 0), 1, 0, "a name that cannot be a file's"
    yield "head-key-changed", edited(1, KEY.encode(), KEY.replace("8", "9", 1).encode()), 1, 0, "another key in the head"
    yield "byte-order-mark", b"\xef\xbb\xbf" + GOOD, 1, 0, "an editor put a byte order mark before the head"
    yield "crlf-throughout", GOOD.replace(b"\n", b"\r\n"), 1, 0, "an editor changed every line end: no line is sealed"
    yield "crlf-in-one-line", edited(3, b"\n", b"\r\n"), 3, upto(3), "one line end changed"
    yield "byte-flipped-early", edited(2, b"grade 2", b"grade 3"), 2, upto(2), "one digit of the second line"
    yield "byte-flipped-middle", edited(4, b"inner", b"outer"), 4, upto(4), "the block is on the other claw"
    yield "byte-flipped-last", edited(LAST, b"5%", b"4%"), LAST, upto(LAST), "only the last line changed"
    yield "mark-digit-changed", with_mark_digit_changed(3), 3, upto(3), "a mark is covered by the marks after it"
    yield "sealed-time-changed", edited(4, b"T09:03", b"T09:04"), 4, upto(4), "the sealed time is covered too"
    yield "line-deleted", without(3), 3, upto(3), "the line that moved up does not hold there"
    yield "line-deleted-before-last", without(LAST - 1), LAST - 1, upto(LAST - 1), "only the last line is left to tell"
    yield "lines-swapped", swapped(3), 3, upto(3), "two lines changed places"
    yield "line-doubled", with_before(4, ROWS[2]), 4, upto(4), "the second of the two does not hold"
    yield "loose-line-inside", with_before(4, TYPED), 4, upto(4), "typed between sealed lines"
    yield "empty-line-inside", with_before(3, b"\n"), 3, upto(3), "an empty line between sealed lines"
    yield "loose-line-first", with_before(1, TYPED), 1, 0, "typed above the head"
    yield "seal-damaged", edited(4, b" | ", b" / "), 4, upto(4), "one line lost its shape"
    yield "merge-marks", with_before(5, b"<<<<<<< mine\n"), 5, upto(5), "a merging program wrote between the lines"
    yield "pasted-in-tail", GOOD + rows(OTHER)[1], LAST + 1, len(GOOD), "its mark was right in the other file"
    yield "pasted-after-typed", GOOD + TYPED + rows(OTHER)[1], LAST + 1, len(GOOD), \
        "the pasted line makes the typed line stand inside the sealed part"
    yield "two-files-joined", GOOD + OTHER, LAST + 1, len(GOOD), "the second head does not hold here"
    yield "flip-and-loose-line", edited(2, b"grade 2", b"grade 3") + TYPED + ROWS[3], 2, upto(2), "the first of two breaks"
    yield "loose-line-then-flip", with_before(3, TYPED).replace(b"inner", b"outer"), 3, upto(3), "the first of two breaks"


def write(name, expect, vouched, comment, data, more=()):
    text = data.hex()
    wrapped = "\n".join(text[at:at + HEX_PER_ROW] for at in range(0, len(text), HEX_PER_ROW))
    header = "".join(f"{row}\n" for row in (f"expect: {expect}", f"vouched: {vouched}", f"comment: {comment}", *more))
    (FOLDER / f"{name}.txt").write_bytes(f"{header}\nbytes:\n{wrapped}\n".encode())


def main():
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, data, vouched, comment in unbroken():
        write(name, "unbroken", len(data) if vouched is None else vouched, comment, data)
    for name, data, number, vouched, comment in broken():
        write(name, f"broken at {number}", vouched, comment, data)
    for name, comment, data, lines, complete, findings in all_vectors():
        vouched = data.rindex(b"Z ") + 19
        write(name, "unbroken", vouched, comment, data, header_rows(lines, complete, findings))


if __name__ == "__main__":
    main()
