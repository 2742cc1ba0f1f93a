package review

import (
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"

	"hidechart/export"
	"hidechart/hide"
)

// learnedKind is what the reviews of a folder say of one kind, by what the
// program took each flaw for.
type learnedKind struct {
	Kind     hide.Kind `json:"kind"`
	Words    string    `json:"words"`
	Found    int       `json:"found"`    // and decided
	Expected float64   `json:"expected"` // real ones by their probabilities
	Real     int       `json:"real"`
	Renamed  int       `json:"renamed"` // of the real ones
	Added    int       `json:"added"`   // not found, drawn by a reviewer
}

// profile answers with what the reviews of this folder changed, and with the
// profile that the next hide is charted with, if the command was given one.
func (s *Server) profile(w http.ResponseWriter, r *http.Request) {
	out := struct {
		Charts    int             `json:"charts"`
		Decisions int             `json:"decisions"`
		Kinds     []learnedKind   `json:"kinds"`
		Profile   json.RawMessage `json:"profile,omitempty"`
	}{Kinds: []learnedKind{}, Profile: s.readProfile()}
	names, err := s.shelf.names()
	if err != nil {
		s.fail(w, r, err)
		return
	}
	by := map[hide.Kind]*learnedKind{}
	for _, k := range hide.Kinds() {
		by[k] = &learnedKind{Kind: k, Words: k.Words()}
	}
	for _, n := range names {
		if !plainFile(filepath.Join(s.shelf.dir, n, export.ReviewName)) {
			continue
		}
		x, err := s.shelf.open(n)
		if err != nil {
			continue
		}
		if k := x.learn(by); k > 0 {
			out.Charts++
			out.Decisions += k
		}
	}
	for _, k := range hide.Kinds() {
		if x := by[k]; x.Found+x.Added > 0 {
			out.Kinds = append(out.Kinds, *x)
		}
	}
	if err := writeJSON(w, out); err != nil {
		s.fail(w, r, err)
	}
}

// learn adds one chart's review and gives its number of decisions. A chart that
// cannot be read is told in the list.
func (x *session) learn(by map[hide.Kind]*learnedKind) int {
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.refresh() != nil {
		return 0
	}
	p := x.passes[""]
	found := map[int]hide.Defect{}
	for _, d := range x.chart.Defects {
		found[d.ID] = d
	}
	for _, d := range p.now.Chart.Defects {
		was, known := found[d.ID]
		switch {
		case d.Status == hide.Added:
			by[d.Kind].Added++
		case known && d.Status != hide.Candidate:
			k := by[was.Kind]
			k.Found++
			k.Expected += was.Probability
			if d.Status == hide.Confirmed {
				k.Real++
				if d.Kind != was.Kind {
					k.Renamed++
				}
			}
		}
	}
	return p.progress().Decided
}

// mostProfile bytes of a profile: numbers for twelve kinds.
const mostProfile = 1 << 20

func (s *Server) readProfile() json.RawMessage {
	if s.opts.Profile == "" {
		return nil
	}
	f, err := os.Open(s.opts.Profile)
	if err != nil {
		return nil // not learned yet
	}
	defer func() { _ = f.Close() }() // read only
	data, err := io.ReadAll(io.LimitReader(f, mostProfile))
	if err != nil || !json.Valid(data) {
		s.opts.Log.Warn("the profile cannot be read", "file", s.opts.Profile)
		return nil
	}
	return data
}
