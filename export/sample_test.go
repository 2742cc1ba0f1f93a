package export

import (
	"math"
	"strings"

	"hidechart/hide"
)

// oval is a ring of n vertices round a centre, wavy by the given share, on whole
// thousandths so that files give it back exactly.
func oval(x, y, rx, ry, wave float64, n int) hide.Ring {
	r := make(hide.Ring, n)
	for i := range r {
		a := 2 * math.Pi * float64(i) / float64(n)
		s := 1 + wave*math.Sin(7*a)
		r[i] = hide.Point{X: hide.MM(hide.Micron(hide.MM(x + rx*s*math.Cos(a)))), Y: hide.MM(hide.Micron(hide.MM(y + ry*s*math.Sin(a))))}
	}
	return r
}

func reversed(r hide.Ring) hide.Ring {
	out := make(hide.Ring, len(r))
	for i, p := range r {
		out[len(r)-1-i] = p
	}
	return out
}

// sampleChart is an invented hide with every kind of defect and every optional
// key; names holds what stands in its texts.
func sampleChart(names string) hide.Chart {
	hole := oval(1900, 900, 3, 2.5, 0, 12)
	outline := hide.Polygon{Outer: oval(1600, 1200, 1100, 800, 0.04, 700), Holes: []hide.Ring{reversed(hole)}}
	warm, damp, at := 21.5, 63.0, hide.Point{X: 1500, Y: 1100}
	c := hide.Chart{Format: hide.Format,
		Capture: hide.CaptureFacts{ID: names, Supplier: names, Lot: names, Article: names, Stamp: "29¹", Temper: "soft", Note: names,
			TempC: &warm, Humidity: &damp, Substance: []hide.Substance{{MM: 1.4, Place: "butt"}, {MM: 1.3, At: &at}},
			Images: []hide.ImageFact{{Light: hide.Top, SHA256: strings.Repeat("0a", 32), WidthPX: 6000, HeightPX: 4000}}},
		Frame: hide.Frame{Unit: "mm", Y: "up", MMPerPX: 0.5, RigSHA256: strings.Repeat("1b", 32)},
		Area: hide.Area{Value: outline.Area(), U: 9000, Budget: []hide.BudgetPart{{Source: "scale", U: 8000, Text: "fit of 16 tags", DoF: 12},
			{Source: "edge", U: 4123.1}}},
		Outline: outline, Backbone: [2]hide.Point{{X: 520, Y: 1190}, {X: 2680, Y: 1210}},
		Zones:  []hide.ZoneShape{{Zone: hide.Butt, Geometry: hide.Shape{{Outer: oval(1900, 1200, 400, 300, 0, 60), Holes: []hide.Ring{reversed(hole)}}}}},
		Flags:  []hide.Flag{{Code: "few_tags", Text: "only five tags seen: " + names}},
		Tags:   []hide.TagFit{{ID: 3, Light: hide.Top, ResidualMM: 0.21, ResidualPX: 0.4}},
		MadeBy: hide.MadeBy{Version: "test", OpenCV: "4.6.0", SettingsSHA256: strings.Repeat("2c", 32)},
	}
	for i, k := range hide.Kinds() {
		c.Defects = append(c.Defects, sampleDefect(i, k, names))
	}
	c.Defects[0].Geometry = hide.Shape{{Outer: hole}}
	return c
}

func sampleDefect(i int, k hide.Kind, names string) hide.Defect {
	x, y := 900+130*float64(i), 1000+50*float64(i%5)
	s := hide.Shape{{Outer: oval(x, y, 30, 12, 0.05, 40), Holes: []hide.Ring{reversed(oval(x, y, 9, 5, 0, 16))}}}
	if k == hide.Bites {
		s = hide.Shape{{Outer: oval(x, y, 3, 3, 0, 16)}, {Outer: oval(x+20, y+8, 2, 2, 0, 16)}, {Outer: oval(x+28, y-9, 1, 1, 0, 12)}}
	}
	d := hide.Defect{ID: i + 1, Kind: k, Status: hide.Candidate, Probability: 0.93 - 0.07*float64(i), Geometry: s, Area: s.Area(),
		Length: 60, Width: 24, Zone: hide.Butt, EdgeDistance: 333.25, Lights: []hide.Light{hide.Top, hide.RakeE}}
	switch k {
	case hide.Bites:
		d.Count = 3
	case hide.Scar:
		d.Open, d.Status = true, hide.Confirmed
	case hide.Vein:
		d.Status = hide.Rejected
	case hide.Loose:
		d.Advice = "bend the grain inward here: " + names
	}
	return d
}

// hostileNames are texts that break careless writers.
func hostileNames() []string {
	return []string{`=HYPERLINK("x","y")`, "+1", "-2+3", "@SUM(A1)", "\tTab", "\rReturn", "two\r\nlines\nand \"quotes\", commas; semicolons",
		"<script>alert('&amp;')</script> ]]>", "שלום\u202eolleh\u202c مرحبا", "%%d %%% ^J \\U+0041 {\\P}", "𝔘nicode 🐄 é ß", strings.Repeat("long ", 400),
		"\u2028line\u2029", "\x01\x1f", "  ", ""}
}
