package calibrate

import (
	"image"
	"math"
	"slices"

	"hidechart/hide"
	"hidechart/pix"
)

// TagsAgain looks for tags only where another photograph from the same place
// showed them: at most n of those seen, spread over the picture, each edge fitted anew
// from its old place. It costs a hundredth of a search. A tag whose four edges are not all found there is left out:
// it is hidden or dark under this light, or the camera has moved by more than
// the edge fit reaches (7 px); which of the two a search by FindTags must tell.
func TagsAgain(photo *pix.Exposure, seen []Sighting, n int) []Sighting {
	chosen := spreadTags(seen, n)
	found, ok := make([]Sighting, len(chosen)), make([]bool, len(chosen))
	inParallel(len(chosen), func(i int) {
		found[i], ok[i] = seenAgain(photo, chosen[i])
	})
	var out []Sighting
	for i := range found {
		if ok[i] {
			out = append(out, found[i])
		}
	}
	return out
}

// seenAgain fits a tag in the part of the photograph round it.
func seenAgain(photo *pix.Exposure, s Sighting) (Sighting, bool) {
	part, at := photo.GreyPart(tagBox(s))
	if part == nil {
		return s, false
	}
	defer part.Close()
	t := rawTag{id: s.ID}
	for k, c := range s.Corners {
		t.corners[k] = [2]float64{float64(c.X) - float64(at.X), float64(c.Y) - float64(at.Y)}
	}
	again, ok := refineTag(part, t)
	for k := range again.Corners {
		again.Corners[k].X += hide.PX(at.X)
		again.Corners[k].Y += hide.PX(at.Y)
	}
	return again, ok && again.Good == [4]bool{true, true, true, true}
}

// tagBox holds a tag and half its side around it: more than fitting its edges reads.
func tagBox(s Sighting) image.Rectangle {
	var out image.Rectangle
	for _, c := range s.Corners {
		p := image.Pt(int(math.Round(float64(c.X))), int(math.Round(float64(c.Y))))
		out = out.Union(image.Rectangle{Min: p, Max: p.Add(image.Pt(1, 1))})
	}
	return out.Inset(-(16 + max(out.Dx(), out.Dy())/2))
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
