#!/usr/bin/env python3
"""Compares freshly computed tables with those stored in ../data, cell by cell.

usage: compare.py FRESH_FOLDER. Exit code 1 when a stored number is not found again."""
import csv
import math
import pathlib
import sys

DATA = pathlib.Path(__file__).resolve().parent.parent / "data"
# stored digits are 7 to 12; roots and integrals of another processor may differ in the last of them
CLOSE = 3e-7
# by the second model, and by PyClaw, which is not always asked
ELSEWHERE = {"reference_model.csv", "two_zones_engine.csv", "pulse_in_ducts.csv"}


def rows(path):
    with open(path, newline="", encoding="utf-8") as lines:
        return list(csv.reader(line for line in lines if not line.startswith("#")))


def number(cell):
    try:
        return float(cell)
    except ValueError:
        return None


def apart(stored, fresh):
    """How far two cells are apart; infinite where they are not alike."""
    a, b = number(stored), number(fresh)
    if a is None or b is None:
        return 0.0 if stored.strip() == fresh.strip() else math.inf
    if a == b or (math.isnan(a) and math.isnan(b)):
        return 0.0
    # what should be zero is rounding on either side
    return 0.0 if max(abs(a), abs(b)) < 1e-12 else abs(a - b) / max(abs(a), abs(b))


def main():
    fresh, bad, missing = pathlib.Path(sys.argv[1]), [], []
    for path in sorted(DATA.glob("*.csv")):
        again = fresh / path.name
        if not again.exists():
            if path.name in ELSEWHERE:
                continue
            missing.append(path.name)
            continue
        old, new = rows(path), rows(again)
        if len(old) != len(new) or any(len(a) != len(b) for a, b in zip(old, new)):
            bad.append(path.name)
            print(f"{path.name}: another shape")
            continue
        worst = max((apart(a, b) for x, y in zip(old, new) for a, b in zip(x, y)), default=0.0)
        cells = sum(len(row) for row in old)
        print(f"{path.name}: {cells} cells, largest relative difference {worst:.1e}")
        if worst > CLOSE:
            bad.append(path.name)
    for name in missing:
        print(f"{name}: no script here makes it")
    if bad or missing:
        sys.exit(f"not found again: {', '.join(bad + missing)}")
    print("every stored number is found again")


main()
