"""Vectors of signed statements (mark.md §15 to 17), written by `make_mark_vectors.py`.

They are mark vectors with a `.sig` file in the header, a row a line. What is expected of them is written by
hand here. The signatures are made by `ed25519.py`; those that a careless verifier takes for good are made
from its parts.
"""

import ed25519
from build import full_mark, head_body, rows, seal
from ed25519 import BASE, L, add, decode, encode, expanded, hashed, times

SECRET, OTHER_SECRET = bytes.fromhex("8d0c" * 16), bytes.fromhex("77e0" * 16)
KEY = ed25519.public_key(SECRET).hex()
SCORES = [f"2026-03-14 {cow} score 2 by kj" for cow in range(417, 421)]
LINES = len(SCORES) + 1
AT = "2026-03-14T18:00:00Z"
OF_SMALL_ORDER = (1).to_bytes(32, "little")                     # the neutral point
SPELLED_OTHERWISE = (2 ** 255 - 19 + 1).to_bytes(32, "little")  # the same, not reduced
ORDER_8 = bytes.fromhex("c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a")
NO_POINT = (2).to_bytes(32, "little")
WITHIN_THE_CURVE = "an equation taken eight times would hold"


def ledger_of(key):
    data = seal(b"", head_body(key=key), 0)
    for minute, body in enumerate(SCORES, 1):
        data = seal(data, body, minute)
    return data


GOOD = ledger_of(KEY)


def upto(number, data=GOOD):
    """The file up to and with a line."""
    return b"".join(rows(data)[:number])


def said(part, herd="quillmere", device="crush-laptop", year="2026", length=None, mark=None, at=AT):
    length, mark = length or len(part), mark or full_mark(part)
    return f"footfold 1 statement herd {herd} device {device} year {year} length {length} mark {mark} at {at}"


def signed(text, secret=SECRET):
    return with_signature(text, ed25519.sign(secret, text.encode()))


def with_signature(text, signature):
    return f"{text} signed {signature.hex()}"


def stated(number, **other):
    return signed(said(upto(number), **other))


def forged(text, point, key=bytes.fromhex(KEY), nonce=7):
    """A signature with this point: it is right if the point is that of the nonce, and the key that of SECRET."""
    answer = (nonce + hashed(point, key, text.encode()) * expanded(SECRET)[0]) % L
    return with_signature(text, point + answer.to_bytes(32, "little"))


def with_small_part(encoded):
    return encode(add(decode(encoded), decode(ORDER_8)))


def good():
    """name, comment, lines of the .sig file, which line of the ledger they reach"""
    yield "statement", "the device's word for all of the file", [stated(LINES)], LINES
    yield "statement-of-a-part", "the file grew after it was stated", [stated(3)], 3
    yield "statement-of-the-head", "nothing was written yet", [stated(1)], 1
    yield "statements", "one a line, the newest last", [stated(2), stated(3), stated(LINES)], LINES
    yield "statement-twice", "the same length stated at two times", [stated(3), stated(3, at="2026-03-15T08:00:00Z")], 3


def nothing():
    """name, comment, a line that says nothing"""
    right = stated(LINES)
    text, signature = said(GOOD), ed25519.sign(SECRET, said(GOOD).encode())
    yield "statement-signature-changed", "one digit of the signature", right[:-1] + ("0" if right[-1] != "0" else "1")
    yield "statement-length-changed", "the length of another line under the same signature", right.replace(
        f"length {len(GOOD)}", f"length {len(upto(4))}")
    yield "statement-time-changed", "the time is signed too", right.replace("T18:00:00Z", "T18:00:01Z")
    yield "statement-by-another-key", "the key is that of the file's head, no other", signed(text, OTHER_SECRET)
    yield "statement-of-another-herd", "well signed, but of another file", stated(LINES, herd="elsewhere")
    yield "statement-of-another-device", "well signed, but of another file", stated(LINES, device="vet-tablet")
    yield "statement-of-another-year", "well signed, but of another file", stated(LINES, year="2025")
    yield "statement-no-day-of-the-calendar", "the time is as in a seal", stated(LINES, at="2026-02-30T18:00:00Z")
    yield "statement-length-with-a-zero", "one spelling of a number", stated(LINES, length=f"0{len(GOOD)}")
    yield "statement-mark-in-capitals", "one spelling of a mark", stated(LINES, mark=full_mark(GOOD).upper())
    yield "statement-signature-in-capitals", "one spelling of a signature", with_signature(text, signature).replace(
        signature.hex(), signature.hex().upper())
    yield "statement-of-format-2", "not this format", signed(text.replace("footfold 1", "footfold 2"))
    yield "statement-two-spaces", "well signed, but not in the form", signed(text.replace(" device", "  device"))
    yield "statement-space-signed", "the space before `signed` is not among the bytes that are signed", with_signature(
        text, ed25519.sign(SECRET, f"{text} ".encode()))
    yield "statement-cut", "the end of the line is missing", right[:-20]
    answer = int.from_bytes(signature[32:], "little") + L
    yield "statement-second-spelling", "the number of the signature is not below the order of the group", with_signature(
        text, signature[:32] + answer.to_bytes(32, "little"))
    yield "statement-point-of-small-order", "the point of the signature is of small order", forged(
        text, OF_SMALL_ORDER, nonce=0)
    yield "statement-point-spelled-otherwise", "the point of the signature is not reduced", forged(
        text, SPELLED_OTHERWISE, nonce=0)
    yield "statement-point-with-a-small-part", WITHIN_THE_CURVE, forged(text, with_small_part(encode(times(7, BASE))))


