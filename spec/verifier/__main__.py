"""python3 spec/verifier HERD_FOLDER [--json], or python3 spec/verifier --vectors spec/vectors"""

import argparse
import json
import sys
from pathlib import Path

import report
import vectors
from herd import Herd

WELL, NOT_WELL, CANNOT_TELL = 0, 1, 2


def main():
    options = arguments()
    sys.stdout.reconfigure(encoding="utf-8", errors="backslashreplace")
    if options.vectors:
        return run_vectors(options.vectors)
    if not (options.herd / "ledgers").is_dir():
        print(f"{options.herd} has no ledgers folder", file=sys.stderr)
        return CANNOT_TELL
    try:
        herd = Herd(options.herd)
    except OSError as why:
        print(why, file=sys.stderr)
        return CANNOT_TELL
    if options.json:
        print(json.dumps(report.as_json(herd), indent=1))
    else:
        print(*report.as_text(herd), sep="\n")
    return WELL if report.all_well(herd) else NOT_WELL


def arguments():
    parser = argparse.ArgumentParser(prog="python3 spec/verifier", description="Verify a herd's ledgers.")
    parser.add_argument("herd", type=Path, nargs="?", help="a herd folder")
    parser.add_argument("--json", action="store_true", help="a verdict for programs")
    parser.add_argument("--vectors", type=Path, metavar="FOLDER", help="run the conformance vectors instead")
    options = parser.parse_args()
    if (options.herd is None) == (options.vectors is None):
        parser.error("give a herd folder, or --vectors and a folder")
    return options


def run_vectors(folder):
    passed, failures = vectors.run(folder)
    for failure in failures:
        print(failure)
    print(f"{passed} passed, {len(failures)} failed")
    return WELL if not failures else NOT_WELL


if __name__ == "__main__":
    sys.exit(main())
