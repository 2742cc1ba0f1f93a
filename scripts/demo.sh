#!/usr/bin/env bash
# The demo: an invented lot of three hides, rendered once, charted, and listed; then an
# invented season of 120. A second run keeps what is done.
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

# An invented season of three suppliers, twelve lots and 120 hides: charts made from
# truth, filed, and what follows from them. Kept like the captures; the first time takes
# about a minute.
season=demo/season
season_mark=$(cat go.mod scene/*.go record/*.go record/*/*.go export/record_*.go export/paper*.go yield/*.go cmd/hidechart/records*.go | sha256sum | cut -d' ' -f1)
export HIDECHART_RECORD=$season/season.db
if [ "$(cat $season/.made 2>/dev/null || true)" != "$season_mark" ]; then
  rm -rf "$season"
  mkdir -p "$season"
  echo "making an invented season of 120 hides in $season"
  "$program" scene "$season/charts" --season
  for day in "$season"/charts/*/; do
    "$program" records add "$day"*/ --date "$(basename "$day")" | tail -n 1
  done
  for lot in MH-2601 MH-2603 MH-2605 MH-2607; do "$program" records lot "$lot" --price 54 --currency EUR; done
  for lot in SD-2601 SD-2603 SD-2605 SD-2607; do "$program" records lot "$lot" --price 58 --currency EUR --grade I --rule iso-17551; done
  for lot in VB-2601 VB-2603 VB-2605 VB-2607; do "$program" records lot "$lot" --price 4.10 --per ft2 --currency EUR; done
  "$program" records yield --look classic --supplier "Saltreed & Daughters (invented)"
  for supplier in "Moorhen Hollow Tannery (invented)" "Saltreed & Daughters (invented)" "Vennal Bridge Hides (invented)"; do
    "$program" records sheet --supplier "$supplier" --date 2026-08-01 --out "$season/sheets" >/dev/null
  done
  "$program" records sheet --lot VB-2605 --date 2026-08-01 --out "$season/sheets" >/dev/null
  "$program" records sheet --month 2026-03 --date 2026-08-01 --out "$season/sheets" >/dev/null
  "$program" records claim SD-2603 --by "Ada Example" --date 2026-08-01 --out "$season/claims" >/dev/null
  echo "$season_mark" >"$season/.made"
fi
"$program" records check

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
echo "The season (invented; charts made from truth, not measured):"
for file in "$season"/sheets/*.pdf "$season"/sheets/*.html "$season"/claims/*.pdf; do
  echo "  $file"
done
echo "  $program records verify \"$(ls "$season"/claims/*.pdf)\""
