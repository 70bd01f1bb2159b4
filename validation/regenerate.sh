#!/bin/sh
# Computes the tables of validation/data once more with libraries written by others and compares them with those
# stored. Needs Python 3.11 or newer; packages come from its registry, pinned.
#
#   validation/regenerate.sh [FOLDER]          FOLDER keeps packages and fresh tables; target/reference-tables else
#   validation/regenerate.sh FOLDER pulse      also the pulse by PyClaw, which is built with gfortran and takes minutes
set -eu
here=$(cd "$(dirname "$0")" && pwd)
folder=${1:-$here/../target/reference-tables}
mkdir -p "$folder/fresh"
if [ ! -x "$folder/venv/bin/python" ]; then
    python3 -m venv "$folder/venv"
fi
"$folder/venv/bin/python" -m pip install --quiet --requirement "$here/reference-tables/requirements.txt"
# each script writes beside itself
cp "$here"/reference-tables/make_*.py "$folder/fresh/"
for script in "$folder"/fresh/make_*.py; do
    "$folder/venv/bin/python" "$script" > "$script.log" 2>&1 || { cat "$script.log"; exit 1; }
done
"$folder/venv/bin/python" "$here/reference-model/zones_checks.py" --table > "$folder/fresh/two_zones_vessel.csv"
if [ "${2:-}" = pulse ]; then
    [ -x "$folder/pulse/bin/python" ] || python3 -m venv "$folder/pulse"
    "$folder/pulse/bin/python" -m pip install --quiet --requirement "$here/pulse-in-ducts/requirements.txt"
    "$folder/pulse/bin/python" "$here/pulse-in-ducts/pulse_in_ducts.py" "$folder/fresh/pulse_in_ducts.csv"
fi
"$folder/venv/bin/python" "$here/reference-tables/compare.py" "$folder/fresh"
