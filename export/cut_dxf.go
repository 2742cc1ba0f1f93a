package export

import (
	"io"

	"hidechart/hide"
)

// WriteCutDXF writes a cut plan in millimetres, y up, in the table frame: outline,
// cuttable region, qualities, pieces, their cut-outs, numbers with names, grain
// lines, a bar of 100 mm. Rings are closed LWPOLYLINEs without a repeated vertex;
// inner rings lie on layers of their own. Error: Invalid for a plan without an
// outline.
func WriteCutDXF(w io.Writer, p CutPlan) error {
	if err := p.check(); err != nil {
		return err
	}
	f, body := &dxfFile{handle: firstFreeHandle}, &dxfFile{handle: firstFreeHandle}
	body.cutPlan(p)
	f.header(p.box(), body.handle+1)
	f.tables(cutLayers(p), p.box())
	f.blocks()
	f.pair(0, "SECTION")
	f.pair(2, "ENTITIES")
	f.buf.Write(body.buf.Bytes())
	f.pair(0, "ENDSEC")
	f.handle = body.handle
	f.objects()
	f.pair(0, "EOF")
	if _, err := w.Write(f.buf.Bytes()); err != nil {
		return hide.Wrapf(hide.Internal, err, "cut plan, dxf")
	}
	return nil
}

// cutLayers: colours of the colour index as in dxfLayers.
func cutLayers(p CutPlan) []dxfLayer {
	out := []dxfLayer{{"0", 7}, {layerOutline, 7}, {layerHoles, 1}, {layerBackbone, 8}, {layerBar, 7}, {layerNotes, 8}, {layerCuttable, 3},
		{layerCuttableHole, 1}, {layerQualityHole, 8}, {layerPieces, 5}, {layerCutOuts, 5}, {layerPieceNames, 7}, {layerGrain, 8}}
	for i, q := range p.Quality {
		out = append(out, dxfLayer{qualityLayer(q), []int{3, 4, 2, 30}[min(i, 3)]})
	}
	return out
}

func (f *dxfFile) cutPlan(p CutPlan) {
	f.shape(layerOutline, layerHoles, hide.Shape{p.Outline})
	f.shape(layerCuttable, layerCuttableHole, p.Cuttable)
	for _, q := range p.Quality {
		f.shape(qualityLayer(q), layerQualityHole, q.Shape)
	}
	if n := p.Backbone; n[0] != n[1] {
		f.segment(layerBackbone, n)
	}
	for i, q := range p.Pieces {
		f.shape(layerPieces, layerCutOuts, hide.Shape{q.Shape})
		if q.Grain != nil {
			f.segment(layerGrain, *q.Grain)
		}
		x, y := middleOf(q.Shape.Outer)
		f.text(layerPieceNames, x, y, drawnText/2, pieceLabel(i, q))
	}
	b := p.box()
	x, y := b.minX, b.minY-drawnGap
	f.line(layerBar, x, y, x+drawnBar, y)
	f.line(layerBar, x, y-5, x, y+5)
	f.line(layerBar, x+drawnBar, y-5, x+drawnBar, y+5)
	f.text(layerBar, x, y-drawnText-8, drawnText, "100 mm")
	for i, n := range append(append([]string{p.title() + "; millimetres"}, p.Notes...), knifeCaution()) {
		f.text(layerNotes, x, y-drawnText*(3.5+1.6*float64(i)), drawnText, n)
	}
}

func (f *dxfFile) segment(layer string, l [2]hide.Point) {
	f.line(layer, hide.Micron(l[0].X), hide.Micron(l[0].Y), hide.Micron(l[1].X), hide.Micron(l[1].Y))
}
