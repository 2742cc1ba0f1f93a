#!/usr/bin/env bash
# Fits detect/sorting.model anew: renders invented hides of all articles, charts
# them up to the candidates, tells by their truth which are flaws, and learns.
#
#   scripts/train.sh [FOLDER]     captures and samples are kept there; default .cache/train
#
# Widths, contrasts and lights vary, so that the model sees large and small
# photographs, faint and plain flaws; every second capture is learned a second
# time from its top light alone, for photographs made with a phone.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
folder=${1:-.cache/train}
first=205 last=228
# never learned from, so that scripts/accuracy.sh can judge on them
held_out="black glazed,crust grey,milled pebble,antique oxblood,vegetable russet"
mkdir -p "$folder"
for seed in $(seq "$first" "$last"); do
  width=5000 contrast=1
  [ $((seed % 4)) -ne 0 ] || width=6000
  [ $((seed % 5)) -ne 0 ] || width=4242
  [ $((seed % 3)) -ne 0 ] || contrast=0.6
  dir=$folder/s$seed
  if [ ! -f "$dir/truth.json" ]; then
    bin/hidechart scene "$dir" --seed "$seed" --width "$width" --contrast "$contrast" --lights top,back,rake-n,rake-e >/dev/null
  fi
  if [ $((seed % 2)) -eq 1 ] && [ ! -d "$dir-top" ]; then
    mkdir "$dir-top"
    ln "$dir"/top.jpg "$dir"/rig.yaml "$dir"/capture.yaml "$dir"/truth.json "$dir"/truth_label.png "$dir-top/"
  fi
done
# more of the articles that may be learned from, smaller and with fewer lights
articles=("aniline tan" "wet-blue" "white pigmented" "navy nappa" "olive waxed" "embossed figure" "nubuck" "pull-up brown")
widths=(3000 4200 3600)
contrasts=(1 0.7 0.5 1.2)
lights=(top,back,rake-n,rake-e top,rake-n,rake-e top,back,rake-n,rake-e top,back)
for seed in $(seq 601 640); do
  dir=$folder/s$seed
  [ -f "$dir/truth.json" ] ||
    bin/hidechart scene "$dir" --seed "$seed" --article "${articles[seed % 8]}" --width "${widths[seed % 3]}" \
      --contrast "${contrasts[seed / 8 % 4]}" --lights "${lights[seed / 3 % 4]}" >/dev/null
done
bin/hidechart train "$folder"/s*/ --reuse --without "$held_out" --out detect/sorting.model
