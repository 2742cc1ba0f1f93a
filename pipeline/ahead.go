package pipeline

import (
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// opening is a photograph being decoded while another one is worked on: decoding
// uses one core, and what is done with a photograph before the next one is needed
// leaves a core free at times.
type opening struct {
	at   int // of the photograph in inputs
	done chan struct{}
	lin  *pix.Image
	err  error
	bad  any // what a panic told: it goes on where the photograph is wanted
}

// openAhead says that each photograph is to be opened while the one before it is
// worked on. Tiles are not: all of a light's are held at once as it is.
func (r *rectifier) openAhead() {
	if slices.ContainsFunc(r.in.images, func(f hide.ImageFact) bool { return f.Tile > 0 }) {
		return
	}
	first := []hide.Light{hide.Top, hide.Back, hide.Empty} // see coarse
	for _, l := range first {
		if i := r.place(l); i >= 0 {
			r.order = append(r.order, i)
		}
	}
	for i, f := range r.in.images {
		if !slices.Contains(first, f.Light) {
			r.order = append(r.order, i)
		}
	}
}

// openFile decodes the i-th photograph of the capture and makes it linear. The
// caller closes it.
func (r *rectifier) openFile(i int) (*pix.Image, error) {
	var lin *pix.Image
	var err error
	if o := r.ahead; o != nil && o.at == i {
		<-o.done
		if r.ahead = nil; o.bad != nil {
			panic(o.bad)
		}
		lin, err = o.lin, o.err
	} else {
		lin, err = r.decode(i)
	}
	if k := slices.Index(r.order, i) + 1; err == nil && r.ahead == nil && k > 0 && k < len(r.order) {
		o := &opening{at: r.order[k], done: make(chan struct{})}
		r.ahead = o
		go func() {
			defer close(o.done)
			defer func() { o.bad = recover() }()
			o.lin, o.err = r.decode(o.at)
		}()
	}
	return lin, err
}

// leaveAhead waits for a photograph that is being opened and closes it.
func (r *rectifier) leaveAhead() {
	if r.ahead != nil {
		<-r.ahead.done
		r.ahead.lin.Close() // nil if it could not be opened
		r.ahead = nil
	}
}
