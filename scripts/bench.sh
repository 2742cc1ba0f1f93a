#!/usr/bin/env bash
# Benchmarks: the packages' own (go test -bench, with allocations), then the
# whole chart at four sizes against the decode and one warp of the same files.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
go test -run '^$' -bench . -benchmem -benchtime "${BENCHTIME:-3x}" ./...
bin/hidechart bench --sizes "${SIZES:-6,12,24,48}"
echo "targets: ratio at most 8 and peak_bytes at most 3221225472 at 24 megapixels with four lights; exponent near 1"
