package pipeline

import (
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// opening is a photograph being decoded while another one is worked on: decoding
// uses one core, and what is done with a photograph before the next one is needed
// leaves a core free at times. A photograph is opened once.
type opening struct {
	done chan struct{}
	lin  *pix.Exposure
	err  error
	bad  any // what a panic told: it goes on where the photograph is wanted
}

// openAhead says that photographs are to be opened while those before them are
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

// farAhead photographs at most are decoded before they are wanted, in the order in which
// they will be: enough to fill the time that the camera is solved in, on one core.
const farAhead = 3

// openFile decodes the i-th photograph of the capture and makes it linear. The
// caller closes it.
func (r *rectifier) openFile(i int) (*pix.Exposure, error) {
	r.startAfter(i, 1)
	lin, err := r.opened(i)
	if err == nil {
		r.startAfter(i, farAhead)
	}
	return lin, err
}

// startAfter starts opening the n photographs that are wanted after the i-th.
func (r *rectifier) startAfter(i, n int) {
	k := slices.Index(r.order, i) + 1
	if k == 0 {
		return
	}
	for _, at := range r.order[k:min(k+n, len(r.order))] {
		if r.ahead[at] != nil {
			continue
		}
		o := &opening{done: make(chan struct{})}
		r.ahead[at] = o
		go func() {
			defer close(o.done)
			defer func() { o.bad = recover() }()
			o.lin, o.err = r.decode(at)
		}()
	}
}

// opened is the i-th photograph, opened ahead or now.
func (r *rectifier) opened(i int) (*pix.Exposure, error) {
	o := r.ahead[i]
	if o == nil {
		return r.decode(i)
	}
	<-o.done
	delete(r.ahead, i)
	if o.bad != nil {
		panic(o.bad)
	}
	return o.lin, o.err
}

// leaveAhead waits for the photographs that are being opened and closes them.
func (r *rectifier) leaveAhead() {
	for _, o := range r.ahead {
		<-o.done
		o.lin.Close() // nil if it could not be opened
	}
	clear(r.ahead)
}
