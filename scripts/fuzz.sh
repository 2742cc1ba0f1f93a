#!/usr/bin/env bash
# Runs every fuzz target: scripts/fuzz.sh [TIMES], by default 10000x. A number of
# inputs, not a time: when a time ends, Go's coordinator may call it a failure
# ("context deadline exceeded", golang/go issue 75804).
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
times=${1:-10000x}
found=0
for package in $(go list ./...); do
  dir=$(go list -f '{{.Dir}}' "$package")
  ls "$dir"/*_test.go >/dev/null 2>&1 || continue
  for target in $(sed -n 's/^func \(Fuzz[A-Za-z0-9_]*\)(.*/\1/p' "$dir"/*_test.go); do
    echo "fuzz: $package $target $times"
    go test -run '^$' -fuzz "^$target\$" -fuzztime "$times" "$package"
    found=$((found + 1))
  done
done
[ "$found" -gt 0 ] || { echo "fuzz: no targets" >&2; exit 1; }
echo "fuzz: $found targets, no failures"
