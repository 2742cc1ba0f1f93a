package review

import (
	"errors"
	"os"
	"path/filepath"
	"sync"
	"time"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/yield"
)

// blindPass is the name of the second review: it sees nothing of the first and
// changes no chart.
const blindPass = "blind"

// session is one chart under review. mu guards everything below it.
type session struct {
	name, dir string
	now       func() time.Time

	mu       sync.Mutex
	stamp    stamp
	chart    hide.Chart
	sum      string
	lights   *export.Lights // nil: none beside the chart
	record   *record
	readOnly error // why nothing can be decided; nil: it can
	passes   map[string]*pass
	live     map[string]*live // by pass and look
	hub      hub
}

// pass is one reading of the chart: the review, or the blind one.
type pass struct {
	name   string
	chart  hide.Chart
	sum    string
	record *record
	now    hide.Reviewed
}

func (p *pass) fold()       { p.now = hide.Fold(p.chart, p.sum, p.record.decisions, p.name) }
func (p *pass) nextID() int { return p.now.NextID }

// stamp tells whether a file is still the one that was read.
type stamp struct {
	size int64
	at   time.Time
}

func stampOf(path string) (stamp, error) {
	info, err := os.Stat(path)
	if err != nil {
		return stamp{}, hide.Wrapf(hide.Unreadable, err, "chart")
	}
	return stamp{info.Size(), info.ModTime()}, nil
}

// refresh reads the chart if it is another than the one held. Call with mu.
func (s *session) refresh() error {
	path := filepath.Join(s.dir, export.ChartName)
	now, err := stampOf(path)
	if err != nil {
		return err
	}
	if s.passes != nil && now == s.stamp {
		return nil
	}
	c, sum, err := export.ReadChartSum(path)
	if err != nil {
		return err
	}
	s.chart, s.sum, s.stamp, s.lights, s.live = c, sum, now, nil, map[string]*live{}
	lights, err := export.ReadLights(s.dir)
	switch {
	case err == nil:
		s.lights = &lights
	case !errors.Is(err, hide.NotFound):
		return err
	}
	return s.refold()
}

// refold opens the record if it is not open and folds every pass. Call with mu.
func (s *session) refold() error {
	if s.record == nil {
		if err := s.open(); err != nil {
			return err
		}
	}
	s.passes = map[string]*pass{}
	for _, name := range []string{"", blindPass} {
		p := &pass{name: name, chart: s.chart, sum: s.sum, record: s.record}
		p.fold()
		s.passes[name] = p
	}
	return nil
}

// open opens the record; one that another program holds is read, and nothing can be
// decided here.
func (s *session) open() error {
	r, err := openRecord(s.dir, s.now())
	if err == nil {
		s.record, s.readOnly = r, nil
		return nil
	}
	have, readErr := export.ReadReview(filepath.Join(s.dir, export.ReviewName))
	if readErr != nil {
		return readErr
	}
	s.readOnly = err
	s.record = &record{decisions: have.Decisions, keys: map[string]int{}}
	return nil
}

// change is what one decision did, for every page that shows the chart.
type change struct {
	Decision hide.Decision `json:"decision"`
	Held     bool          `json:"held"`
	Touched  []touched     `json:"touched"`
	Disputes []dispute     `json:"disputes"`
	Notes    []note        `json:"notes"`
	Flags    []hide.Flag   `json:"flags"`
	Progress progress      `json:"progress"`
}

// touched is a defect as it is now; without one it is gone.
type touched struct {
	ID       int          `json:"id"`
	Revision int          `json:"revision"`
	Defect   *hide.Defect `json:"defect"`
}

// dispute adds who decided first.
type dispute struct {
	hide.Dispute
	AgainstWho string   `json:"against_who"`
	AgainstAct hide.Act `json:"against_act"`
}

type note struct {
	Seq    int       `json:"seq"`
	Who    string    `json:"who"`
	At     time.Time `json:"at"`
	Defect int       `json:"defect,omitempty"`
	Text   string    `json:"text"`
}