def keys():
    """name, comment, the key in the head: a careless verifier takes the signature for good, or stumbles"""
    yield "statement-key-of-small-order", "with such a key one signature is right for any text", OF_SMALL_ORDER
    yield "statement-key-spelled-otherwise", "the key is not reduced", SPELLED_OTHERWISE
    yield "statement-key-no-point", "no point has this key", NO_POINT
    yield "statement-key-with-a-small-part", WITHIN_THE_CURVE, with_small_part(bytes.fromhex(KEY))


def by_strange_key(data, key):
    text = said(data)
    point = encode(times(7, BASE))
    if key != with_small_part(bytes.fromhex(KEY)):
        return with_signature(text, point + (7).to_bytes(32, "little"))
    nonce = 7
    while hashed(point, key, text.encode()) % 8 == 0:
        nonce += 1
        point = encode(times(nonce, BASE))
    return forged(text, point, key, nonce)


def claims():
    """name, comment, lines of the .sig file, the line they reach (0 for none), findings"""
    longer, other = seal(GOOD, SCORES[0], 30), ledger_of("51ab" * 16)
    yield "statement-beyond-the-file", "lines are missing here", [signed(said(longer))], 0, "shorter"
    yield "statement-beyond-then-within", "the longest that agrees counts", [stated(3), signed(said(longer))], 3, "shorter"
    yield "statement-of-other-lines", "another mark at the end of a line", [stated(LINES, mark="9f1e" * 16)], 0, "different"
    yield "statement-within-a-line", "no sealed line ends there", [stated(LINES, length=len(GOOD) - 1)], 0, "different"
    yield "statements-disagree-at-one-length", "two marks for one length are two histories, whatever is here", [
        stated(3), signed(said(upto(3, other), length=len(upto(3))))], 3, "different, two histories"
    yield "statements-disagree", "the file as it is at the longer one's length has not the mark of the shorter one", [
        stated(2, mark="9f1e" * 16), stated(4)], 4, "different, two histories"
    yield "statements-disagree-the-newer-shorter", "in whatever order they stand", [
        stated(4), stated(2, mark="9f1e" * 16)], 4, "different, two histories"
    yield "statements-perhaps-agree", "the longer one's file is not here: it may have gone on from the shorter one", [
        stated(2), stated(4, mark="9f1e" * 16)], 2, "different"
    yield "statements-one-says-nothing", "a wrong signature proves no second history, and harms no other line", [
        stated(3), stated(3, mark="9f1e" * 16)[:-2] + "zz", stated(4)], 4, "says nothing"


def all_vectors():
    """name, comment, bytes of the ledger, lines of the .sig file, bytes that they vouch for, findings"""
    for name, comment, lines, reach in good():
        yield name, comment, GOOD, lines, len(upto(reach)), "none"
    for name, comment, line in nothing():
        yield name, comment, GOOD, [line], 0, "says nothing"
    for name, comment, key in keys():
        data = ledger_of(key.hex())
        yield name, comment, data, [by_strange_key(data, key)], 0, "says nothing"
    for name, comment, lines, reach, findings in claims():
        yield name, comment, GOOD, lines, len(upto(reach)), findings
    typed = GOOD + b"419 2 by ao\n"
    yield "statement-before-a-tail", "what is typed behind does not matter", typed, [stated(LINES)], len(GOOD), "none"
    over = signed(said(GOOD, length=len(typed)))
    yield "statement-over-a-tail", "typed lines are no sealed lines", typed, [over], 0, "different"
    founded = seal(b"", head_body(key=KEY, follows=" founder " + "51ab" * 16), 0)
    yield "statement-of-a-later-device", "the head names the founder; the key is the device's own", founded, [
        signed(said(founded))], len(founded), "none"


def header_rows(lines, complete, findings):
    yield from (f"sig {number}: {line}" for number, line in enumerate(lines, 1))
    yield f"complete: {complete}"
    yield f"findings: {findings}"
