#!/usr/bin/env bash
# Renders 32 invented hides of each of three articles that the sorting model never
# learned from, charts them, and tells what reviews of twenty teach about the
# other twelve (scripts/learn.py).
#
#   scripts/learn.sh [FOLDER]     captures and charts are kept there; default .cache/learn
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
folder=${1:-.cache/learn}

of() { # ARTICLE FIRST_SEED
  local here="$folder/${1// /-}"
  for seed in $(seq "$2" $(($2 + 31))); do
    [ -f "$here/captures/s$seed/truth.json" ] ||
      bin/hidechart scene "$here/captures/s$seed" --seed "$seed" --id "s$seed" --article "$1" --width 3000 --lights top,rake-n,rake-e >/dev/null
  done
  bin/hidechart chart "$here"/captures/s* --out "$here/charts" >/dev/null
  echo "== $1"
  /usr/bin/python3 scripts/learn.py bin/hidechart "$here/charts" "$here/captures" 20
}

of "milled pebble" 401
of "antique oxblood" 433
of "vegetable russet" 433
