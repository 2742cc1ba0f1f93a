package main

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"

	"hidechart/calibrate"
	"hidechart/hide"
	"hidechart/scene"
)

// coverageCase is one scene of the coverage run with what is stated wrongly
// about it, as people state things: each error drawn with the standard
// uncertainty that the files state or the settings assume.
type coverageCase struct {
	spec      scene.Spec
	lens      bool    // a lens file, its terms off by their uncertainties
	glued     hide.MM // standard deviation of tags about the places in rig.yaml
	scaleU    float64 // relative standard uncertainty of the rig's lengths
	substance bool    // stated
	r         *rand.Rand
}

// Standard uncertainties with which the run misstates what people state: a lens
// file's terms as a chessboard gives them, a substance read with a gauge and the
// lie of the hide as the settings assume (pipeline.Params).
const (
	coverageFocalU  = 4e-4 // of fx and fy together, as a share
	coverageCentreU = 2e-4 // as a share of the width
	coverageK1U     = 1.5e-3
	coverageK2U     = 3e-3
	coverageTangU   = 5e-5
	coverageReadMM  = 0.1
	coverageLieMM   = 0.5
)

// coverageOf draws the case of a seed: everything a capture may vary in.
func coverageOf(seed int64) coverageCase {
	r := rand.New(rand.NewPCG(uint64(seed), 0x636f7665)) //nolint:gosec // scenes, not secrets
	c := coverageCase{r: r}
	widths := []int{1500, 1500, 1800, 2200, 2800, 3400, 4200, 6000}
	tags := []int{4, 5, 6, 8, 8, 10, 12, 16}
	c.spec = scene.Spec{Seed: seed, WidthPX: widths[r.IntN(len(widths))], Tags: tags[r.IntN(len(tags))],
		TiltDeg: []float64{1, 2.5, 4, 8}[r.IntN(4)], BlurPX: 0.45 * math.Pow(1.8/0.45, r.Float64()),
		Article: scene.Articles()[r.IntN(len(scene.Articles()))], Lights: []hide.Light{hide.Top},
		Phone: r.IntN(4) == 0, Grey: r.IntN(8) == 0, Cast: r.IntN(6) == 0}
	c.spec.Table = scene.ContrastingTable(c.spec.Article)
	side := r.IntN(3) == 0
	c.spec.Side = &side
	if r.IntN(2) == 0 {
		c.spec.Lights = append(c.spec.Lights, hide.Back)
	}
	if r.IntN(2) == 0 {
		c.spec.Lights = append(c.spec.Lights, hide.Empty)
	}
	c.lens = r.IntN(2) == 0
	c.glued = []hide.MM{0, 0.1, 0.2, 0.4}[r.IntN(4)]
	c.scaleU = []float64{0, 1e-4, 3e-4}[r.IntN(3)]
	c.substance = r.IntN(3) > 0
	return c
}

// cameraTruth is camera.json of a rendered capture, in a frame with y down.
type cameraTruth struct {
	K    [3][3]float64
	D    [5]float64
	R    [3][3]float64
	T    [3]float64 `json:"t"`
	Size [2]int     `json:"size"`
}

// placeTruth is what the run needs of truth.json beside the outline.
type placeTruth struct {
	SubstanceMM hide.MM    `json:"substance_mm"`
	TableMM     [2]float64 `json:"table_mm"`
}

// readJSON reads a file that the renderer wrote.
func readJSON(path string, into any) error {
	data, err := os.ReadFile(path)
	if err == nil {
		err = json.Unmarshal(data, into)
	}
	if err != nil {
		return hide.Wrapf(hide.Unreadable, err, "%s", path)
	}
	return nil
}

