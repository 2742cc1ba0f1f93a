package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"hidechart/hide"
)

// tunedSeeds are those that constants were chosen on; larger ones are held out.
const tunedSeeds = 60

// coverageHead explains the table.
const coverageHead = `# Coverage of the stated area

Rendered hides of known area, each with everything drawn that captures vary in (1500 to 6000 px, 4 to 16 tags, tilt, blur, lights, article, whole or side, with and
without a lens file), and with what people
state about a rig misstated by its stated uncertainty (tags glued off their places, the rig's scale, the lens file's terms, the substance
read, the lie of the hide; see cmd/hidechart/coverage_case.go). The table's colour differs from the leather's, as docs/rig.md asks.
u is the standard uncertainty that the chart states; a fair one holds the truth within 2u in about 95 of 100 captures.
Errors and u are percent of the area. camera: what the camera found makes of the true edge; edge: what the edge found makes with the true camera.
Constants were chosen on the seeds up to 60; the others are held out.

` + "`make coverage`" + ` writes this page anew with seeds 1 to 120; any others: ` + "`bin/hidechart coverage --first SEED --scenes N --out FILE`" + `. A run that is stopped leaves a page of the
scenes it got through.

What the errors are made of:
- **White tables**: the edge lies 0.1 to 0.6 mm too far out, for the leather's rim shades the table beside it ([adr 0020](adr/0020-shade-of-the-rim-in-u.md)). Thick leather on a
  white table is worst, a side most of all, whose edge is long for its area: a side of pull-up brown was once 0.33 % out, 0.30 of it edge, and not for its four tags. Since then
  that shade is in the budget, not taken off; more of it where leather and table differ little ([adr 0049](adr/0049-every-outline-asked-for-its-edge.md)). A table far darker than the leather has none.
- **Four tags without a lens file** do not fix the lens: a hide of 1500 px was once 0.79 % out, 0.72 of it camera, with u 0.41 % (both scenes of earlier renderers: their seeds draw others now). The ± says so; one hide measured both ways has u 0.29 % with four tags and
  0.06 % with sixteen (TestFourTagsAreLessSureThanSixteen).
- **The rig's own lengths** (tags.scale_u) are 0.06 % of the area where a rig states 0.03 %, and in wide sharp photographs most of u.
- Mended earlier: levels of leather and table read within the blur of coarse photographs, and half-covered pixels rendered as if they lay in a shadow.

`

// writeCoverage writes docs/coverage.md.
func writeCoverage(w io.Writer, rows []coverageRow) error {
	var b strings.Builder
	b.WriteString(coverageHead)
	fmt.Fprintf(&b, "**This run.** %s.\n\n", coverageRun(rows))
	b.WriteString("| scenes | measured | median error | 95 % below | worst | within 2u | mean u | RMS of error/u |\n|---|---|---|---|---|---|---|---|\n")
	group := func(name string, in func(coverageRow) bool) {
		var some []coverageRow
		for _, r := range rows {
			if in(r) {
				some = append(some, r)
			}
		}
		if len(some) > 0 {
			b.WriteString(coverageSums(name, some))
		}
	}
	tuned := func(r coverageRow) bool { return r.of.spec.Seed <= tunedSeeds }
	group("tuned on", tuned)
	group("held out", func(r coverageRow) bool { return !tuned(r) })
	group("all", func(coverageRow) bool { return true })
	group("2000 px and less", func(r coverageRow) bool { return r.of.spec.WidthPX <= 2000 })
	group("more than 2000 px", func(r coverageRow) bool { return r.of.spec.WidthPX > 2000 })
	group("4 and 5 tags", func(r coverageRow) bool { return r.of.spec.Tags < 6 })
	group("10 tags and more", func(r coverageRow) bool { return r.of.spec.Tags >= 10 })
	group("lens file", func(r coverageRow) bool { return r.of.lens })
	group("no lens file", func(r coverageRow) bool { return !r.of.lens })
	group("blur above 1 px", func(r coverageRow) bool { return r.of.spec.BlurPX > 1 })
	group("white table", func(r coverageRow) bool { return r.of.spec.Table == "white" })
	group("black table", func(r coverageRow) bool { return r.of.spec.Table == "black" })
	b.WriteString("\n| seed | px | tags | tilt ° | blur px | lights | article | hide | lens file | glued mm | scale u % | error | u | error/u | camera | edge | u: scale, lens, edge, height |\n" +
		"|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|\n")
	for _, r := range rows {
		b.WriteString(coverageLine(r) + "\n")
	}
	if _, err := io.WriteString(w, b.String()); err != nil {
		return hide.Wrapf(hide.Internal, err, "coverage")
	}
	return nil
}

// coverageRun says which scenes the page holds.
func coverageRun(rows []coverageRow) string {
	refused := 0
	for _, r := range rows {
		if r.refused != "" {
			refused++
		}
	}
	if len(rows) == 0 {
		return "No scenes"
	}
	return fmt.Sprintf("%d scenes, seeds %d to %d; %d measured, %d refused", len(rows), rows[0].of.spec.Seed, rows[len(rows)-1].of.spec.Seed, len(rows)-refused, refused)
}

// coverageSums is a line of the summary.
func coverageSums(name string, rows []coverageRow) string {
	var errs []float64
	var within, square, mean float64
	for _, r := range rows {
		if r.refused != "" {
			continue
		}
		errs = append(errs, math.Abs(r.err))
		square += r.z() * r.z()
		mean += r.u
		if math.Abs(r.z()) <= 2 {
			within++
		}
	}
	n := float64(len(errs))
	if n == 0 {
		return fmt.Sprintf("| %s: %d | 0 | | | | | | |\n", name, len(rows))
	}
	slices.Sort(errs)
	at := func(q float64) float64 { return errs[int(math.Ceil(q*n))-1] }
	return fmt.Sprintf("| %s: %d | %d | %.3f | %.3f | %.3f | %.0f %% | %.3f | %.2f |\n", name, len(rows), len(errs), at(0.5), at(0.95), at(1), 100*within/n, mean/n, math.Sqrt(square/n))
}

// coverageLine is a scene's line of the table.
func coverageLine(r coverageRow) string {
	s := r.of.spec
	lights := make([]string, len(s.Lights))
	for i, l := range s.Lights {
		lights[i] = string(l)
	}
	word := func(b bool, yes, no string) string {
		if b {
			return yes
		}
		return no
	}
	head := fmt.Sprintf("| %d | %d | %d | %g | %.2f | %s | %s%s | %s | %s | %g | %.2f |", s.Seed, s.WidthPX, s.Tags, s.TiltDeg, s.BlurPX, strings.Join(lights, " "), s.Article,
		word(s.Phone, ", hand-held", ""), word(s.Side != nil && *s.Side, "side", "whole"), word(r.of.lens, "yes", "no"), float64(r.of.glued), 100*r.of.scaleU)
	if r.refused != "" {
		return head + " " + strings.ReplaceAll(r.refused, "|", "/") + " | | | | | |"
	}
	return head + fmt.Sprintf(" %+.3f | %.3f | %+.1f | %+.3f | %+.3f | %.3f, %.3f, %.3f, %.3f |", r.err, r.u, r.z(), r.camera, r.edge,
		r.parts["scale"], r.parts["lens"], r.parts["edge"], r.parts["height"])
}
