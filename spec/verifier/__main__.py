"""python3 spec/verifier HERD_FOLDER... [--json], HERD_FOLDER --rights, HERD_FOLDER --state DATE, or --vectors spec/vectors"""

import argparse
import json
import sys
from pathlib import Path

import report
import state_text
import values
import vectors
from fold import Fold
from herd import Herd
from merge import Log, entries_of
from protocol import Protocols
from refused import Refused

WELL, NOT_WELL, CANNOT_TELL = 0, 1, 2


def main():
    options = arguments()
    sys.stdout.reconfigure(encoding="utf-8", errors="backslashreplace")
    if options.vectors:
        return run_vectors(options.vectors)
    return max(judge(folder, options) for folder in options.herds)


def judge(folder, options):
    if not (folder / "ledgers").is_dir():
        print(f"{folder} has no ledgers folder", file=sys.stderr)
        return CANNOT_TELL
    try:
        herd = Herd(folder)
    except OSError as why:
        print(why, file=sys.stderr)
        return CANNOT_TELL
    if options.state:
        return print_state(herd, options)
    if options.rights:
        print(*report.rights(herd), sep="\n")
        return WELL
    if options.json:
        print(json.dumps(report.as_json(herd)))
    else:
        print(*report.as_text(herd), sep="\n")
    return WELL if report.all_well(herd) else NOT_WELL


def arguments():
    parser = argparse.ArgumentParser(prog="python3 spec/verifier", description="Verify a herd's ledgers.")
    parser.add_argument("herds", type=Path, nargs="*", metavar="HERD_FOLDER", help="a herd folder")
    parser.add_argument("--json", action="store_true", help="a verdict for programs, one line a herd")
    parser.add_argument("--rights", action="store_true", help="who had which right at each line, and has now")
    parser.add_argument("--vectors", type=Path, metavar="FOLDER", help="run the conformance vectors instead")
    parser.add_argument("--state", type=word(values.date), metavar="DATE", help="the state of the cows at its end")
    parser.add_argument("--known", type=word(values.sealed_time), metavar="TIME", help="as it was known then, UTC")
    options = parser.parse_args()
    if bool(options.herds) == (options.vectors is not None):
        parser.error("give a herd folder, or --vectors and a folder")
    if options.known and not options.state:
        parser.error("--known goes with --state")
    return options


def word(read):
    """A reader of words of a line, as a reader of arguments."""
    def read_argument(argument):
        try:
            return read(argument)
        except Refused as why:
            raise argparse.ArgumentTypeError(why.why) from None
    return read_argument


def print_state(herd, options):
    entries = list(entries_of(herd.merged))
    fold = Fold(Log(entries, options.known), options.state, Protocols(herd.protocols))
    for fact in state_text.lines(fold):
        print(fact)
    return WELL


def run_vectors(folder):
    passed, failures = vectors.run(folder)
    for failure in failures:
        print(failure)
    print(f"{passed} passed, {len(failures)} failed")
    return WELL if not failures else NOT_WELL


if __name__ == "__main__":
    sys.exit(main())
