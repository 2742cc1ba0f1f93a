#!/usr/bin/env bash
# Soak: fifty charts in one process; its resident memory must stay flat. Catches
# what the leak gate cannot count (memory inside OpenCV's own vectors).
#
# The same small capture is charted fifty times under fifty names: equal work, so
# that growth can only be a leak. One at a time, for a clear curve. Go collects
# early (GOGC): when it does is chance, and moves the peak by tens of MiB, while what is
# hunted here lies outside its heap. That has one arena (pix/heap): with one for each
# thread it takes some forty charts until all have grown to their largest piece.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
charts=${CHARTS:-50}
width=1800      # the narrowest at which a tag's cell is still six pixels wide
allowed_mib=20  # of growth from the second third to the last: a little over 1 MiB a chart

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
bin/hidechart scene "$work/one" --seed 11 --width "$width" --side --lights top,back,rake-n
dirs=()
for i in $(seq -w "$charts"); do
  mkdir "$work/$i"
  ln "$work/one"/*.jpg "$work/one/rig.yaml" "$work/$i/"
  { grep -v '^id:' "$work/one/capture.yaml" || true; echo "id: soak-$i"; } >"$work/$i/capture.yaml"
  dirs+=("$work/$i")
done

GOGC=20 bin/hidechart chart "${dirs[@]}" --out "$work/charts" --at-once 1 --mm-per-px 2 >"$work/table" 2>"$work/log" &
pid=$!
# one reading per chart done: the most seen since the last
last=0 peak=0
while kill -0 "$pid" 2>/dev/null; do
  rss=$(awk '/^VmRSS/ {print $2}' "/proc/$pid/status" 2>/dev/null || true)
  [ -n "$rss" ] && [ "$rss" -gt "$peak" ] && peak=$rss
  # the folder is not there at once
  n=$({ find "$work/charts" -mindepth 2 -maxdepth 2 -name chart.json 2>/dev/null || true; } | wc -l)
  if [ "$n" -gt "$last" ]; then
    echo "$n $peak" >>"$work/rss"
    last=$n peak=0
  fi
  sleep 0.1
done
wait "$pid" || { cat "$work/log" >&2; exit 1; }
done_charts=$(find "$work/charts" -mindepth 2 -maxdepth 2 -name chart.json | wc -l)
[ "$done_charts" -eq "$charts" ] || { echo "soak: $done_charts of $charts charts" >&2; exit 1; }

# median of the second third (the first fills caches) against that of the last
median() { sort -n | awk '{v[NR] = $1} END {print v[int((NR + 1) / 2)]}'; }
rows=$(wc -l <"$work/rss")
[ "$rows" -ge $((charts / 3)) ] || { echo "soak: only $rows readings" >&2; exit 1; }
early=$(sed -n "$((rows / 3 + 1)),$((2 * rows / 3))p" "$work/rss" | awk '{print $2}' | median)
late=$(sed -n "$((2 * rows / 3 + 1)),\$p" "$work/rss" | awk '{print $2}' | median)
growth=$(((late - early) / 1024))
echo "soak: $charts charts, resident memory $((early / 1024)) MiB in the second third, $((late / 1024)) MiB in the last"
[ "$growth" -le "$allowed_mib" ] || { echo "soak: it grew by $growth MiB, more than $allowed_mib" >&2; exit 1; }
