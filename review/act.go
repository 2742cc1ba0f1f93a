package review

import (
	"cmp"
	"reflect"
	"slices"
	"strings"
	"unicode"

	"hidechart/hide"
	"hidechart/plane"
)

// target is a defect and the last decision on it that the reviewer saw.
type target struct {
	ID   int `json:"id"`
	Seen int `json:"seen"`
}

// ask is what a reviewer wants, as the page sends it.
type ask struct {
	Key     string       `json:"key"`
	Who     string       `json:"who"`
	Act     hide.Act     `json:"act"`
	Targets []target     `json:"targets,omitempty"`
	Kind    hide.Kind    `json:"kind,omitempty"`
	Open    *bool        `json:"open,omitempty"`
	Drawn   *stroke      `json:"drawn,omitempty"`
	Cut     []hide.Point `json:"cut,omitempty"` // split: the line; none: each part by itself
	Text    string       `json:"text,omitempty"`
	Look    string       `json:"look,omitempty"` // whose yield to answer with
}

const (
	keyLeast, keyMost = 8, 64
	mostAtOnce        = 5000 // defects in one request
)

// clean checks the parts of a request that are the same for every act.
// Error: Invalid.
func (a *ask) clean() error {
	a.Who, a.Text = tidy(a.Who), strings.TrimSpace(a.Text)
	switch {
	case len(a.Key) < keyLeast || len(a.Key) > keyMost || strings.IndexFunc(a.Key, odd) >= 0:
		return hide.Faultf(hide.Invalid, "key: want %d to %d letters, digits or -", keyLeast, keyMost)
	case a.Who == "":
		return hide.Faultf(hide.Invalid, "who reviews? give a name first")
	case !slices.Contains(hide.Acts(), a.Act):
		return hide.Faultf(hide.Invalid, "act %q is not known", a.Act)
	case len(a.Targets) > mostAtOnce:
		return hide.Faultf(hide.Invalid, "more than %d defects at once", mostAtOnce)
	}
	slices.SortFunc(a.Targets, func(x, y target) int { return cmp.Compare(x.ID, y.ID) })
	for i := range a.Targets[min(1, len(a.Targets)):] {
		if a.Targets[i].ID == a.Targets[i+1].ID {
			return hide.Faultf(hide.Invalid, "defect %d is named twice", a.Targets[i].ID)
		}
	}
	return nil
}

func odd(r rune) bool {
	return r != '-' && (r < '0' || r > '9') && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z')
}

// tidy makes a name one line of visible characters.
func tidy(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return ' '
		}
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

// decide turns a request into a decision on the reviewed chart as it is. The
// decision is not yet recorded and has no place. Errors: Invalid; NotFound for a defect
// that never was; Conflict for an undo of what somebody changed since.
func (p *pass) decide(a ask) (hide.Decision, error) {
	d := hide.Decision{Key: a.Key, Who: a.Who, Pass: p.name, Act: a.Act, Text: a.Text, Seen: []int{}, Before: []hide.Defect{}, After: []hide.Defect{}}
	if a.Act == hide.ActUndo || a.Act == hide.ActRedo {
		return p.takeBack(d)
	}
	for _, t := range a.Targets {
		x, err := p.find(t.ID)
		if err != nil {
			return d, err
		}
		d.Before, d.Seen = append(d.Before, x), append(d.Seen, t.Seen)
	}
	var err error
	d.After, err = p.after(a, d.Before)
	return d, err
}

// find gives a defect as it is; one that an unseen decision took away as it
// last was, so that a late word on it is kept in the record.
func (p *pass) find(id int) (hide.Defect, error) {
	for _, x := range p.now.Chart.Defects {
		if x.ID == id {
			return x, nil
		}
	}
	for i := len(p.record.decisions) - 1; i >= 0; i-- {
		if d := p.record.decisions[i]; d.Pass == p.name {
			for _, x := range d.Before {
				if x.ID == id {
					return x, nil
				}
			}
		}
	}
	return hide.Defect{}, hide.Faultf(hide.NotFound, "there is no defect %d on this chart", id)
}