// progress of a review.
type progress struct {
	Found   int `json:"found"` // by the program
	Left    int `json:"left"`  // of them, to decide
	Added   int `json:"added"`
	Decided int `json:"decisions"`
	Last    int `json:"last"` // place of the last decision
}

// decide records what a reviewer asks and folds it in. A request whose key is
// in the record already is answered again, not recorded again.
func (s *session) decide(passName string, a ask) (change, error) {
	if err := a.clean(); err != nil {
		return change{}, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.refresh(); err != nil {
		return change{}, err
	}
	if s.readOnly != nil {
		return change{}, s.readOnly
	}
	p := s.passes[passName]
	if i, known := s.record.keys[a.Key]; known {
		return p.changeBy(s.record.decisions[i]), nil
	}
	d, err := p.decide(a)
	if err != nil {
		return change{}, err
	}
	d.At, d.Chart = s.now().UTC().Truncate(time.Millisecond), s.sum
	if d, err = s.record.append(d); err != nil {
		return change{}, err
	}
	for _, q := range s.passes {
		q.fold()
	}
	c := p.changeBy(d)
	s.hub.publish(passName, event{id: d.Seq, name: "decision", data: c})
	return c, nil
}

// changeBy describes what a decision of the record did.
func (p *pass) changeBy(d hide.Decision) change {
	c := change{Decision: d, Touched: []touched{}, Disputes: p.disputes(), Notes: p.notes(), Flags: p.now.Chart.Flags, Progress: p.progress()}
	seen := map[int]bool{}
	for _, side := range [][]hide.Defect{d.Before, d.After} {
		for _, x := range side {
			if !seen[x.ID] {
				seen[x.ID] = true
				c.Touched = append(c.Touched, p.touched(x.ID))
			}
		}
	}
	for _, x := range p.now.Disputes {
		c.Held = c.Held || x.Held == d.Seq
	}
	return c
}

func (p *pass) touched(id int) touched {
	t := touched{ID: id, Revision: p.now.Revision[id]}
	for i := range p.now.Chart.Defects {
		if p.now.Chart.Defects[i].ID == id {
			t.Defect = &p.now.Chart.Defects[i]
		}
	}
	return t
}

func (p *pass) disputes() []dispute {
	out := []dispute{}
	for _, x := range p.now.Disputes {
		d := dispute{Dispute: x}
		if x.Against >= 1 && x.Against <= len(p.record.decisions) {
			by := p.record.decisions[x.Against-1]
			d.AgainstWho, d.AgainstAct = by.Who, by.Act
		}
		out = append(out, d)
	}
	return out
}

func (p *pass) notes() []note {
	out := []note{}
	for _, d := range p.now.Notes {
		n := note{Seq: d.Seq, Who: d.Who, At: d.At, Text: d.Text}
		if len(d.Before) > 0 {
			n.Defect = d.Before[0].ID
		}
		out = append(out, n)
	}
	return out
}

func (p *pass) progress() progress {
	out := progress{Found: len(p.chart.Defects)}
	for _, d := range p.now.Chart.Defects {
		switch d.Status {
		case hide.Candidate:
			out.Left++
		case hide.Added:
			out.Added++
		}
	}
	for _, d := range p.record.decisions {
		if d.Pass == p.name && d.Chart == p.sum {
			out.Decided++
			out.Last = d.Seq
		}
	}
	return out
}

// cut gives the yield of a pass under a look, as it is now.
func (s *session) cut(passName string, look yield.Look) (cutting, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.refresh(); err != nil {
		return cutting{}, err
	}
	key := passName + "\n" + look.Name
	l := s.live[key]
	if l == nil {
		l = &live{look: look}
		s.live[key] = l
	}
	p := s.passes[passName]
	out, err := l.now(p.now.Chart)
	out.Seq = len(s.record.decisions)
	return out, err
}
