package score

import (
	"image"
	"math"

	"hidechart/hide"
)

// matching is the pixel work of Compare: what lies near what.
type matching struct {
	truth Truth
	found []CandidateOutcome

	near  []bool   // grid pixels within nearCandidate of a candidate with p ≥ Certain
	hits  []int    // by truth defect: pixels near any such candidate
	best  []int    // by truth defect: most pixels near one such candidate
	by    []int    // by truth defect: index of that candidate, −1 for none
	wrong hide.MM2 // area of such candidates beyond nearTruth of every truth
	cands []hide.Defect
}

func match(cands []hide.Defect, t Truth) matching {
	n := len(t.Defects)
	m := matching{truth: t, cands: cands, near: make([]bool, len(t.ID)), hits: make([]int, n), best: make([]int, n), by: make([]int, n)}
	for i := range m.by {
		m.by[i] = -1
	}
	all := t.patchOf(func(TruthDefect) bool { return true })
	close2 := all.grown(float64(nearCandidate/t.Grid.MMPerPX), t.Grid)
	close3 := all.grown(float64(nearTruth/t.Grid.MMPerPX), t.Grid)
	wrongly := make([]bool, len(t.ID)) // a pixel under two candidates counts once
	for k, d := range cands {
		m.add(k, d, close2, close3, wrongly)
	}
	for i, id := range t.ID {
		if id != 0 && m.near[i] {
			m.hits[id-1]++
		}
	}
	return m
}

// patchOf covers the pixels of the truth defects that pass.
func (t Truth) patchOf(pass func(TruthDefect) bool) patch {
	p := newPatch(image.Rect(0, 0, t.Grid.Width, t.Grid.Height))
	wanted := make([]bool, len(t.Defects)+1)
	for i, d := range t.Defects {
		wanted[i+1] = pass(d)
	}
	for i, id := range t.ID {
		p.in[i] = wanted[id]
	}
	return p
}

func (m *matching) add(k int, d hide.Defect, close2, close3 patch, wrongly []bool) {
	t := m.truth
	body := fill(d.Geometry, t.Grid)
	halo := body.grown(float64(nearCandidate/t.Grid.MMPerPX), t.Grid)
	covers := map[int]int{}
	certain := d.Probability >= Certain
	halo.each(t.Grid.Width, func(i int) {
		m.near[i] = m.near[i] || certain
		if id := t.ID[i]; id != 0 {
			covers[int(id)-1]++
		}
	})
	o := CandidateOutcome{ID: d.ID, Kind: d.Kind, Probability: d.Probability}
	pixels, upon, touching := 0, 0, false
	body.each(t.Grid.Width, func(i int) {
		pixels++
		if close2.in[i] {
			upon++
		}
		touching = touching || close3.in[i]
		if certain && !close3.in[i] && !wrongly[i] {
			wrongly[i] = true
			m.wrong += hide.MM2(t.Grid.MMPerPX * t.Grid.MMPerPX)
		}
	})
	o.False = certain && !touching
	o.On = float64(upon) / float64(max(pixels, 1))
	o.Real = float64(upon) >= foundShare*float64(pixels) && pixels > 0 && upon > 0
	most := 0
	for i := range t.Defects {
		n := covers[i]
		if n > most {
			most, o.Of = n, t.Defects[i].Kind
		}
		if n == 0 {
			continue
		}
		o.Real = o.Real || float64(n) >= foundShare*float64(t.Defects[i].Pixels)
		// the same number twice: the earlier candidate keeps it
		if certain && n > m.best[i] {
			m.best[i], m.by[i] = n, k
		}
	}
	if !o.Real {
		o.Of = ""
	}
	m.found = append(m.found, o)
}

func (m matching) outcome(i int) TruthOutcome {
	d := m.truth.Defects[i]
	o := TruthOutcome{ID: d.ID, Kind: d.Kind, Visibility: d.Visibility, Hidden: d.Pixels == 0}
	if o.Hidden {
		return o
	}
	o.Share = float64(m.hits[i]) / float64(d.Pixels)
	o.Found = o.Share >= foundShare
	if k := m.by[i]; k >= 0 {
		o.By, o.As = m.cands[k].ID, m.cands[k].Kind
		if o.Found && o.As == o.Kind {
			if off := m.truth.borderOff(i, m.cands[k].Geometry); !math.IsNaN(off) {
				o.BorderOff = &off
			}
		}
	}
	return o
}
