package review

import (
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"hidechart/hide"
)

// beat keeps proxies and browsers from giving up on a quiet stream.
const beat = 15 * time.Second

// writeTime is how long a reader of events may keep a write waiting.
const writeTime = 10 * time.Second

// events streams what is decided on a chart (WHATWG HTML, server-sent
// events). The first event says how many decisions there are, so that a page that was
// cut off knows whether it missed any.
func (s *Server) events(w http.ResponseWriter, r *http.Request, x *session) error {
	name, err := passOf(r)
	if err != nil {
		return err
	}
	c := http.NewResponseController(w)
	if err := c.SetReadDeadline(time.Time{}); err != nil {
		return hide.Wrapf(hide.Internal, err, "events")
	}
	in := x.hub.join(name)
	defer x.hub.leave(in)
	hello, err := x.hello(name)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("X-Accel-Buffering", "no")
	send := func(text string) bool {
		_ = c.SetWriteDeadline(time.Now().Add(writeTime)) // without it the write only waits longer
		_, err := w.Write([]byte(text))
		return err == nil && c.Flush() == nil
	}
	if !send("retry: 1000\n" + hello) {
		return nil
	}
	tick := time.NewTicker(beat)
	defer tick.Stop()
	for {
		select {
		case e, open := <-in:
			if !open || !send(e.text()) {
				return nil
			}
		case <-tick.C:
			if !send(": still here\n\n") {
				return nil
			}
		case <-s.stop:
			return nil
		case <-r.Context().Done():
			return nil
		}
	}
}

func (x *session) hello(pass string) (string, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if err := x.refresh(); err != nil {
		return "", err
	}
	last := x.passes[pass].progress().Last
	return event{id: last, name: "hello", data: map[string]any{"last": last, "chart_sha256": x.sum}}.text(), nil
}

func (e event) text() string {
	data, err := json.Marshal(e.data)
	if err != nil {
		return ": " + e.name + "\n\n" // the page reads the whole state when it sees a gap
	}
	return fmt.Sprintf("id: %d\nevent: %s\ndata: %s\n\n", e.id, e.name, data)
}
