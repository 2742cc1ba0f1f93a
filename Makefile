# hidechart: one place for the build flags and every routine check.
SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := build

# gocv on Debian's OpenCV: only the modules we use (docs/adr/0001). Both are
# needed by every go command in this tree; -buildvcs=false lets a copy without
# its .git build to the same bytes.
TAGS := gocv_specific_modules,gocv_calib3d
export GOFLAGS := -buildvcs=false -tags=$(TAGS)
export CGO_ENABLED := 1

LINT_VERSION := v2.15.0
FUZZTIMES ?= 10000x

.PHONY: build install install-test demo test test-go format vet lint leak same soak fuzz bench train clone clean

build: install bin/hidechart

install:
	@scripts/install.sh

install-test:
	@scripts/install.sh test

# go build decides itself what is stale
.PHONY: bin/hidechart
bin/hidechart:
	@go build -o bin/hidechart ./cmd/hidechart

demo: build
	@scripts/demo.sh

# Everything: what CI runs. The demo and the same-bytes check run inside the
# clean clone, once for both.
test: install-test format vet lint web-check test-go leak soak clone
	@echo "make test: all passed"

format:
	@out=$$(gofmt -l $$(git -c safe.directory="*" ls-files -co --exclude-standard '*.go')); \
	if [ -n "$$out" ]; then echo "gofmt: not formatted:"; echo "$$out"; exit 1; fi

vet:
	go vet ./...

# The linter is installed at a fixed version into .cache, outside our go.mod,
# so that its dependencies never touch ours.
LINTER := .cache/golangci-lint-$(LINT_VERSION)
$(LINTER):
	@mkdir -p .cache
	GOFLAGS= GOBIN=$(CURDIR)/.cache/new go install github.com/golangci/golangci-lint/v2/cmd/golangci-lint@$(LINT_VERSION)
	@mv .cache/new/golangci-lint $@ && rmdir .cache/new

lint: $(LINTER)
	$(LINTER) run --timeout 10m ./...

# The race detector would multiply the picture work by ten; `make race` is the
# separate, slower check.
test-go:
	go test ./...

.PHONY: race
race:
	go test -race ./...

# The review page's source is TypeScript in review/web; what it builds to is
# committed in review/assets, so that building hidechart needs no node.
.PHONY: web web-check review-large
web:
	cd review/web && npm ci --no-audit --no-fund && npm run build

web-check:
	@scripts/web-check.sh

# A hide of 100 megapixels in a real browser: how long it takes to open, whether
# it pans without empty tiles. Prints figures.
review-large:
	HIDECHART_LARGE=1 go test ./review -count=1 -v -run '^TestLargeHide$$'

leak:
	@scripts/leak.sh $(TAGS)

same: build
	@scripts/same.sh

soak: build
	@scripts/soak.sh

clone:
	@scripts/clone.sh

# Samples kept from an earlier run are used again: remove .cache/train after a
# change to the detectors.
train: build
	@scripts/train.sh

# What reviews of twenty hides of an article teach about twelve others, for three
# articles; most of its time is rendering.
.PHONY: learn-gain
learn-gain: build
	@scripts/learn.sh

# The tables of docs/accuracy.md, "Charts": half an hour on two cores the first time.
.PHONY: accuracy
accuracy: build
	@scripts/accuracy.sh

# The shared captures as they are, at half contrast and by top light alone: docs/accuracy.md.
.PHONY: faint
faint: build install-test
	@scripts/faint.sh

# The shared captures as other cameras would have taken them, as they are and at half contrast:
# docs/accuracy.md. After faint, whose copies it reads; twenty minutes.
.PHONY: cameras
cameras: build install-test
	@scripts/cameras.py .cache/cameras/whole .cache/faint/whole/*/
	@scripts/cameras.py .cache/cameras/half .cache/faint/half/*/

# The shared captures dressed in other leathers: docs/accuracy.md. After faint, whose copies it reads; ten minutes.
.PHONY: leathers
leathers: build install-test
	@scripts/leathers.py .cache/leathers .cache/faint/whole/*/

# How many are found of the flaws that stand out: docs/accuracy.md. After accuracy and
# faint, whose charts it reads; ten minutes.
.PHONY: standout
standout: build install-test
	@scripts/standout.py .cache/accuracy/charts .cache/accuracy/captures/s*/
	@scripts/standout.py .cache/faint/charts/whole .cache/faint/whole/*/
	@scripts/standout.py .cache/faint/charts/half .cache/faint/half/*/

# The tables of docs/accuracy.md, "Score map".
.PHONY: swatches
swatches: build install-test
	@scripts/swatches.sh

# A hundred and twenty rendered hides, a quarter of an hour on two free cores;
# a short form is among the tests of cmd/hidechart.
.PHONY: coverage
coverage: build
	bin/hidechart coverage --out docs/coverage.md

# Flags for bad photographs over many rendered hides, flat and with waves: the
# figures of docs/rig.md. Ten minutes on two free cores.
.PHONY: flags
flags:
	HIDES=$${HIDES:-28} go test -count=1 -timeout 60m -run '^TestFlagsOverManyHides$$' -v ./pipeline

fuzz:
	@scripts/fuzz.sh $(FUZZTIMES)

bench: build install-test
	@scripts/bench.sh

# A record of 100,000 hides with 3 million flaws: sheets and filings are timed on it.
# Takes some minutes and 3 GB under .cache, which are kept for the next run.
.PHONY: scale
scale: install-test
	@mkdir -p .cache/scale
	SCALE_HIDES=$${SCALE_HIDES:-100000} SCALE_RECORD=$(CURDIR)/.cache/scale/record.db go test -count=1 -timeout 60m -run 'TestScale$$' -v ./record

# Strip lengths on open problems of cutting and packing, against published ones
# (docs/yield.md); some minutes.
.PHONY: packing
packing: build
	bin/hidechart packing ../shared/data/packing/*/

clean:
	rm -rf bin out demo .cache
