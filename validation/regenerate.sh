#!/bin/sh
# Computes the tables of validation/data once more with libraries written by others and compares them with those
# stored. Needs Python 3.11 or newer; packages come from its registry, pinned.
#
#   validation/regenerate.sh [FOLDER]      FOLDER keeps the packages and the fresh tables; target/reference-tables else
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
"$folder/venv/bin/python" "$here/reference-tables/compare.py" "$folder/fresh"