// after makes the defects that a decision leaves.
func (p *pass) after(a ask, before []hide.Defect) ([]hide.Defect, error) {
	need := func(least, most int) error {
		if n := len(before); n < least || n > most {
			return hide.Faultf(hide.Invalid, "%s: want %d to %d defects, got %d", a.Act, least, most, n)
		}
		return nil
	}
	switch a.Act {
	case hide.ActConfirm, hide.ActReject, hide.ActKeep:
		return each(before, func(d *hide.Defect) { setStatus(d, a.Act) }), need(1, mostAtOnce)
	case hide.ActKind:
		if !a.Kind.Valid() {
			return nil, hide.Faultf(hide.Invalid, "kind %q is not known", a.Kind)
		}
		return each(before, func(d *hide.Defect) { d.Kind = a.Kind; asReal(d) }), need(1, mostAtOnce)
	case hide.ActOpen:
		if a.Open == nil {
			return nil, hide.Faultf(hide.Invalid, "open: want true or false")
		}
		return each(before, func(d *hide.Defect) { d.Open = *a.Open; asReal(d) }), need(1, mostAtOnce)
	case hide.ActNote:
		if a.Text == "" {
			return nil, hide.Faultf(hide.Invalid, "note: say something")
		}
		return each(before, func(*hide.Defect) {}), need(0, 1)
	case hide.ActRedraw, hide.ActAdd:
		if a.Drawn == nil {
			return nil, hide.Faultf(hide.Invalid, "%s: want a drawing", a.Act)
		}
		if a.Act == hide.ActAdd {
			return p.add(a)
		}
		return p.redraw(a, before)
	case hide.ActSplit:
		if err := need(1, 1); err != nil {
			return nil, err
		}
		return p.split(a, before[0])
	case hide.ActMerge:
		if err := need(2, 100); err != nil {
			return nil, err
		}
		return p.merge(before)
	}
	return nil, hide.Faultf(hide.Invalid, "act %q is not known", a.Act)
}

func each(before []hide.Defect, change func(*hide.Defect)) []hide.Defect {
	out := slices.Clone(before)
	for i := range out {
		change(&out[i])
	}
	return out
}

func setStatus(d *hide.Defect, a hide.Act) {
	switch {
	case a == hide.ActReject:
		d.Status = hide.Rejected
	case a == hide.ActConfirm && d.Status != hide.Added:
		d.Status = hide.Confirmed
	}
}

// asReal: whoever names, opens or redraws a flaw has seen that it is one.
func asReal(d *hide.Defect) { setStatus(d, hide.ActConfirm) }

func (p *pass) add(a ask) ([]hide.Defect, error) {
	if !a.Kind.Valid() {
		return nil, hide.Faultf(hide.Invalid, "kind %q is not known", a.Kind)
	}
	if len(a.Targets) > 0 {
		return nil, hide.Faultf(hide.Invalid, "add: it has no number yet")
	}
	shape, length, width, err := a.Drawn.drawn(p.chart.Outline)
	if err != nil {
		return nil, err
	}
	d := hide.Defect{ID: p.nextID(), Kind: a.Kind, Status: hide.Added, Probability: 1, Lights: []hide.Light{}}
	d.Open = a.Open != nil && *a.Open || a.Kind == hide.Hole
	measureInto(&d, p.chart, shape, length, width)
	return []hide.Defect{d}, nil
}

func (p *pass) redraw(a ask, before []hide.Defect) ([]hide.Defect, error) {
	if len(before) != 1 {
		return nil, hide.Faultf(hide.Invalid, "redraw: want one defect")
	}
	shape, length, width, err := a.Drawn.drawn(p.chart.Outline)
	if err != nil {
		return nil, err
	}
	d := before[0]
	asReal(&d)
	measureInto(&d, p.chart, shape, length, width)
	return []hide.Defect{d}, nil
}

// split keeps the number for the largest part; all parts keep the status, since
// a flaw is often split because one part is none.
func (p *pass) split(a ask, d hide.Defect) ([]hide.Defect, error) {
	parts, err := cutAlong(d.Geometry, a.Cut)
	if err != nil {
		return nil, err
	}
	if len(parts) > 100 {
		return nil, hide.Faultf(hide.Invalid, "split: more than 100 parts, draw a line instead")
	}
	next := p.nextID()
	var out []hide.Defect
	for i, s := range parts {
		part := d
		if i > 0 {
			part.ID = next
			next++
		}
		if d.Count > 1 {
			part.Count = len(s)
		}
		box := plane.MinRectangle(s)
		measureInto(&part, p.chart, s, box.Length, box.Width)
		out = append(out, part)
	}
	return out, nil
}

