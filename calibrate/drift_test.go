package calibrate

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// Two-sided CUSUMs with k = 0.5 have a mean run length of 168 at h = 4 and of 465
// at h = 5 (Montgomery, Introduction to Statistical Quality Control, table of ARLs
// of tabular CUSUMs; quoted from memory).
func TestCusumLengthAgainstTable(t *testing.T) {
	require.InEpsilon(t, 168, cusumLength(4, 0.5)/2, 0.02)
	require.InEpsilon(t, 465, cusumLength(5, 0.5)/2, 0.02)
	require.InDelta(t, 4, cusumLimit(cusumLength(4, 0.5), 0.5), 1e-9)
}

// history has n charts of 12 tags; residuals are lengths of vectors with normal
// parts, as fits leave them, heavier in the tail for every third tag.
func history(seed uint64, n int, change func(chart, tag int, r float64) float64) []DriftEntry {
	rnd := newRand(seed)
	var out []DriftEntry
	for i := range n {
		e := DriftEntry{Name: fmt.Sprint(i), When: time.Date(2026, 1, 1+i, 0, 0, 0, 0, time.UTC), Tags: map[int]hide.MM{}}
		for tag := range 12 {
			r := 0.1 * math.Hypot(rnd.NormFloat64()+float64(tag%4), rnd.NormFloat64())
			if tag%3 == 0 {
				r *= math.Exp(0.5 * rnd.NormFloat64())
			}
			e.Tags[tag] = hide.MM(change(i, tag, r))
		}
		out = append(out, e)
	}
	return out
}

func steady(_, _ int, r float64) float64 { return r }

// Where nothing changes alarms are as rare as stated: 60 histories of 100
// charts at one in 100 give 60 at most, and not none.
func TestDriftFalseAlarms(t *testing.T) {
	p := DefaultDriftParams()
	p.FalseEvery = 100
	alarms := 0
	for seed := range uint64(60) {
		log, err := Drift(history(seed, 100, steady), p)
		require.NoError(t, err)
		alarms += len(log.Alarms)
	}
	t.Logf("%d alarms in 6000 charts, at most 60 stated", alarms)
	require.LessOrEqual(t, alarms, 60+3*8) // three deviations of a Poisson count
	require.Greater(t, alarms, 10)
}

// A tag that shifts by 0.5 mm after 30 charts is named within ten, and the
// change dated to within three.
func TestDriftFindsMovedTag(t *testing.T) {
	for seed := range uint64(10) {
		log, err := Drift(history(seed, 60, func(chart, tag int, r float64) float64 {
			if chart >= 30 && tag == 5 {
				return r + 0.5
			}
			return r
		}), DefaultDriftParams())
		require.NoError(t, err)
		require.NotEmpty(t, log.Alarms)
		a := log.Alarms[0]
		require.Equal(t, 5, a.Tag)
		require.LessOrEqual(t, a.At, 40)
		require.InDelta(t, 30, a.Since, 3)
		require.InDelta(t, 0.5, float64(a.After-a.Before), 0.2)
		require.Contains(t, a.String(), "tag 5: residual rose")
	}
}

// A lens that lost its focus setting raises all.
func TestDriftFindsAllTags(t *testing.T) {
	log, err := Drift(history(3, 50, func(chart, _ int, r float64) float64 {
		if chart >= 25 {
			return 1.6 * r
		}
		return r
	}), DefaultDriftParams())
	require.NoError(t, err)
	require.NotEmpty(t, log.Alarms)
	require.Equal(t, AllTags, log.Alarms[0].Tag)
}

// Another rig file starts the history anew: no alarm for what it mended.
func TestDriftNewRig(t *testing.T) {
	entries := history(4, 60, func(chart, _ int, r float64) float64 {
		if chart >= 30 {
			return 3 * r
		}
		return r
	})
	for i := range entries {
		entries[i].Rig = "a"
		if i >= 30 {
			entries[i].Rig = "b"
		}
	}
	log, err := Drift(entries, DefaultDriftParams())
	require.NoError(t, err)
	require.Empty(t, log.Alarms)
	require.Equal(t, []int{30}, log.Rigs)
}

func TestDriftEntryDates(t *testing.T) {
	file := time.Date(2026, 5, 1, 8, 0, 0, 0, time.UTC)
	c := hide.Chart{Tags: []hide.TagFit{{ID: 1, Light: hide.Top, ResidualMM: 0.2}, {ID: 1, Light: hide.Back, ResidualMM: 0.4}}}
	e := NewDriftEntry("a", c, file)
	require.Equal(t, file, e.When)
	require.False(t, e.Noted)
	require.InDelta(t, 0.3, float64(e.Tags[1]), 1e-12)
	c.Capture.Note = "wet table, 2026-03-31 14:05, second try"
	require.Equal(t, time.Date(2026, 3, 31, 14, 5, 0, 0, time.UTC), NewDriftEntry("a", c, file).When)
	c.Capture.Note = "2026-13-77 is no day"
	require.Equal(t, file, NewDriftEntry("a", c, file).When)
}

func TestDriftRefuses(t *testing.T) {
	_, err := Drift(nil, DefaultDriftParams())
	require.ErrorIs(t, err, hide.Invalid)
	_, err = Drift(history(1, 2, steady), DriftParams{})
	require.ErrorIs(t, err, hide.Invalid)
}
