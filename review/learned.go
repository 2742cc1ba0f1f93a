package review

import (
	"net/http"
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
// profiles that the next hides are charted with, if the command was given any.
func (s *Server) profile(w http.ResponseWriter, r *http.Request) {
	out := struct {
		Charts    int              `json:"charts"`
		Decisions int              `json:"decisions"`
		Kinds     []learnedKind    `json:"kinds"`
		Profiles  []learnedProfile `json:"profiles"`
	}{Kinds: []learnedKind{}, Profiles: s.readProfiles()}
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

// learnedProfile is a profile of an article in the list's words.
type learnedProfile struct {
	Article string `json:"article"`
	Hides   int    `json:"hides"`
	Decided int    `json:"decided"`
	Active  bool   `json:"active"`
	Why     string `json:"why"`
	Before  int    `json:"false_before"` // on hides left out
	After   int    `json:"false_after"`  // with as many real ones kept
}

// readProfiles gives the profiles that the next hides are charted with.
func (s *Server) readProfiles() []learnedProfile {
	out := []learnedProfile{}
	if s.opts.Profiles == nil {
		return out
	}
	list, err := s.opts.Profiles()
	if err != nil {
		s.opts.Log.Warn("the profiles cannot be read", "error", err)
		return out
	}
	for _, p := range list {
		out = append(out, learnedProfile{p.Article, p.Hides, p.Decided, p.Active, p.Why, p.Was.False, p.Gain.False})
	}
	return out
}
