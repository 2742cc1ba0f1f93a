#!/usr/bin/env bash
# Same bytes: charts the demo's captures again with one core and with two and
# compares every file. Renders the smallest of them twice as well.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
captures=${1:-demo/captures}
[ -e "$captures/.rendered" ] || scripts/demo.sh >/dev/null

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
for cores in 1 2; do
  GOMAXPROCS=$cores bin/hidechart chart "$captures"/*/ --out "$work/charts$cores" >"$work/table$cores" &
done
for job in $(jobs -p); do wait "$job"; done
diff -r "$work/charts1" "$work/charts2"
diff "$work/table1" "$work/table2"
files=$(find "$work/charts1" -type f | wc -l)
[ "$files" -ge 9 ] || { echo "same: only $files files were made" >&2; exit 1; }

for cores in 1 2; do
  GOMAXPROCS=$cores bin/hidechart scene "$work/scene$cores" --seed 5 --width 1200 &
done
for job in $(jobs -p); do wait "$job"; done
diff -r "$work/scene1" "$work/scene2"
echo "same: $files chart files and a rendered capture are the same bytes at GOMAXPROCS 1 and 2"
