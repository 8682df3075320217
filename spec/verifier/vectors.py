"""Conformance vectors: one file, one case.

A case that cannot be read counts as failed, so that none is skipped unseen.
"""

import json

import line
import log_vectors
import members_vectors
import text
from blake3 import Blake3
from herd import File, claims_of, findings_in_statements
from ledger import Ledger
from refused import Refused
from vectors_read import Mismatch, expect, read_case, sections


def run(root):
    """How many passed, and one line for each that did not."""
    passed, failures = 0, []
    for chapter, check in CHAPTERS.items():
        cases = sorted(path for path in (root / chapter).rglob("*") if path.is_file())
        if not cases and chapter in WHOLE_CHAPTERS:
            failures.append(f"{chapter}: no vectors")
        for path in cases:
            try:
                (check if path.suffix == ".txt" else blake3_vectors)(*read_case(path))
                passed += 1
            except (Mismatch, Refused, LookupError, ValueError, OSError) as why:
                failures.append(f"{chapter}/{path.name}: {type(why).__name__}: {why}")
    return passed, failures


def check_line(header, rest):
    body, _, after = rest.partition("\n")
    expect("the text after the body", "", after)
    try:
        line.read(body.encode())
    except Refused as why:
        expect(f"the verdict ({why})", header["expect"], "refused")
        expect("the rule", header["rule"], why.clause)
    else:
        expect("the verdict", header["expect"], "ok")


def check_text(header, rest):
    expect("expect", "ok", header["expect"])
    parts = sections(rest)
    got = text.read(bytes.fromhex("".join(parts["bytes"])))
    expect("the encoding", header["encoding"], got.encoding)
    expect("the lines", [json.loads(row) for row in parts["lines"]], got.lines)
    expect("the reports", sorted(parts["reports"]), sorted(got.reports))


def check_mark(header, rest):
    data = bytes.fromhex("".join(sections(rest)["bytes"]))
    ledger = Ledger(data)
    verdict = "unbroken" if ledger.unbroken else f"broken at {ledger.first_broken}"
    expect("the verdict", header["expect"], verdict)
    expect("the vouched part", int(header["vouched"]), ledger.vouched_bytes)
    if "findings" in header:
        check_statements(header, data, ledger.head)


def check_statements(header, data, head):
    """A `.sig` file stands in the header, a row a line."""
    lines = [value for key, value in header.items() if key.startswith("sig ")]
    file = File(head.device, "2026", data, "".join(f"{line}\n" for line in lines).encode())
    for claim in claims_of(file):
        file.weigh(claim)
    expect("what is vouched for by statements", int(header["complete"]), file.complete_up_to)
    findings = [*file.findings, *findings_in_statements(file)]
    kinds = ("says nothing", "shorter", "different", "two histories")
    found = [words for words in kinds if any(words in one for one in findings)]
    expect("the findings", header["findings"], ", ".join(found) or "none")


def check_typing(header, rest):
    """How typed text is understood is not this program's business; what comes of it must be canonical."""
    rows = "\n".join(row for row in rest.split("\n") if not row.startswith("typed-json: "))
    for row in sections(rows)["lines"]:
        line.read(row.removeprefix("  ").encode())


def blake3_vectors(_, content):
    for case in json.loads(content)["cases"]:
        data = bytes(i % 251 for i in range(case["length"]))
        expect(f"the hash of {case['length']} bytes", case["hash"], Blake3(data).hexdigest())


WHOLE_CHAPTERS = ("text", "line", "mark", "members", "merge", "fold")
CHAPTERS = {
    "text": check_text,
    "line": check_line,
    "mark": check_mark,
    "members": members_vectors.check_members,
    "merge": log_vectors.check_merge,
    "fold": log_vectors.check_fold,
    "typing": check_typing,
}
