#!/usr/bin/env bash
# Runs every fuzz target for a while: scripts/fuzz.sh 10s
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
time=${1:-10s}
found=0
for package in $(go list ./...); do
  dir=$(go list -f '{{.Dir}}' "$package")
  ls "$dir"/*_test.go >/dev/null 2>&1 || continue
  for target in $(sed -n 's/^func \(Fuzz[A-Za-z0-9_]*\)(.*/\1/p' "$dir"/*_test.go); do
    echo "fuzz: $package $target $time"
    go test -run '^$' -fuzz "^$target\$" -fuzztime "$time" "$package"
    found=$((found + 1))
  done
done
[ "$found" -gt 0 ] || { echo "fuzz: no targets" >&2; exit 1; }
echo "fuzz: $found targets, no failures"
