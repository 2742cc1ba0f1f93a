package pipeline

import (
	"slices"

	"hidechart/calibrate"
	"hidechart/detect"
	"hidechart/hide"
	"hidechart/pix"
)

// evenLight finds how the light under top falls on the table, for the pictures
// that people look at: from the empty photograph, else from the bare table round the
// hide. Detection does not use it: it compares leather with the leather beside it,
// and the outline fits the table's light itself. nil when too little of the table is seen.
func evenLight(coarse detect.Photos, tags []hide.Polygon, seen, outline hide.Ring) *calibrate.Flat {
	table, ok := coarse.Lights[hide.Empty]
	hidden := slices.Clone(tags)
	if !ok {
		table = coarse.Lights[hide.Top]
		hidden = append(hidden, hide.Polygon{Outer: outline})
	}
	g := coarse.Grid
	bare := pix.New(g.Width, g.Height, pix.U8, 1)
	defer bare.Close()
	paint(bare, g, hide.Polygon{Outer: seen}, 255)
	for _, p := range hidden {
		paint(bare, g, p, 0)
	}
	wide, err := pix.Erode(bare, hide.PX(bareMargin/g.MMPerPX))
	if err != nil {
		return nil
	}
	defer wide.Close()
	flat, err := calibrate.FlatField(table, wide, g.MMPerPX, calibrate.DefaultFlatParams())
	if err != nil {
		return nil // the picture stays as it was taken
	}
	return flat
}

// bareMargin is kept off hide, tag sheets and border, mm: a tag's paper reaches
// an eighth of its edge past the black, and a hide throws shade for a centimetre.
const bareMargin = 25

func paint(im *pix.Image, g pix.Grid, p hide.Polygon, value uint8) {
	data := im.Bytes()
	for y := range g.Height {
		for _, span := range crossings(p, g, y) {
			for x := max(0, span[0]); x <= min(g.Width-1, span[1]); x++ {
				data[y*g.Width+x] = value
			}
		}
	}
}

// evened is the picture under top light with its light evened out, coded for the eye;
// without a gain as it is. The caller closes it.
func evened(fine detect.Photos, flat *calibrate.Flat, table hide.MM) (*pix.Image, error) {
	top, g := fine.Lights[hide.Top], fine.Grid
	if flat == nil {
		return pix.EightBit(top)
	}
	part := flat.Part(g.Left, table-g.Top, hide.MM(g.Width)*g.MMPerPX, hide.MM(g.Height)*g.MMPerPX)
	defer part.Close()
	return part.FlattenForEye(top, g.MMPerPX)
}
