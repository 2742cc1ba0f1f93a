package review

import "sync"

// event is one server-sent event.
type event struct {
	id   int
	name string
	data any
}

// backlog is how many events a slow reader may be behind before it is cut
// off; its page then connects again and reads the whole state.
const backlog = 256

// hub hands events to every page that shows a chart.
type hub struct {
	mu      sync.Mutex
	readers map[chan event]string // and its pass
}

func (h *hub) join(pass string) chan event {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.readers == nil {
		h.readers = map[chan event]string{}
	}
	c := make(chan event, backlog)
	h.readers[c] = pass
	return c
}

func (h *hub) leave(c chan event) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if _, in := h.readers[c]; in {
		delete(h.readers, c)
		close(c)
	}
}

// publish never waits.
func (h *hub) publish(pass string, e event) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for c, p := range h.readers {
		if p != pass {
			continue
		}
		select {
		case c <- e:
		default:
			delete(h.readers, c)
			close(c)
		}
	}
}
