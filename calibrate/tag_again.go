package calibrate

import (
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// TagsAgain looks for tags only where another photograph from the same place
// showed them: at most n of those seen, spread over the picture, each edge fitted anew
// from its old place. It costs a hundredth of a search. A tag whose four edges are not all found there is left out:
// it is hidden or dark under this light, or the camera has moved by more than
// the edge fit reaches (7 px); which of the two a search by FindTags must tell. The
// picture is as FindTags's. Error: Invalid for another kind.
func TagsAgain(linearGrey *pix.Image, seen []Sighting, n int) ([]Sighting, error) {
	if linearGrey.Depth() != pix.U16 || linearGrey.Channels() != 1 {
		return nil, hide.Faultf(hide.Invalid, "tags: want one channel of 16-bit linear light")
	}
	chosen := spreadTags(seen, n)
	found, ok := make([]Sighting, len(chosen)), make([]bool, len(chosen))
	inParallel(len(chosen), func(i int) {
		t := rawTag{id: chosen[i].ID}
		for k, c := range chosen[i].Corners {
			t.corners[k] = [2]float64{float64(c.X), float64(c.Y)}
		}
		found[i], ok[i] = refineTag(linearGrey, t)
		ok[i] = ok[i] && found[i].Good == [4]bool{true, true, true, true}
	})
	var out []Sighting
	for i := range found {
		if ok[i] {
			out = append(out, found[i])
		}
	}
	return out, nil
}

// spreadTags chooses up to n whole tags, each the farthest from those chosen
// before it, beginning with the lowest id.
func spreadTags(seen []Sighting, n int) []Sighting {
	whole := slices.DeleteFunc(slices.Clone(seen), func(s Sighting) bool { return s.Good != [4]bool{true, true, true, true} })
	var out []Sighting
	for len(out) < n && len(whole) > 0 {
		best, far := 0, -1.0
		for i, s := range whole {
			near := math.Inf(1)
			for _, t := range out {
				near = min(near, math.Hypot(float64(s.Corners[0].X-t.Corners[0].X), float64(s.Corners[0].Y-t.Corners[0].Y)))
			}
			if near > far {
				best, far = i, near
			}
		}
		out = append(out, whole[best])
		whole = slices.Delete(whole, best, best+1)
	}
	return out
}
