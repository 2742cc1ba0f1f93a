#!/usr/bin/env bash
# Renders 32 invented hides of one article, charts them, and tells what reviews of
# the first twenty teach about the others (scripts/learn.py).
#
#   scripts/learn.sh [FOLDER]     captures and charts are kept there; default .cache/learn
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
folder=${1:-.cache/learn}
for seed in $(seq 401 432); do
  dir=$folder/captures/s$seed
  [ -f "$dir/truth.json" ] ||
    bin/hidechart scene "$dir" --seed "$seed" --id "s$seed" --article "milled pebble" --width 3000 --lights top,rake-n,rake-e >/dev/null
done
bin/hidechart chart "$folder"/captures/s* --out "$folder/charts" >/dev/null
/usr/bin/python3 scripts/learn.py bin/hidechart "$folder/charts" "$folder/captures" 20
