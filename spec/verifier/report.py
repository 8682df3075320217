"""The verdict as short lines for people, and as JSON for programs."""

from herd import stated


def as_json(herd):
    return {"well": all_well(herd), "files": files_as_json(herd)}


def files_as_json(herd):
    return [
        {
            "device": file.device,
            "year": file.year,
            "lines": len(file.raw.lines),
            "unbroken": file.raw.unbroken,
            "only_looks_changed": file.only_looks_changed,
            "first_broken": file.raw.first_broken,
            "vouched_bytes": file.raw.vouched_bytes,
            "complete_up_to": file.complete_up_to,
            "not_canonical": [number for number, _ in file.raw.not_canonical],
            "stated": stated(file),
            **rights_in(herd, file),
            "findings": file.findings,
            "notes": file.notes,
        }
        for file in sorted(herd.files, key=lambda file: (file.device, file.year))
    ]


def rights_in(herd, file):
    """Of each line behind the head, if the file is of the herd; and what its device and key may do now."""
    members = herd.members
    seats = [seat for _, seat in members.knowledge.seats_in(file.device, file.year)]
    return {
        "rights": [members.word(seat) for seat in seats],
        "not_a_keeper": [seat.place[1] for seat in seats if members.is_no_keepers(seat)],
        "now": members.now(file.device, file.ledger.head.key) if file.ledger.head else None,
    }


def all_well(herd):
    """mark.md §13. That nobody has seen a file is no finding: a herd of one device has nobody to witness it."""
    apart = herd.misnamed_protocols or herd.missing or any(own for _, own in herd.copies)
    return not apart and all(file.ledger.unbroken and not file.findings for file in herd.files)


def as_text(herd):
    yield from (f"protocols/{name}  broken: its bytes are not those it is named for" for name in herd.misnamed_protocols)
    yield from (f"{device}/{year}  missing (seen by {by})" for device, year, by in herd.missing)
    yield from (file_line(file) for file in sorted(herd.files, key=worst_first))
    yield from (f"{printable(place)}  {copy_line(own)}" for place, own in herd.copies)
    yield from (f"{printable(place)}  ignored: {why}" for place, why in herd.ignored)
    yield closing_line(herd)


def rights(herd):
    """Of each line that is merged, and of each device now (members.md)."""
    members = herd.members
    for device, year, _ in herd.merged:
        for row, seat in members.knowledge.seats_in(device, year):
            yield f"{device} {year} {row.number} {members.word(seat)}"
            if members.is_no_keepers(seat):
                yield f"{device} {year} {row.number} not a keeper"
    yield from (f"{device} now {members.now(device, key)}" for device, key in sorted(members.knowledge.written))


def worst_first(file):
    return file.ledger.unbroken, not file.findings, file.seen is not None, file.device, file.year


def file_line(file):
    ledger = file.ledger
    state = "unbroken, only looks changed" if file.only_looks_changed else "unbroken" if ledger.unbroken else f"broken at line {ledger.first_broken}"
    parts = [f"{file.device}/{file.year}", count(len(ledger.lines), "line"), state, completeness(file), *file.findings, *file.notes]
    return "  ".join(parts)


def copy_line(own):
    if not own:
        return "a copy beside a ledger, with no lines of its own"
    return f"a copy beside a ledger, with {count(len(own), 'line')} of its own, the first is line {own[0]}"


def completeness(file):
    if file.seen is None:
        return "seen by nobody else"
    words = f"complete up to line {file.seen.line} (seen by {file.seen.by})"
    if file.seen_by_others not in (None, file.seen):
        words += f", line {file.seen_by_others.line} (seen by {file.seen_by_others.by})"
    return words


def closing_line(herd):
    broken = sum(not file.ledger.unbroken for file in herd.files)
    lines = sum(len(file.ledger.lines) for file in herd.files)
    verdict = "all unbroken" if not broken else f"{broken} broken"
    names = sorted({file.ledger.head.herd for file in herd.files if file.ledger.head})
    return f"{' and '.join(names) or 'no herd'}: {count(len(herd.files), 'file')}, {count(lines, 'sealed line')}, {verdict}"


def count(number, thing):
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def printable(place):
    """A stranger's file name may hold anything, even what moves the cursor of a terminal."""
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in place)
