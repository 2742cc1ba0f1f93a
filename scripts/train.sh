#!/usr/bin/env bash
# Fits detect/sorting.model anew: renders invented hides of eleven articles, and of
# articles drawn at random, charts them up to the candidates, with all their lights and by the
# top one alone, tells by their truth which are flaws, and learns.
#
#   [NAMED=seeds] [DRAWN=seeds] scripts/train.sh [FOLDER]     captures and samples are kept there; default .cache/train
#
# Articles, widths, contrasts and lights vary, so that the model sees large and
# small photographs, faint and plain flaws, a full table and a phone.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
folder=${1:-.cache/train}
program=${HIDECHART:-bin/hidechart}
# never learned from, so that scripts/accuracy.sh can judge on them
held_out="black glazed,crust grey,milled pebble,antique oxblood,vegetable russet"
articles=("aniline tan" "wet-blue" "white pigmented" "navy nappa" "olive waxed" "embossed figure" "nubuck" "pull-up brown" "suede" "shrunken tan" "tumbled slate")
widths=(3000 3600 3000 4200 3600)
contrasts=(1 0.7 0.5 1.2)
lights=(top,back,rake-n,rake-e top,rake-n,rake-e top,back,rake-n,rake-e top,back top top,back,rake-e,rake-w)
mkdir -p "$folder"

# capture SEED K ARTICLE LIGHTS: one of a run, K'th of its cycles of widths and contrasts
capture() {
  local dir=$folder/s$1 extra=()
  [ ! -f "$dir/truth.json" ] || return 0
  [ "$4" != top ] || extra=(--phone)
  "$program" scene "$dir" --seed "$1" --article "$3" --width "${widths[$2 / 2 % 5]}" \
    --contrast "${contrasts[$2 / 3 % 4]}" --crossed 0.25 --lights "$4" "${extra[@]}" >/dev/null
}

# by_top SEED: the same capture as a phone would have taken it, in a folder of its own
by_top() {
  local from=$folder/s$1 to=$folder/t$1
  [ -n "$(ls "$from"/rake-*.jpg "$from"/back.jpg 2>/dev/null)" ] || return 0
  mkdir -p "$to"
  for f in top.jpg capture.yaml camera.json rig.yaml truth.json truth_label.png; do
    ln -sf "../s$1/$f" "$to/$f"
  done
}

for seed in ${NAMED:-$(seq 601 720) $(seq 722 794) $(seq 809 853)}; do
  k=$((seed - 601))
  capture "$seed" "$k" "${articles[k % 11]}" "${lights[k / 5 % 6]}"
  by_top "$seed"
done
for seed in ${DRAWN:-$(seq 901 1865) $(seq 2201 2380)}; do
  k=$((seed - 901))
  capture "$seed" "$k" drawn "${lights[k % 6]}"
  by_top "$seed"
done
[ -n "${RENDER_ONLY:-}" ] || "$program" train "$folder"/[st]*/ --reuse --without "$held_out" --out detect/sorting.model
