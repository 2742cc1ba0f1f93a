package plane

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

type captureTruth struct {
	Side    bool       `json:"side"`
	Neck    hide.Point `json:"neck_mm"`
	Tail    hide.Point `json:"tail_mm"`
	Outline hide.Ring  `json:"outline_mm"`
}

const sharedCaptures = "../../shared/captures"

func readTruths(t *testing.T) map[string]captureTruth {
	files, err := filepath.Glob(filepath.Join(sharedCaptures, "*", "truth.json"))
	require.NoError(t, err)
	if len(files) == 0 {
		require.Empty(t, os.Getenv("CI"), "shared captures are missing at %s", sharedCaptures)
		t.Skipf("SKIPPED: the shared captures are missing at %s; the backbone is NOT checked against them", sharedCaptures)
	}
	out := map[string]captureTruth{}
	for _, f := range files {
		data, err := os.ReadFile(f)
		require.NoError(t, err)
		var c captureTruth
		require.NoError(t, json.Unmarshal(data, &c))
		out[filepath.Base(filepath.Dir(f))] = c
	}
	return out
}

// Truth: the shared captures, rendered by a program independent of this one.
// 40 mm is what the project promises at both ends.
func TestFrameOfSharedCaptures(t *testing.T) {
	for name, c := range readTruths(t) {
		t.Run(name, func(t *testing.T) {
			f, err := FindFrame(hide.Polygon{Outer: c.Outline}.Oriented())
			require.NoError(t, err)
			t.Logf("neck %.1f mm, tail %.1f mm off; sure %.3f, head %.3f, symmetry %.3f", f.Neck.Distance(c.Neck), f.Tail.Distance(c.Tail), f.Sure, f.HeadSure, f.Symmetry)
			assert.Equal(t, c.Side, f.Side)
			assert.LessOrEqual(t, float64(f.Neck.Distance(c.Neck)), 40.0)
			assert.LessOrEqual(t, float64(f.Tail.Distance(c.Tail)), 40.0)
			assert.GreaterOrEqual(t, f.Sure, SureEnough)
		})
	}
}

func TestFrameOfInventedHides(t *testing.T) {
	n := 100 // PLANE_HIDES=2000 measures the distribution; see the numbers in head.go
	if s := os.Getenv("PLANE_HIDES"); s != "" {
		var err error
		n, err = strconv.Atoi(s)
		require.NoError(t, err)
	}
	var kindWrong, lineWrong, headWrong, flagged, flaggedWrong int
	var ends []float64
	var dump strings.Builder
	for seed := range n {
		h := inventHide(uint64(seed))
		f, err := FindFrame(h.outline)
		require.NoError(t, err, "seed %d", seed)
		wrong := true
		head := float64(f.Neck.Distance(h.neck)) < float64(f.Neck.Distance(h.tail))
		turn := betweenLines(f.line, axisThrough(h.neck, h.tail)) * 180 / math.Pi
		switch {
		case f.Side != h.side:
			kindWrong++
			t.Logf("seed %d: side %v taken for %v (sure %.2f)", seed, h.side, f.Side, f.Sure)
		case turn > 10:
			lineWrong++
			t.Logf("seed %d: line off by %.0f° (sure %.2f)", seed, turn, f.Sure)
		case !head:
			headWrong++
			t.Logf("seed %d: wrong head (sure %.2f) side %v", seed, f.Sure, f.Side)
		default:
			wrong = false
			l := float64(h.neck.Distance(h.tail))
			ends = append(ends, float64(f.Neck.Distance(h.neck))/l, float64(f.Tail.Distance(h.tail))/l)
		}
		if f.Sure < SureEnough {
			flagged++
			if wrong {
				flaggedWrong++
			}
		}
		if f.Side == h.side && turn <= 10 {
			d := signDifference(f.halves(), f.length)
			s := 1.0
			if !head {
				s = -1
			}
			fmt.Fprintf(&dump, "%d", seed)
			for _, x := range d {
				fmt.Fprintf(&dump, ",%g", s*x)
			}
			dump.WriteString("\n")
		}
	}
	slices.Sort(ends)
	wrong := kindWrong + lineWrong + headWrong
	t.Logf("of %d: whole/side wrong %d, line wrong %d, head wrong %d; flagged %d, of the wrong ones %d of %d; end error/length median %.4f p90 %.4f p99 %.4f",
		n, kindWrong, lineWrong, headWrong, flagged, flaggedWrong, wrong, ends[len(ends)/2], ends[len(ends)*9/10], ends[len(ends)*99/100])
	assert.LessOrEqual(t, kindWrong, n/50, "whole or side")
	assert.LessOrEqual(t, lineWrong, n/50, "backbone's line")
	// these contours are made hard on purpose: necks cut off, legs of equal place
	assert.LessOrEqual(t, headWrong, n/10, "head end")
	assert.LessOrEqual(t, wrong-flaggedWrong, n/50, "wrong without a flag")
	assert.LessOrEqual(t, ends[len(ends)*9/10], 0.0167, "40 mm on a hide of 2.4 m")
	if dir := os.Getenv("PLANE_DUMP"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "signs.csv"), []byte(dump.String()), 0o644))
	}
}

// A hide laid down turned or mirrored has the same backbone, to the steps of
// the search.
func TestFrameFollowsTheHide(t *testing.T) {
	h := inventHide(9)
	f, err := FindFrame(h.outline)
	require.NoError(t, err)
	for _, angle := range []float64{0.4, 1.9, 3.1, 5.5} {
		for _, flip := range []float64{1, -1} {
			a := newAxis(pointAt(700, -300), angle)
			put := func(p hide.Point) hide.Point { return a.table(float64(p.X), flip*float64(p.Y)) }
			g, err := FindFrame(Mapped(hide.Shape{h.outline}, put)[0])
			require.NoError(t, err)
			assert.Less(t, float64(put(f.Neck).Distance(g.Neck)), 10.0)
			assert.Less(t, float64(put(f.Tail).Distance(g.Tail)), 10.0)
		}
	}
}

func BenchmarkFindFrame(b *testing.B) {
	h := inventHide(9)
	for _, n := range []int{1500, 20000} {
		outline := hide.Polygon{Outer: resampled(h.outline.Outer, n)}
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := FindFrame(outline); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
