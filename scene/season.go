package scene

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"hidechart/hide"
	"hidechart/plane"
)

// SeasonHide is a hide of the invented season: its chart, made from truth, and the
// day it came in.
type SeasonHide struct {
	Chart hide.Chart
	Day   time.Time
}

// seasonMark is a mark that a supplier or a machine leaves, at a place of the hide frame.
type seasonMark struct {
	kind   hide.Kind
	u, v   float64
	length float64 // mm, along the backbone
	width  float64 // mm
}

func (e seasonMark) outlined(f plane.HideFrame) (hide.Shape, error) {
	du := e.length / float64(f.Length()) / 2
	return plane.RibbonFrom([]hide.Point{f.At(e.u-du, e.v), f.At(e.u+du, e.v)}, hide.MM(e.width))
}

// seasonSupplier is what an invented supplier's hides are like.
type seasonSupplier struct {
	name, mark, article string
	flaws               float64 // multiplier of their number
	over                float64 // by how much the stamps overstate the area
	branded             float64 // share of hides with a brand on the left of the butt
	scored              int     // lot, from 1, in which a roller left a scratch; 0: none
}

// What the season is made of.
const (
	seasonLots  = 4  // of each supplier
	seasonHides = 10 // of each lot
)

// seasonSuppliers are three invented suppliers, each with something to be found.
func seasonSuppliers() []seasonSupplier {
	return []seasonSupplier{
		{name: "Moorhen Hollow Tannery (invented)", mark: "MH", article: "aniline tan", flaws: .8},
		{name: "Saltreed & Daughters (invented)", mark: "SD", article: "olive waxed", flaws: 1, over: .022, branded: .6},
		{name: "Vennal Bridge Hides (invented)", mark: "VB", article: "aniline tan", flaws: 1.7, scored: 3},
	}
}

// Season is an invented season of three suppliers, twelve lots and 120 hides, each
// handed to do in their order, a lot at a time. One supplier's stamps overstate the area and many of its hides
// are branded on the left of the butt; one has more flaws, and in one of its
// lots a roller scratched each hide at one place. Error: do's, or those of TruthChart.
func Season(ctx context.Context, do func(SeasonHide) error) error {
	for i, p := range seasonSuppliers() {
		for lot := range seasonLots {
			var hides [seasonHides]SeasonHide
			var errs [seasonHides]error
			err := bands(ctx, seasonHides, func(n int) { hides[n], errs[n] = p.hide(i, lot, n) })
			if err := errors.Join(append(errs[:], err)...); err != nil {
				return err
			}
			for _, h := range hides {
				if err := do(h); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func (p seasonSupplier) hide(i, lot, n int) (SeasonHide, error) {
	seed := int64(70000 + 1000*i + 100*lot + n)
	s := stream(seed, "season")
	side := n%5 == 4
	name := fmt.Sprintf("%s-26%02d", p.mark, 1+2*lot)
	spec := Spec{Seed: seed, Article: p.article, Side: &side, WidthPX: phoneWidthPX, Defects: p.flaws * s.log(.8, 1.25),
		ID: fmt.Sprintf("%s-%02d", name, n+1), Supplier: p.name, Lot: name}
	var extra []seasonMark
	if s.chance(p.branded) && !side {
		extra = append(extra, seasonMark{hide.Brand, .74 + s.in(-.015, .015), -.45 + s.in(-.03, .03), 110, 90})
	}
	if p.scored == lot+1 && s.chance(.9) && !side {
		extra = append(extra, seasonMark{hide.Scratch, .52 + s.in(-.008, .008), .30 + s.in(-.02, .02), 60, 3})
	}
	c, err := truthChart(spec, extra)
	if err != nil {
		return SeasonHide{}, err
	}
	c.Capture.Stamp = hide.QuarterMark(hide.MM2(float64(c.Area.Value) * (1 + p.over + s.in(-.012, .012))))
	temp, humidity := math.Round(10*s.in(18.5, 22))/10, math.Round(s.in(55, 68))
	c.Capture.TempC, c.Capture.Humidity, c.Capture.Temper = &temp, &humidity, "medium"
	c.Capture.Substance = []hide.Substance{{MM: hide.MM(math.Round(10*s.in(1.4, 2.2)) / 10), Place: string(hide.Butt)}}
	c.Area.Value += hide.MM2(s.NormFloat64() * float64(c.Area.U) / 2) // half of the uncertainty varies from hide to hide
	return SeasonHide{Chart: c, Day: time.Date(2026, time.Month(1+2*lot), 3+7*i, 10, n, 0, 0, time.UTC)}, nil
}
