package export_test

import (
	"bytes"
	"fmt"
	"image/png"
	"math"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

func someDrift() export.DriftChart {
	c := export.DriftChart{Title: "Residuals of the tags over 40 charts", Note: "CUSUM of sequential ranks, one false alarm in 500 charts.",
		Rigs: []int{12}, Marks: []export.DriftMark{{At: 33, Text: "tag 3: residual rose from 0.20 to 0.62 mm"}, {At: 34, Text: "all tags: residuals rose"}}}
	for i := range 40 {
		c.When = append(c.When, time.Date(2026, 1, 1+2*i, 0, 0, 0, 0, time.UTC))
	}
	for tag := range 8 {
		l := export.DriftLine{Name: fmt.Sprintf("tag %d", tag), Alarm: tag == 3, Strong: tag == 0}
		for i := range 40 {
			v := 0.1 + 0.03*float64(tag) + 0.02*math.Sin(float64(i*(tag+2)))
			if tag == 3 && i > 28 {
				v += 0.42
			}
			if (i+tag)%9 == 0 {
				v = math.NaN()
			}
			l.Values = append(l.Values, v)
		}
		c.Lines = append(c.Lines, l)
	}
	return c
}

// The picture is a PNG, 250 mm wide at 8 px/mm, with the alarmed tag's colour on
// it, and the same bytes each time.
func TestDriftChartPicture(t *testing.T) {
	var first, second bytes.Buffer
	require.NoError(t, export.WriteDriftChart(&first, someDrift()))
	require.NoError(t, export.WriteDriftChart(&second, someDrift()))
	require.Equal(t, first.Bytes(), second.Bytes())
	if keep := os.Getenv("KEEP_PICTURE"); keep != "" {
		require.NoError(t, os.WriteFile(keep, first.Bytes(), 0o600))
	}
	im, err := png.Decode(&first)
	require.NoError(t, err)
	require.Equal(t, 2000, im.Bounds().Dx())
	red := 0
	for y := range im.Bounds().Dy() {
		for x := range im.Bounds().Dx() {
			if r, _, b, _ := im.At(x, y).RGBA(); r > b+0x8000 {
				red++
			}
		}
	}
	require.Greater(t, red, 1000)
}

func TestDriftChartRefuses(t *testing.T) {
	require.ErrorIs(t, export.WriteDriftChart(&bytes.Buffer{}, export.DriftChart{}), hide.Invalid)
	c := someDrift()
	c.Lines[1].Values = c.Lines[1].Values[1:]
	require.ErrorIs(t, export.WriteDriftChart(&bytes.Buffer{}, c), hide.Invalid)
	one := someDrift() // a single chart, or all of one day, still draw
	one.When, one.Rigs, one.Marks = one.When[:1], nil, nil
	for i := range one.Lines {
		one.Lines[i].Values = one.Lines[i].Values[:1]
	}
	require.NoError(t, export.WriteDriftChart(&bytes.Buffer{}, one))
}
