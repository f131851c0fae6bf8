"""Compares the product's numbers with independent libraries.

Usage: check.py FOLDER, where FOLDER holds the CSV files written by the Rust target `oracle`.
Every NAME.csv is judged by check_NAME.py beside this file: its function `check(rows)` takes the
rows as dicts of text and yields (passed, message) for each comparison. A file without a script, a
script without a file, and a file without rows are failures.
"""

import csv
import importlib
import pathlib
import sys

HERE = pathlib.Path(__file__).resolve().parent
SHOWN = 20


def main(folder):
    sys.dont_write_bytecode = True
    sys.path.insert(0, str(HERE))
    scripts = {path.stem.removeprefix("check_") for path in HERE.glob("check_*.py")}
    files = {path.stem: path for path in sorted(pathlib.Path(folder).glob("*.csv"))}
    passed = failed = 0
    for name in sorted(scripts | set(files)):
        if name not in files or name not in scripts:
            print(f"FAILED {name}: {'nothing was written' if name not in files else 'no script judges it'}")
            failed += 1
            continue
        with files[name].open(newline="", encoding="utf-8") as handle:
            rows = list(csv.DictReader(handle))
        good, bad = 0, []
        for ok, message in importlib.import_module(f"check_{name}").check(rows):
            good, bad = (good + 1, bad) if ok else (good, [*bad, message])
        if good + len(bad) == 0:
            bad = ["there was nothing to compare"]
        for message in bad[:SHOWN]:
            print(f"FAILED {name}: {message}")
        if len(bad) > SHOWN:
            print(f"FAILED {name}: and {len(bad) - SHOWN} more")
        print(f"{name}: {good} passed, {len(bad)} failed")
        passed, failed = passed + good, failed + len(bad)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        sys.exit(2)
    sys.exit(main(sys.argv[1]))
