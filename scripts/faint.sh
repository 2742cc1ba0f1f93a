#!/usr/bin/env bash
# Charts the four shared captures as they are, with their flaws at half contrast and by top light
# alone, and prints how right the charts are: the table of docs/accuracy.md.
#
#   scripts/faint.sh [FOLDER]     copies and charts are kept there; default .cache/faint
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
folder=${1:-.cache/faint}
program=${HIDECHART:-bin/hidechart}
captures=(../shared/captures/*/)
mkdir -p "$folder"
/usr/bin/python3 scripts/faint.py "$folder/half" 0.5 "${captures[@]}"
for c in "${captures[@]}"; do
  for to in "$folder/whole" "$folder/top"; do
    mkdir -p "$to/$(basename "$c")"
    for f in "$c"*; do
      case $to/$(basename "$f") in "$folder"/top/back.jpg | "$folder"/top/rake-*.jpg) continue ;; esac
      cp --no-preserve=mode "$f" "$to/$(basename "$c")/"
    done
  done
done
for set in whole half top; do
  for c in "${captures[@]}"; do
    name=$(basename "$c")
    "$program" chart "$folder/$set/$name" --out "$folder/charts/$set" >/dev/null
    "$program" score "$folder/charts/$set/$name/chart.json" "$folder/$set/$name" --json >"$folder/$set/$name.json"
    echo "$set $name $(/usr/bin/python3 <"$folder/$set/$name.json" -c 'import json, sys; r = json.load(sys.stdin); print(*(f"{k} {r[k]:.4f}" for k in ("recall", "kind_accuracy", "false_per_m2", "false_area_share", "calibration_error")))')"
  done
  /usr/bin/python3 - "$set" "$folder/$set"/*.json <<'POOL' # the ten bins of docs/score.md, over all captures of the set
import json, random, statistics, sys
captures = [[(c["probability"], c["real"]) for c in json.load(open(f))["candidates"]] for f in sys.argv[2:]]
draw = random.Random(1)
def error(found):
    bins = [[c for c in found if min(int(c[0] * 10), 9) == k] for k in range(10)]
    return sum(abs(sum(p - r for p, r in b)) for b in bins) / len(found)
def chance(found): # what it is on average if each is real with just the probability told
    return statistics.mean(error([(p, draw.random() < p) for p, _ in found]) for _ in range(300))
together = sum(captures, [])
print("%s together: calibration_error %.4f, by chance alone %.4f; capture by capture %.4f, by chance alone %.4f" % (sys.argv[1],
      error(together), chance(together), statistics.mean(map(error, captures)), statistics.mean(map(chance, captures))))
POOL
done
