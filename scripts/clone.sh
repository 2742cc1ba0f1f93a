#!/usr/bin/env bash
# Clean clone: clones what is committed into an empty folder and runs the demo
# there twice with an empty environment (only PATH, HOME and Go's caches), then
# checks there that one core and two give the same bytes.
set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
again_limit=60 # seconds for the second demo

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
# a checkout may belong to another user than the one who runs this
git -c safe.directory='*' clone -q "$root" "$work/hidechart"
if [ -n "$(git -c safe.directory='*' -C "$root" status --porcelain)" ]; then
  echo "clone: the working tree has changes that are not committed; the clone is without them"
fi
cd "$work/hidechart"

bare=(env -i PATH="$PATH" HOME="$HOME" GOCACHE="$(go env GOCACHE)" GOMODCACHE="$(go env GOMODCACHE)"
  GOPROXY="$(go env GOPROXY)" GOSUMDB="$(go env GOSUMDB)" GOTOOLCHAIN="$(go env GOTOOLCHAIN)")
# two cores whatever the machine has, so that the same-bytes check can use it
bare+=(GOMAXPROCS=2)
start=$SECONDS
"${bare[@]}" make demo
echo "clone: first demo took $((SECONDS - start)) s"
start=$SECONDS
"${bare[@]}" make demo >/dev/null
again=$((SECONDS - start))
echo "clone: second demo took $again s"
[ "$again" -le "$again_limit" ] || { echo "clone: want at most $again_limit s" >&2; exit 1; }

for id in demo/charts/*/; do
  bin/hidechart score "$id/chart.json" "demo/captures/$(basename "$id")" | sed "s|^|$(basename "$id")  |" | head -12
done
"${bare[@]}" scripts/same.sh demo/charts
[ -z "$(git status --porcelain)" ] || { echo "clone: the demo left files that git does not ignore" >&2; git status --porcelain >&2; exit 1; }
