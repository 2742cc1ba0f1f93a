package detect

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
)

// Classes drawn from softmax(z) and told as softmax(2.5 z) must be cooled by
// 2.5. One standard error of T from 20,000 rows is about 0.02.
func TestFitTemperatureFindsKnownOne(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	var said [][]float64
	var y []int
	for range 20000 {
		z := []float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
		loud := []float64{2.5 * z[0], 2.5 * z[1], 2.5 * z[2]}
		softmax(z)
		softmax(loud)
		u, k := rng.Float64(), 0
		for u > z[k] && k < 2 {
			u -= z[k]
			k++
		}
		said, y = append(said, loud), append(y, k)
	}
	got, err := fitTemperature(said, y, nil)
	require.NoError(t, err)
	require.InDelta(t, 2.5, got, 0.08)
	before, hit := topClass(said, y)
	require.Greater(t, expectedCalibrationError(before, hit, nil), 0.1)
	cooled := [][]float64{}
	for _, p := range said {
		s := make([]float64, 3)
		for k := range s {
			s[k] = math.Log(p[k]) / got
		}
		softmax(s)
		cooled = append(cooled, s)
	}
	after, hit := topClass(cooled, y)
	require.Less(t, expectedCalibrationError(after, hit, nil), 0.015)
	_, err = fitTemperature(nil, nil, nil)
	require.ErrorIs(t, err, hide.Invalid)
}

// Worked by hand: two bins, |0.25−0.5|·2/4 + |0.85−1|·2/4 = 0.2.
func TestCalibrationErrorByHand(t *testing.T) {
	prob, hit := []float64{0.24, 0.26, 0.85, 0.85}, []bool{true, false, true, true}
	require.InDelta(t, 0.2, expectedCalibrationError(prob, hit, nil), 1e-12)
	require.InDelta(t, 0.15, expectedCalibrationError(prob, hit, []float64{0, 0, 1, 1}), 1e-12)
	require.Zero(t, expectedCalibrationError(nil, nil, nil))
	require.InDelta(t, 1.0, reliability([]float64{1}, []bool{true}, nil)[9].Weight, 0)
}

// The fit rises, stays in [0, 1] and keeps the mean: properties of the
// isotonic least-squares fit (Barlow et al. 1972).
func TestIsotonicProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		score := rapid.SliceOfN(rapid.Float64Range(-3, 3), 1, 60).Draw(t, "score")
		hit := rapid.SliceOfN(rapid.Bool(), len(score), len(score)).Draw(t, "hit")
		c, err := fitIsotonic(score, hit, nil)
		require.NoError(t, err)
		require.True(t, slices.IsSorted(c.Score))
		require.True(t, slices.IsSorted(c.Value))
		fitted, seen := 0.0, 0.0
		for i, s := range score {
			v := c.at(s)
			require.True(t, v >= 0 && v <= 1)
			fitted += v
			if hit[i] {
				seen++
			}
		}
		require.InDelta(t, seen, fitted, 1e-9)
	})
}

func TestGroupFoldsKeepGroupsWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		groups := rapid.SliceOfN(rapid.SampledFrom([]string{"p", "q", "r", "s", "t"}), 20, 80).Draw(t, "groups")
		groups = append(groups, "p", "q", "r")
		folds := rapid.IntRange(2, 3).Draw(t, "folds")
		fold, err := groupFolds(groups, folds)
		require.NoError(t, err)
		of, used := map[string]int{}, map[int]bool{}
		for i, g := range groups {
			if f, ok := of[g]; ok {
				require.Equal(t, f, fold[i])
			}
			of[g] = fold[i]
			used[fold[i]] = true
		}
		require.Len(t, used, folds)
	})
	_, err := groupFolds([]string{"a", "a"}, 2)
	require.ErrorIs(t, err, hide.Invalid)
}

// Each group has its own label for the same x: a model that has seen the group
// knows it, one that has not must stay near a coin's toss. A leak would show.
func TestCrossValidateSeesNoOwnGroup(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var groups []string
	var x [][]float64
	var y []int
	for i := range 1200 {
		g := i % 6
		groups = append(groups, string(rune('a'+g)))
		x = append(x, []float64{float64(g), rng.Float64(), rng.Float64()})
		y = append(y, (g*g+g/2)%2) // 0 1 1 0 0 1: no trend in g
	}
	p := defaultBoostParams()
	p.Rounds = 20
	seen, err := trainBoost(boostThree, boostTwo, x, y, nil, p)
	require.NoError(t, err)
	require.InDelta(t, 1, boostRight(boostAsk(seen, x), y), 0)
	prob, err := crossValidate(groups, 6, boostThree, boostTwo, x, y, nil, p)
	require.NoError(t, err)
	require.Len(t, prob, len(x))
	require.Less(t, boostRight(prob, y), 0.7)
	_, err = crossValidate(groups[1:], 6, boostThree, boostTwo, x, y, nil, p)
	require.ErrorIs(t, err, hide.Invalid)
}
