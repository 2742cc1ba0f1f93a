package pipeline

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"hidechart/hide"
	"hidechart/pix"
)

// toChart writes what was measured as a chart.
func (m *measured) toChart(version string) hide.Chart {
	facts := m.in.capture.Note.Facts()
	facts.ID = m.in.capture.ID
	facts.Images = m.in.images
	m.ownFlags()
	area := budget(*m)
	return hide.Chart{
		Format:    hide.Format,
		Capture:   facts,
		Frame:     hide.Frame{Unit: "mm", Y: "up", MMPerPX: float64(m.mmPerPX), RigSHA256: m.in.rigSum, LensSHA256: m.in.lensSum, Aim: m.aim()},
		Area:      area,
		Outline:   m.outline.Polygon,
		Backbone:  [2]hide.Point{m.frame.Neck, m.frame.Tail},
		BackboneU: m.backboneU(area),
		Side:      m.frame.Side,
		Zones:     nonNil(m.zones),
		Defects:   nonNil(m.sized(m.defects, area)),
		Flags:     tidyFlags(m.flags),
		Tags:      nonNil(m.fit.Tags),
		MadeBy:    hide.MadeBy{Version: version, OpenCV: pix.OpenCVVersion(), SettingsSHA256: m.in.settings, Settings: m.in.stored},
	}
}

// nonNil makes an empty list of none: JSON readers expect a list.
func nonNil[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

// coarsePixel is the size of a photograph's pixel on the table, mm, above
// which a 3 mm hole is less than two pixels wide.
const coarsePixel = 1.5

// ownFlags adds the doubts that no single stage can see.
func (m *measured) ownFlags() {
	if odd := m.in.capture.Odd; len(odd) > 0 {
		m.addFlags(hide.Flag{Code: "picture_ignored", Text: "not named after a light and left out: " + strings.Join(odd, ", ")})
	}
	if !m.stated {
		m.addFlags(hide.Flag{Code: "substance_assumed", Text: fmt.Sprintf("no substance stated: %.1f mm assumed; write substance in capture.yaml for a surer area", m.substance)})
	}
	m.lensFlag()
	if m.pixelMM > coarsePixel {
		m.addFlags(hide.Flag{Code: "coarse_photo", Text: fmt.Sprintf("a photograph's pixel is %.1f mm on the table: small holes and fine scratches cannot be seen; use a camera of more pixels", m.pixelMM)})
	}
}

// aim is what the middle of the photograph looks at; nil for several photographs.
func (m *measured) aim() *hide.Aim {
	if m.fit.Mosaic() != nil {
		return nil
	}
	c := m.view.Camera
	const span = 100 // px along the row: long enough that no rounding counts, short against the lens's bend
	mid := pix.Point{X: hide.PX(c.Width-1) / 2, Y: hide.PX(c.Height-1) / 2}
	a, b := m.view.Ground(mid, 0), m.view.Ground(pix.Point{X: mid.X + span, Y: mid.Y}, 0)
	return &hide.Aim{At: hide.Point{X: hide.MM(hide.Micron(a.X)), Y: hide.MM(hide.Micron(a.Y))}, MMPerPX: float64(a.Distance(b)) / span,
		TurnDeg: math.Atan2(float64(b.Y-a.Y), float64(b.X-a.X)) * 180 / math.Pi}
}

// lensFlag states what the missing lens file costs this hide: the fit knows where the
// tags lie, not yet the outline.
func (m *measured) lensFlag() {
	_, lens := m.fit.AreaParts(m.outline.Polygon)
	for i := range m.flags {
		if f := &m.flags[i]; f.Code == "lens_from_tags" {
			f.Value, f.Unit = 100*lens, "percent"
			f.Text = fmt.Sprintf("no lens file: the lens was fitted to the tags of this capture, %d of them, and adds %.2g %% of the area to its standard uncertainty", m.fit.Inliers, f.Value)
		}
	}
}

func (m *measured) addFlags(f ...hide.Flag) { m.flags = append(m.flags, f...) }

// tidyFlags sorts by code and text and drops repeats.
func tidyFlags(flags []hide.Flag) []hide.Flag {
	out := slices.Clone(flags)
	slices.SortFunc(out, func(a, b hide.Flag) int {
		return cmp.Or(strings.Compare(a.Code, b.Code), strings.Compare(a.Text, b.Text))
	})
	return nonNil(slices.Compact(out))
}
