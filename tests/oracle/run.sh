#!/usr/bin/env bash
# Compares the product's numbers with independent Python libraries.
# Usage: tests/oracle/run.sh VENV OUT
#   VENV  folder of a Python environment outside the repository; made if absent
#   OUT   folder for the numbers, outside the repository
set -euo pipefail
if [ "$#" -ne 2 ]; then
  sed -n '2,5p' "$0" >&2
  exit 2
fi
here="$(cd "$(dirname "$0")" && pwd)"
venv="$1"
mkdir -p "$2"
out="$(cd "$2" && pwd)"
if [ ! -x "$venv/bin/python" ]; then
  python3 -m venv "$venv"
fi
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check --requirement "$here/requirements.txt"
rm -f "$out"/*.csv
(cd "$here/../.." && SUBIMAGO_ORACLE_OUT="$out" cargo test --release --quiet --test oracle)
"$venv/bin/python" "$here/check.py" "$out"
