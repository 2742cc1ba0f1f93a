package main

import (
	"fmt"
	"io"
	"os"
	"sync"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/sys/unix"
)

// progress shows how a run goes on: a bar with the time left on a terminal,
// lines elsewhere. It counts pixels, since a capture of twice the pixels takes
// about twice as long.
type progress struct {
	mu     sync.Mutex
	w      io.Writer
	bars   *mpb.Progress // nil: lines
	bar    *mpb.Bar
	stages map[string]string
	total  int64
	done   int64
}

func newProgress(w io.Writer) *progress {
	p := &progress{w: w, stages: map[string]string{}}
	if isTerminal(w) {
		p.bars = mpb.New(mpb.WithOutput(w), mpb.WithWidth(40))
	}
	return p
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	_, err := unix.IoctlGetTermios(int(f.Fd()), unix.TCGETS)
	return err == nil
}

// Plan implements pipeline.Progress.
func (p *progress) Plan(pixels int64) {
	p.total = pixels
	if p.bars == nil || pixels == 0 {
		return
	}
	p.bar = p.bars.AddBar(pixels,
		mpb.PrependDecorators(decor.Percentage(decor.WC{W: 5})),
		mpb.AppendDecorators(decor.AverageETA(decor.ET_STYLE_GO, decor.WC{W: 8}), decor.Name(" left  "),
			decor.Any(func(decor.Statistics) string { return p.stage() })))
}

func (p *progress) stage() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.stages[""]
}

// Step implements pipeline.Progress.
func (p *progress) Step(id, stage string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.stages[id] = stage
	p.stages[""] = id + ": " + stage
}

// Finished implements pipeline.Progress.
func (p *progress) Finished(id string, pixels int64, err error) {
	p.mu.Lock()
	p.done += pixels
	share := int64(100)
	if p.total > 0 {
		share = 100 * p.done / p.total
	}
	p.mu.Unlock()
	if p.bar != nil {
		p.bar.IncrInt64(pixels)
		return
	}
	word := "done"
	if err != nil {
		word = "no chart"
	}
	_, _ = fmt.Fprintf(p.w, "%3d %%  %s: %s\n", share, id, word)
}

// Wait ends the bar.
func (p *progress) Wait() {
	if p.bar != nil && !p.bar.Completed() {
		p.bar.Abort(false)
	}
	if p.bars != nil {
		p.bars.Wait()
	}
}