// view is the true camera in the table's frame, y up.
func (c cameraTruth) view(tableHeight float64) calibrate.View {
	v := calibrate.View{Camera: calibrate.Camera{FX: c.K[0][0], FY: c.K[1][1], CX: c.K[0][2], CY: c.K[1][2],
		K1: c.D[0], K2: c.D[1], P1: c.D[2], P2: c.D[3], K3: c.D[4], Width: c.Size[0], Height: c.Size[1]}}
	for i := range 3 {
		v.R[3*i], v.R[3*i+1], v.R[3*i+2] = c.R[i][0], -c.R[i][1], -c.R[i][2]
		v.T[i] = c.T[i] + c.R[i][1]*tableHeight
	}
	return v
}

// statedName is the rig file with the case's errors, beside the true one.
const statedName = "stated.yaml"

// misstate writes the rig, the lens and capture.yaml as a person would have who
// measured with the case's uncertainties.
func (c coverageCase) misstate(dir string, cam cameraTruth, place placeTruth) error {
	data, err := os.ReadFile(filepath.Join(dir, "rig.yaml"))
	if err != nil {
		return hide.Wrapf(hide.Unreadable, err, "coverage")
	}
	rig, err := calibrate.ParseRig(data)
	if err != nil {
		return err
	}
	files := map[string]string{statedName: c.rigText(rig), "lens.yaml": c.lensText(cam), "capture.yaml": c.noteText(place)}
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			return hide.Wrapf(hide.Internal, err, "coverage")
		}
	}
	return nil
}

// rigText is the rig with its centres moved and stretched; the hide's lie is an
// offset that nobody knows of.
func (c coverageCase) rigText(rig calibrate.Rig) string {
	var b strings.Builder
	scale := 1 + c.scaleU*c.r.NormFloat64()
	fmt.Fprintf(&b, "table: {width_mm: %g, height_mm: %g}\nplane_offset_mm: %.3f\n", float64(rig.Width), float64(rig.Height), coverageLieMM*c.r.NormFloat64())
	if c.lens {
		b.WriteString("lens: lens.yaml\n")
	}
	fmt.Fprintf(&b, "tags:\n  family: %s\n  edge_mm: %g\n  u_mm: %g\n  scale_u: %g\n  centres_mm:\n", calibrate.TagFamily, float64(rig.TagEdge), float64(c.glued), c.scaleU)
	off := func(v hide.MM) float64 { return float64(v)*scale + float64(c.glued)*c.r.NormFloat64() }
	for _, id := range rig.IDs() {
		p := rig.Centres[id]
		fmt.Fprintf(&b, "    %d: [%.3f, %.3f]\n", id, off(p.X), off(p.Y))
	}
	return b.String()
}

// lensText is a lens file whose terms are off by the uncertainties it states.
func (c coverageCase) lensText(cam cameraTruth) string {
	w := float64(cam.Size[0])
	terms := [8]float64{cam.K[0][0], cam.K[1][1], cam.K[0][2], cam.K[1][2], cam.D[0], cam.D[1], cam.D[2], cam.D[3]}
	u := [8]float64{terms[0] * coverageFocalU, terms[1] * coverageFocalU, w * coverageCentreU, w * coverageCentreU,
		coverageK1U, coverageK2U, coverageTangU, coverageTangU}
	focal := c.r.NormFloat64() // fx and fy are wrong together
	for i := range terms {
		n := c.r.NormFloat64()
		if i < 2 {
			n = focal
		}
		terms[i] += u[i] * n
	}
	line := func(v [8]float64) string {
		return fmt.Sprintf("{fx: %g, fy: %g, cx: %g, cy: %g, k1: %g, k2: %g, p1: %g, p2: %g}", v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7])
	}
	return fmt.Sprintf("size_px: [%d, %d]\nterms: %s\nu: %s\n", cam.Size[0], cam.Size[1], line(terms), line(u))
}

// noteText is capture.yaml with the substance as read, if it is stated.
func (c coverageCase) noteText(place placeTruth) string {
	note := "note: rendered, invented\n"
	if c.substance {
		note += fmt.Sprintf("substance: [{mm: %.3f}]\n", float64(place.SubstanceMM)+coverageReadMM*c.r.NormFloat64())
	}
	return note
}
