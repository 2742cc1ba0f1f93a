#!/usr/bin/env bash
# Same bytes: charts the demo's captures with one core and compares every file
# with what two cores made; renders a small capture both ways as well.
#
#   scripts/same.sh [CHARTS]   CHARTS: the demo's charts, if already made with GOMAXPROCS=2
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
captures=demo/captures
[ -e "$captures/.rendered" ] || scripts/demo.sh >/dev/null

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
chart() { GOMAXPROCS=$1 bin/hidechart chart "$captures"/*/ --out "$2" >"$work/table$1" 2>/dev/null; }
two=${1:-$work/two}
[ $# -eq 1 ] || chart 2 "$two"
chart 1 "$work/one"

compared=0
while read -r file; do
  cmp "$work/one/$file" "$two/$file"
  compared=$((compared + 1))
done < <(cd "$work/one" && find . -mindepth 2 -type f ! -name '.*' | sort)
there=$(cd "$two" && find . -mindepth 2 -type f ! -name '.*' | wc -l)
[ "$compared" -eq "$there" ] || { echo "same: $compared files against $there" >&2; exit 1; }
# three hides with at least a chart, a picture and four drawings and tables each
[ "$compared" -ge 18 ] || { echo "same: only $compared files were made" >&2; exit 1; }

for cores in 1 2; do
  GOMAXPROCS=$cores bin/hidechart scene "$work/scene$cores" --seed 5 --width 1200 --lights top,rake-n
done
diff -r "$work/scene1" "$work/scene2"
echo "same: $compared chart files and a rendered capture are the same bytes at GOMAXPROCS 1 and 2"
