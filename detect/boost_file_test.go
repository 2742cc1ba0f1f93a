package detect

import (
	"errors"
	"math"
	"testing"

	"github.com/fxamacker/cbor/v2"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

func smallBoost(t testing.TB) (*boostModel, [][]float64) {
	x, y := boostTable(200, 11, sectors)
	for i := 0; i < len(x); i += 9 {
		x[i][0] = math.NaN()
	}
	p := defaultBoostParams()
	p.Rounds, p.Depth = 3, 3
	m, err := trainBoost(boostThree, boostFour, x, y, nil, p)
	require.NoError(t, err)
	return m, x
}

func TestBoostFileRoundTrip(t *testing.T) {
	m, x := smallBoost(t)
	data, err := m.encode()
	require.NoError(t, err)
	back, err := loadBoost(data)
	require.NoError(t, err)
	plain, err := unzipped(data)
	require.NoError(t, err)
	bare, err := loadBoost(plain)
	require.NoError(t, err)
	for _, row := range x {
		require.Equal(t, m.probabilities(row), back.probabilities(row))
		require.Equal(t, m.probabilities(row), bare.probabilities(row))
	}
	again, err := back.encode()
	require.NoError(t, err)
	require.Equal(t, data, again)
}

// Every cut and every changed byte of a packed file is refused: gzip has a
// checksum. The plain text is what the fuzz target is for.
func TestLoadBoostRefusesDamage(t *testing.T) {
	m, _ := smallBoost(t)
	data, err := m.encode()
	require.NoError(t, err)
	for n := 0; n < len(data)-1; n += 13 {
		_, err := loadBoost(data[:n])
		require.ErrorIs(t, err, hide.Unreadable, "cut at %d", n)
	}
}

func TestLoadBoostRefusesContradictions(t *testing.T) {
	type value = map[string]any
	tree := func(feature []int, cut []float64, missing []int, leaf []float64) []any {
		return []any{feature, cut, missing, leaf}
	}
	leaf := tree([]int{-1}, []float64{0}, []int{0}, []float64{0.1})
	split := func(feature, missing int) []any {
		return tree([]int{feature, -1, -1}, []float64{1, 0, 0}, []int{missing, 0, 0}, []float64{0, 1, 2})
	}
	good := func() value {
		return value{"version": boostVersion, "features": []string{"f"}, "classes": []string{"a", "b"}, "base": []float64{0, 0},
			"temperature": 1, "rounds": [][]any{{leaf, split(0, 1)}}}
	}
	with := func(key string, v any) value {
		m := good()
		m[key] = v
		return m
	}
	second := func(tree []any) value { return with("rounds", [][]any{{leaf, tree}}) }
	for name, c := range map[string]struct {
		file any
		want error
	}{
		"good":           {good(), nil},
		"too few trees":  {with("rounds", [][]any{{leaf}}), hide.Invalid},
		"empty tree":     {second(tree(nil, nil, nil, nil)), hide.Invalid},
		"unlike lists":   {second(tree([]int{-1}, nil, []int{0}, []float64{0})), hide.Invalid},
		"no such input":  {second(split(1, 1)), hide.Invalid},
		"missing child":  {second(tree([]int{0, -1}, []float64{1, 0}, []int{1, 0}, []float64{0, 1})), hide.Invalid},
		"nodes too many": {second(tree([]int{-1, -1}, []float64{1, 0}, []int{1, 0}, []float64{0, 1})), hide.Invalid},
		"huge value":     {second(tree([]int{-1}, []float64{0}, []int{0}, []float64{1e30})), hide.Invalid},
		"no number":      {second(tree([]int{0, -1, -1}, []float64{math.NaN(), 0, 0}, []int{0, 0, 0}, []float64{0, 1, 2})), hide.Invalid},
		"side":           {second(split(0, 2)), hide.Invalid},
		"a list less":    {second(leaf[:3]), hide.Unreadable},
		"overflow":       {second(tree([]int{-1}, []float64{1e99}, []int{0}, []float64{0})), hide.Unreadable},
		"unknown key":    {with("colour", 1), hide.Unreadable},
		"null":           {nil, hide.Invalid},
		"version":        {with("version", 1), hide.Invalid},
		"cold":           {with("temperature", 0), hide.Invalid},
		"base":           {with("base", []float64{0}), hide.Invalid},
	} {
		data, err := cbor.Marshal(c.file)
		require.NoError(t, err)
		_, err = loadBoost(data)
		if c.want == nil {
			require.NoError(t, err, name)
			_, err = loadBoost(append(data, 0))
			require.ErrorIs(t, err, hide.Unreadable, "something follows")
			continue
		}
		require.ErrorIs(t, err, c.want, name)
	}
}

// Whatever loads answers with probabilities that sum to 1 and explains them.
func FuzzLoadBoost(f *testing.F) {
	m, _ := smallBoost(f)
	data, err := m.encode()
	require.NoError(f, err)
	plain, err := unzipped(data)
	require.NoError(f, err)
	f.Add(data)
	f.Add(plain)
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := loadBoost(data)
		if err != nil {
			require.True(t, errors.Is(err, hide.Invalid) || errors.Is(err, hide.Unreadable))
			return
		}
		x := make([]float64, len(m.Features))
		x[0] = math.NaN()
		sum := 0.0
		for _, p := range m.probabilities(x) {
			require.True(t, p >= 0 && p <= 1)
			sum += p
		}
		require.InDelta(t, 1, sum, 1e-9)
		_, err = m.explain(x, m.Classes[0])
		require.NoError(t, err)
	})
}
