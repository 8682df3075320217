"""Random inputs of each method, with what a library or an independent formula gives: python make_cases.py FILE SEED."""

import json
import math
import random
import sys

import agreement
import over_time
import shares
import tables

TOPICS = (shares, over_time, tables, agreement)


def clean(value):
    """Plain numbers for JSON; what is no number or infinite is null."""
    if isinstance(value, dict):
        return {name: clean(of) for name, of in value.items()}
    if isinstance(value, (list, tuple)):
        return [clean(of) for of in value]
    if value is None or isinstance(value, (str, bool, int)):
        return value
    value = float(value)
    return value if math.isfinite(value) else None


def cases(seed):
    """All cases of all topics."""
    for topic in TOPICS:
        for method, how_many, make, source, tolerance in topic.METHODS:
            chance = random.Random(f"{seed} {method} {source}")
            for nth in range(how_many):
                made = make(chance, nth)
                if made is None:
                    continue
                inputs, expected = made
                yield {
                    "id": f"{method} {nth}",
                    "method": method,
                    "inputs": clean(inputs),
                    "expected": clean(expected),
                    "tolerance": tolerance[0],
                    "tolerance_kind": tolerance[1],
                    "source": source,
                }


def main():
    file, seed = sys.argv[1], sys.argv[2]
    made = list(cases(seed))
    with open(file, "w", encoding="utf-8") as out:
        json.dump(made, out, allow_nan=False)
    print(f"{len(made)} cases, seed {seed}")


if __name__ == "__main__":
    main()
