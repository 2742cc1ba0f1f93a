package pipeline

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"

	"golang.org/x/sync/semaphore"

	"hidechart/export"
	"hidechart/hide"
)

// atOnce captures by default: design; more would share the same cores.
const atOnce = 2

// Run charts many captures. A job that fails does not stop the others; its
// error is in its Result. When ctx is cancelled the jobs under way stop and
// leave nothing behind, and Run returns what is done: running again takes up
// there, since captures already charted from the same inputs, settings and
// program are not measured again. Errors: Invalid settings; Conflict when
// another run writes to the same folder; Internal when the folder cannot be made.
//
// Outputs of a capture, in OUT/<id>/: see outputs.
func Run(ctx context.Context, jobs []Job, opts Options) (Summary, error) {
	if err := opts.Params.Validate(); err != nil {
		return Summary{}, err
	}
	if opts.Progress == nil {
		opts.Progress = silent{}
	}
	if opts.Log == nil {
		opts.Log = slog.New(slog.DiscardHandler)
	}
	lock, err := lockOut(opts.Out)
	if err != nil {
		return Summary{}, err
	}
	defer func() { _ = lock.Close() }() // a folder read only: nothing can be lost
	if err := clean(opts.Out); err != nil {
		return Summary{}, err
	}
	b := &batch{opts: opts, results: make([]Result, len(jobs)), captures: make([]Capture, len(jobs)), inputs: make([]inputs, len(jobs))}
	b.open(jobs)
	b.clashes()
	b.readAll(ctx)
	b.chartAll(ctx)
	return Summary{Results: b.results}, nil
}

// batch is a run under way. Slot i of each list is job i's.
type batch struct {
	opts     Options
	results  []Result
	captures []Capture
	inputs   []inputs
}

func (b *batch) open(jobs []Job) {
	for i, j := range jobs {
		b.results[i].Job = j
		c, err := OpenCapture(j.Dir)
		b.captures[i], b.results[i].ID = c, c.ID
		b.fail(i, err)
	}
}

func (b *batch) fail(i int, err error) {
	if err == nil {
		return
	}
	r := &b.results[i]
	r.State, r.Err = Failed, err
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		r.State = Stopped
		r.Err = hide.Wrapf(hide.Internal, err, "stopped before it was charted; run again to take up here")
	}
}

func (b *batch) pending(i int) bool { return b.results[i].State == "" }

// clashes fails all captures that would write to the same folder: which of
// them is meant cannot be told. Case is ignored, as some file systems do.
func (b *batch) clashes() {
	byID := map[string][]int{}
	for i := range b.results {
		if b.pending(i) {
			key := strings.ToLower(export.SafeName(b.results[i].ID))
			byID[key] = append(byID[key], i)
		}
	}
	for _, same := range byID {
		for _, i := range same {
			for _, k := range same {
				if i != k {
					b.fail(i, hide.Faultf(hide.Conflict, "id %q is also that of %s: give each capture its own id in %s", b.results[i].ID, b.results[k].Job.Dir, noteName))
					break
				}
			}
		}
	}
}

// readAll hashes all inputs, so that what is done is known before the first
// capture is measured and the time left can be told.
func (b *batch) readAll(ctx context.Context) {
	var pixels int64
	for i := range b.results {
		if !b.pending(i) {
			continue
		}
		if ctx.Err() != nil {
			b.fail(i, ctx.Err())
			continue
		}
		var err error
		b.inputs[i], err = readInputs(b.captures[i], b.results[i].Job.Rig, b.opts.Params)
		if err != nil {
			b.fail(i, err)
			continue
		}
		if c, ok := chartDone(b.inputs[i], b.opts); ok && !b.opts.Again {
			b.succeed(i, Already, c)
			continue
		}
		pixels += b.inputs[i].pixels()
	}
	b.opts.Progress.Plan(pixels)
	for i, r := range b.results {
		if !b.pending(i) {
			b.opts.Progress.Finished(b.name(i), 0, r.Err)
		}
	}
}

func (b *batch) name(i int) string {
	if id := b.results[i].ID; id != "" {
		return id
	}
	return b.results[i].Job.Dir
}

func (b *batch) succeed(i int, s State, c hide.Chart) {
	r := &b.results[i]
	var err error
	if r.Digest, err = NewDigest(c); err != nil {
		b.fail(i, err)
		return
	}
	r.State, r.Chart = s, filepath.Join(b.opts.Out, export.SafeName(r.ID), chartName)
}

// chartAll measures what is pending, as many at once as memory allows.
func (b *batch) chartAll(ctx context.Context) {
	room := available()
	if room == 0 {
		room = 1 // not known: one at a time
	}
	memory := semaphore.NewWeighted(room)
	n := b.opts.AtOnce
	if n == 0 {
		n = atOnce
	}
	slots := semaphore.NewWeighted(int64(n))
	var wg sync.WaitGroup
	for i := range b.results {
		if !b.pending(i) {
			continue
		}
		weight := min(need(b.inputs[i], b.opts.Params), room)
		if slots.Acquire(ctx, 1) != nil {
			b.fail(i, ctx.Err())
			continue
		}
		if memory.Acquire(ctx, weight) != nil {
			slots.Release(1)
			b.fail(i, ctx.Err())
			continue
		}
		wg.Go(func() {
			defer slots.Release(1)
			defer memory.Release(weight)
			c, err := b.chartOne(ctx, i)
			if err == nil {
				b.succeed(i, Charted, c)
			} else {
				b.fail(i, err)
			}
			b.opts.Progress.Finished(b.name(i), b.inputs[i].pixels(), b.results[i].Err)
		})
	}
	wg.Wait()
}

// chartOne measures a capture and writes its files. A panic, a fault of ours,
// ends this capture and not the batch.
func (b *batch) chartOne(ctx context.Context, i int) (c hide.Chart, err error) {
	log := b.opts.Log.With("capture", b.name(i))
	defer func() {
		if p := recover(); p != nil {
			log.Error("panic", "value", fmt.Sprint(p), "stack", string(debug.Stack()))
			err = hide.Faultf(hide.Internal, "a fault of the program: %v; please report it with the capture", p)
		}
	}()
	in := b.inputs[i]
	if err := keepReview(b.opts, in.capture.ID); err != nil {
		return c, err
	}
	if odd := in.capture.Odd; len(odd) > 0 {
		log.Warn("pictures not named after a light are left out", "files", odd)
	}
	m, err := measure(ctx, in, b.opts.Params, true, func(stage string) {
		log.Debug("stage", "name", stage)
		b.opts.Progress.Step(in.capture.ID, stage)
	})
	if err != nil {
		return c, err
	}
	defer m.Close()
	if err := m.sortDefects(); err != nil {
		return c, err
	}
	c = m.toChart(b.opts.Version)
	b.opts.Progress.Step(in.capture.ID, "files")
	if err := ctx.Err(); err != nil {
		return c, err
	}
	return c, publish(b.opts.Out, export.SafeName(in.capture.ID), append(m.lights.files(), outputs(c, m.photo)...))
}

// clean removes what a killed run left beside the results.
func clean(out string) error {
	left, err := filepath.Glob(filepath.Join(out, ".*.part"))
	if err != nil {
		return diskFault(err, out)
	}
	for _, dir := range left {
		if err := os.RemoveAll(dir); err != nil {
			return diskFault(err, dir)
		}
	}
	return nil
}

type silent struct{}

func (silent) Plan(int64)                    {}
func (silent) Step(string, string)           {}
func (silent) Finished(string, int64, error) {}
