#!/usr/bin/env bash
# Leak gate: the tests of every package that makes pictures run in a build that
# counts them, and must end with none left open.
#
#   scripts/leak.sh TAGS [PACKAGE…]
#
# The closing check is laid over each package at build time (go test -overlay),
# so a new package cannot be forgotten. A package with a TestMain of its own
# must call the same check there; this script says so when it does not.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
tags=$1
shift
export GOFLAGS="-buildvcs=false -tags=$tags,matprofile"

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

uses_pix='{{$uses := eq .ImportPath "hidechart/pix"}}{{range .Imports}}{{if eq . "hidechart/pix"}}{{$uses = true}}{{end}}{{end}}{{range .TestImports}}{{if eq . "hidechart/pix"}}{{$uses = true}}{{end}}{{end}}{{range .XTestImports}}{{if eq . "hidechart/pix"}}{{$uses = true}}{{end}}{{end}}{{if $uses}}{{.ImportPath}} {{.Name}} {{.Dir}} {{or .TestGoFiles .XTestGoFiles | len}}{{end}}'
go list -f "$uses_pix" "${@:-./...}" | sed '/^$/d' >"$work/packages"
[ -s "$work/packages" ] || { echo "leak: no package makes pictures?" >&2; exit 1; }

packages=()
entries=()
while read -r import name dir tests; do
  if [ "$tests" -eq 0 ]; then
    echo "leak: $import makes pictures and has no tests" >&2
    exit 1
  fi
  packages+=("$import")
  if main=$(grep -l '^func TestMain(' "$dir"/*_test.go); then
    grep -q 'gocv.io/x/gocv.Mat' "$main" || {
      echo "leak: TestMain in $main must end with the check in scripts/leak.sh" >&2
      exit 1
    }
    continue
  fi
  cat >"$work/${import//\//_}.go" <<GO
package ${name}_test

import (
	"fmt"
	"os"
	"runtime/pprof"
	"testing"
)

// TestMain fails when a picture is still open after the tests.
func TestMain(m *testing.M) {
	code := m.Run()
	profile := pprof.Lookup("gocv.io/x/gocv.Mat")
	if profile == nil {
		fmt.Println("leak gate: pictures are not counted in this build")
		os.Exit(1)
	}
	fmt.Printf("leak gate: %d pictures left open\n", profile.Count())
	if profile.Count() != 0 {
		_ = profile.WriteTo(os.Stdout, 1)
		code = 1
	}
	os.Exit(code)
}
GO
  entries+=("\"$dir/zz_leak_gate_test.go\": \"$work/${import//\//_}.go\"")
done <"$work/packages"

(IFS=,; printf '{"Replace":{%s}}\n' "${entries[*]}") >"$work/overlay.json"
# -short leaves out tests that only repeat the same work on bigger pictures
go test -short -count=1 -overlay "$work/overlay.json" "${packages[@]}"
echo "leak gate: ${#packages[@]} packages, 0 pictures left open"
