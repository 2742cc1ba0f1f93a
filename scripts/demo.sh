#!/usr/bin/env bash
# The demo: an invented lot of three hides, rendered once, charted, and listed.
# A second run keeps the captures and the charts that are done.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
program=bin/hidechart
captures=demo/captures
charts=demo/charts

# Captures belong to the renderer that made them: made anew when it changed. The
# mark is written last, so a rendering that was stopped is not taken for whole.
mark=$(cat go.mod scene/*.go | sha256sum | cut -d' ' -f1)
if [ "$(cat $captures/.rendered 2>/dev/null || true)" != "$mark" ]; then
  rm -rf "$captures"
  echo "rendering an invented lot of three hides into $captures"
  "$program" scene "$captures" --lot
  echo "$mark" >"$captures/.rendered"
fi

# Charts belong to the program that made them, likewise.
made=$(sha256sum "$program" | cut -d' ' -f1)
if [ "$(cat $charts/.charted 2>/dev/null || true)" != "$made" ]; then
  rm -rf "$charts"
  mkdir -p "$charts"
  echo "$made" >"$charts/.charted"
fi
echo "charting them into $charts"
"$program" chart "$captures"/*/ --out "$charts"

echo
echo "Look at:"
for chart in "$charts"/*/chart.json; do
  dir=$(dirname "$chart")
  for file in "$dir"/*.png "$dir"/*.svg "$dir"/*.mm.dxf "$dir"/*.csv "$chart"; do
    [ -e "$file" ] && echo "  $file"
  done
done
echo "How near the truth they come:"
for chart in "$charts"/*/chart.json; do
  id=$(basename "$(dirname "$chart")")
  echo "  $program score $chart $captures/$id"
done
