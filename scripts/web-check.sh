#!/usr/bin/env bash
# The review page that is committed, review/assets, is what its source in
# review/web builds to. It also brings axe-core, which a test of package review runs.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

for program in node npm; do
  command -v "$program" >/dev/null || { echo "web-check: no $program; run scripts/install.sh test" >&2; exit 1; }
done
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
(cd review/web && npm ci --silent --no-audit --no-fund && npx tsc --noEmit && OUT_DIR="$out/assets" npx vite build --logLevel error)
if ! diff -r "$out/assets" review/assets >"$out/diff"; then
  diff -rq "$out/assets" review/assets >&2 || true
  echo "web-check: review/assets is not what review/web builds to: make web, and commit both" >&2
  exit 1
fi
echo "web-check: the page matches its source"