// merge keeps the lowest number and the kind of the largest.
func (p *pass) merge(before []hide.Defect) ([]hide.Defect, error) {
	out, largest := before[0], before[0]
	shapes := make([]hide.Shape, len(before))
	for i, d := range before {
		shapes[i] = d.Geometry
		if d.Area > largest.Area {
			largest = d
		}
		out.Probability = max(out.Probability, d.Probability)
		out.Open = out.Open || d.Open
		if d.Status == hide.Confirmed || d.Status == hide.Added {
			out.Status = hide.Confirmed
		}
		if i > 0 && out.Count+d.Count > 0 {
			out.Count = max(1, out.Count) + max(1, d.Count)
		}
		for _, l := range d.Lights {
			if !slices.Contains(out.Lights, l) {
				out.Lights = append(slices.Clone(out.Lights), l)
			}
		}
	}
	out.Kind, out.Advice = largest.Kind, largest.Advice
	all, err := plane.Union(shapes...)
	if err != nil {
		return nil, hide.Wrapf(hide.Invalid, err, "merge")
	}
	box := plane.MinRectangle(all)
	measureInto(&out, p.chart, all, box.Length, box.Width)
	return []hide.Defect{out}, nil
}

// takeBack undoes the last decision of this person that is not undone, or redoes
// the last one undone.
func (p *pass) takeBack(d hide.Decision) (hide.Decision, error) {
	last, ok := p.lastOf(d.Who, d.Act)
	if !ok {
		return d, hide.Faultf(hide.NotFound, "there is nothing to %s", d.Act)
	}
	d.Of = last.Seq
	if p.isNote(last) {
		return d, nil
	}
	for i, was := range last.After {
		now, err := p.find(was.ID)
		if err == nil && reflect.DeepEqual(now, was) && p.there(was.ID) {
			d.Before = append(d.Before, now)
			d.Seen = append(d.Seen, p.now.Revision[was.ID])
			if len(last.Before) == len(last.After) {
				d.After = append(d.After, last.Before[i])
			}
		} else if len(last.Before) != len(last.After) {
			return d, p.changedSince(was.ID, last)
		}
	}
	if len(last.Before) != len(last.After) {
		d.After = append(d.After, last.Before...)
		for _, b := range last.Before {
			if p.there(b.ID) && !slices.ContainsFunc(d.Before, func(x hide.Defect) bool { return x.ID == b.ID }) {
				return d, p.changedSince(b.ID, last)
			}
		}
	} else if len(d.Before) == 0 {
		return d, p.changedSince(last.After[0].ID, last)
	}
	return d, nil
}

func (p *pass) isNote(d hide.Decision) bool {
	for d.Act == hide.ActUndo || d.Act == hide.ActRedo {
		d = p.record.decisions[d.Of-1]
	}
	return d.Act == hide.ActNote
}

func (p *pass) there(id int) bool {
	return slices.ContainsFunc(p.now.Chart.Defects, func(x hide.Defect) bool { return x.ID == id })
}

func (p *pass) changedSince(id int, last hide.Decision) error {
	who := "somebody"
	if r := p.now.Revision[id]; r > 0 && r <= len(p.record.decisions) {
		who = p.record.decisions[r-1].Who
	}
	return hide.Faultf(hide.Conflict, "%s decided on %d after you: it stays as it is (your %s is number %d of the record)", who, id, last.Act, last.Seq)
}

// lastOf is the decision that this person's next undo or redo takes back.
func (p *pass) lastOf(who string, act hide.Act) (hide.Decision, bool) {
	var done, undone []hide.Decision
	for _, d := range p.record.decisions {
		if d.Who != who || d.Pass != p.name || d.Chart != p.sum {
			continue
		}
		switch {
		case d.Act == hide.ActUndo && len(done) > 0:
			done, undone = done[:len(done)-1], append(undone, d)
		case d.Act == hide.ActRedo && len(undone) > 0:
			undone, done = undone[:len(undone)-1], append(done, d)
		default:
			done, undone = append(done, d), nil
		}
	}
	from := done
	if act == hide.ActRedo {
		from = undone
	}
	if len(from) == 0 {
		return hide.Decision{}, false
	}
	return from[len(from)-1], true
}
