#!/usr/bin/env bash
# Renders a fixed, wide set of 60 invented captures, charts them and writes how
# right the charts are into docs/accuracy.md, with pictures of the worst misses and
# the worst false candidates.
#
#   [CAPTURES=n] scripts/accuracy.sh [FOLDER]     captures and charts are kept there; default .cache/accuracy
#
# Ten articles, six captures each; scripts/train.sh never learns from five of
# them. Contrast, size of photograph and lights vary.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
folder=${1:-.cache/accuracy}
program=${HIDECHART:-bin/hidechart}
new=("black glazed" "crust grey" "milled pebble" "antique oxblood" "vegetable russet")
known=("aniline tan" "wet-blue" "white pigmented" "navy nappa" "olive waxed")
contrasts=(1 0.7 0.5 1 0.7 1)
widths=(4200 3000 4200 3000 6000 3000)
lights=(top,back,rake-n,rake-e top,back,rake-n,rake-e top,back,rake-n,rake-e top,rake-n,rake-e top,back top)
mkdir -p "$folder/captures"
articles=("${new[@]}" "${known[@]}")
made=0
for k in 1 3 5 4 0 2; do # the quickest first, so that CAPTURES=20 covers all articles
  for a in "${!articles[@]}"; do
    [ "$made" -lt "${CAPTURES:-60}" ] || break 2
    made=$((made + 1))
    seed=$((501 + 6 * a + k))
    dir=$folder/captures/s$seed
    [ -f "$dir/truth.json" ] && continue
    extra=()
    [ "$k" -ne 5 ] || extra=(--phone)
    "$program" scene "$dir" --seed "$seed" --id "s$seed" --article "${articles[a]}" --contrast "${contrasts[k]}" --width "${widths[k]}" \
      --lights "${lights[k]}" "${extra[@]}" >/dev/null
  done
done
held_out=$(IFS=,; echo "${new[*]}")
"$program" accuracy "$folder"/captures/s* --charts "$folder/charts" --never-tuned "$held_out" --docs docs
