package detect

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// boostTable draws n rows of three features; class draws a row's class.
func boostTable(n int, seed uint64, class func(x []float64, rng *rand.Rand) int) (x [][]float64, y []int) {
	rng := rand.New(rand.NewPCG(seed, 7))
	for range n {
		row := []float64{2*rng.Float64() - 1, 2*rng.Float64() - 1, 2*rng.Float64() - 1}
		x, y = append(x, row), append(y, class(row, rng))
	}
	return x, y
}

// noisyXOR is 1 where the signs differ, wrong in one of ten rows: the Bayes
// accuracy is 0.9 and the Bayes log-loss −0.9·ln 0.9 − 0.1·ln 0.1 = 0.3251.
func noisyXOR(x []float64, rng *rand.Rand) int {
	k := 0
	if (x[0] > 0) != (x[1] > 0) {
		k = 1
	}
	if rng.Float64() < 0.1 {
		k = 1 - k
	}
	return k
}

// sectors are four classes by the turn of (x0, x1), replaced by any of the four
// in one of five rows: the Bayes accuracy is 0.8 + 0.2/4 = 0.85.
func sectors(x []float64, rng *rand.Rand) int {
	k := int((math.Atan2(x[1], x[0])/math.Pi + 1) * 2)
	if rng.Float64() < 0.2 {
		k = rng.IntN(4)
	}
	return min(k, 3)
}

var (
	boostThree = []string{"length", "width", "depth"}
	boostTwo   = []string{"same", "other"}
	boostFour  = []string{"a", "b", "c", "d"}
)

func boostAsk(m *boostModel, x [][]float64) [][]float64 {
	var out [][]float64
	for _, row := range x {
		out = append(out, m.probabilities(row))
	}
	return out
}

func boostRight(prob [][]float64, y []int) float64 {
	_, hit := topClass(prob, y)
	n := 0.0
	for _, h := range hit {
		if h {
			n++
		}
	}
	return n / float64(len(y))
}

// Three standard errors of a share near 0.9 among 4000 rows are 0.014; 0.02
// leaves 0.006 for what 4000 training rows cannot teach.
func TestBoostReachesBayes(t *testing.T) {
	p := defaultBoostParams()
	p.Rounds = 60
	for _, c := range []struct {
		name    string
		class   func([]float64, *rand.Rand) int
		classes []string
		bayes   float64
	}{
		{"exclusive or", noisyXOR, boostTwo, 0.9},
		{"sectors", sectors, boostFour, 0.85},
	} {
		x, y := boostTable(4000, 1, c.class)
		m, err := trainBoost(boostThree, c.classes, x, y, nil, p)
		require.NoError(t, err)
		tx, ty := boostTable(4000, 2, c.class)
		got := boostRight(boostAsk(m, tx), ty)
		require.InDelta(t, c.bayes, got, 0.02, c.name)
	}
}

func TestBoostLossFalls(t *testing.T) {
	x, y := boostTable(1500, 3, sectors)
	m, err := trainBoost(boostThree, boostFour, x, y, nil, defaultBoostParams())
	require.NoError(t, err)
	require.Len(t, m.loss, 151)
	for r := 1; r < len(m.loss); r++ {
		require.Less(t, m.loss[r], m.loss[r-1], "round %d", r)
	}
	// The loss told on the way is that of the finished model.
	require.InDelta(t, logLoss(boostAsk(m, x), y, nil), m.loss[150], 1e-9)
}

func TestBoostSameBytesAtAnyCores(t *testing.T) {
	x, y := boostTable(6000, 4, sectors) // two blocks of rows
	p := defaultBoostParams()
	p.Rounds, p.RowShare, p.FeatureShare, p.Seed = 12, 0.7, 0.6, 9
	old := runtime.GOMAXPROCS(0)
	defer runtime.GOMAXPROCS(old)
	var files [][]byte
	for _, cores := range []int{1, 2, 5} {
		runtime.GOMAXPROCS(cores)
		m, err := trainBoost(boostThree, boostFour, x, y, nil, p)
		require.NoError(t, err)
		data, err := m.encode()
		require.NoError(t, err)
		files = append(files, data)
	}
	require.Equal(t, files[0], files[1])
	require.Equal(t, files[0], files[2])
	p.Seed = 10
	m, err := trainBoost(boostThree, boostFour, x, y, nil, p)
	require.NoError(t, err)
	other, err := m.encode()
	require.NoError(t, err)
	require.NotEqual(t, files[0], other, "the seed must matter when rows are drawn")
}

// Members are averaged: the margins of two are the mean of those learned from
// each seed alone, but for the stored step of each of 2 × 40 answers. What one draw
// of rows and features does by chance counts for less: new rows are told better
// than the mean of the two tells them (the log-loss is convex).
func TestBoostAveragesMembers(t *testing.T) {
	x, y := boostTable(600, 11, noisyXOR)
	newX, newY := boostTable(2000, 12, noisyXOR)
	p := defaultBoostParams()
	p.Rounds, p.RowShare, p.FeatureShare = 40, 0.5, 0.5
	of := func(seed uint64, members int) *boostModel {
		p.Seed, p.Members = seed, members
		m, err := trainBoost(boostThree, boostTwo, x, y, nil, p)
		require.NoError(t, err)
		return m
	}
	first, second, both := of(3, 1), of(4, 1), of(3, 2)
	for _, row := range newX[:50] {
		a, b, mean := first.margins(row)[0], second.margins(row)[0], both.margins(row)[0]
		for k := range mean {
			require.InDelta(t, (a[k]+b[k])/2, mean[k], 2*40*boostValueStep)
		}
	}
	one, other := logLoss(boostAsk(first, newX), newY, nil), logLoss(boostAsk(second, newX), newY, nil)
	require.Less(t, logLoss(boostAsk(both, newX), newY, nil), (one+other)/2)
}

// Missing alone tells the class here: no value does.
func TestBoostLearnsFromMissing(t *testing.T) {
	x, y := boostTable(2000, 5, func(x []float64, rng *rand.Rand) int {
		if rng.IntN(2) == 0 {
			return 0
		}
		x[1] = math.NaN()
		return 1
	})
	p := defaultBoostParams()
	p.Rounds = 40
	m, err := trainBoost(boostThree, boostTwo, x, y, nil, p)
	require.NoError(t, err)
	require.Greater(t, m.probabilities([]float64{0, math.NaN(), 0})[1], 0.97)
	require.Less(t, m.probabilities([]float64{0, 0.5, 0})[1], 0.03)
	require.Less(t, m.probabilities([]float64{0, -0.5, 0})[1], 0.03)
	// Never missing in training: still an answer.
	require.False(t, math.IsNaN(m.probabilities([]float64{math.NaN(), 0, math.NaN()})[0]))
}

// A row of weight 3 is three rows; a row of weight 0 is none.
func TestBoostWeightsAreCopies(t *testing.T) {
	x, y := boostTable(300, 6, sectors)
	weight := make([]float64, len(x))
	var cx [][]float64
	var cy []int
	for i := range x {
		weight[i] = float64(1 + i%3)
		for range 1 + i%3 {
			cx, cy = append(cx, x[i]), append(cy, y[i])
		}
	}
	p := defaultBoostParams()
	p.Rounds, p.Bins = 20, 255
	for i := range x { // few values: bins do not depend on the copies
		for f := range x[i] {
			x[i][f] = math.Round(x[i][f] * 20)
		}
	}
	a, err := trainBoost(boostThree, boostFour, x, y, weight, p)
	require.NoError(t, err)
	b, err := trainBoost(boostThree, boostFour, cx, cy, nil, p)
	require.NoError(t, err)
	for _, row := range x {
		require.InDeltaSlice(t, b.probabilities(row), a.probabilities(row), 1e-4)
	}
	zx, zy := append(append([][]float64{}, x...), []float64{0, 0, 0}), append(append([]int{}, y...), 2)
	c, err := trainBoost(boostThree, boostFour, zx, zy, append(slices.Clone(weight), 0), p)
	require.NoError(t, err)
	require.InDeltaSlice(t, a.probabilities(x[0]), c.probabilities(x[0]), 1e-4)
}

func TestBoostExplainSumsToMargin(t *testing.T) {
	x, y := boostTable(800, 8, sectors)
	for i := 0; i < len(x); i += 7 {
		x[i][2] = math.NaN()
	}
	p := defaultBoostParams()
	p.Rounds = 30
	m, err := trainBoost(boostThree, boostFour, x, y, nil, p)
	require.NoError(t, err)
	m.Temperature = 1.3
	for _, row := range x[:100] {
		margins, prob := m.margins(row)[0], m.probabilities(row)
		for k, class := range boostFour {
			parts, err := m.explain(row, class)
			require.NoError(t, err)
			sum := 0.0
			for i, c := range parts {
				sum += c.Weight
				require.True(t, i == 0 || math.Abs(c.Weight) <= math.Abs(parts[i-1].Weight))
			}
			require.InDelta(t, margins[k], sum, 1e-9)
			require.InDelta(t, math.Log(prob[k]/prob[0]), margins[k]-margins[0], 1e-9)
		}
	}
	// What decides the class comes before what is noise.
	parts, err := m.explain([]float64{-0.7, -0.2, 0}, "a")
	require.NoError(t, err)
	require.NotEqual(t, "depth", parts[0].Feature)
	_, err = m.explain(x[0], "e")
	require.ErrorIs(t, err, hide.NotFound)
}

func TestContributionInWords(t *testing.T) {
	require.Equal(t, "width 0.42: for it (+0.81)", contribution{"width", 0.42, 0.81}.String())
	require.Equal(t, "depth not measured: against it (-0.30)", contribution{"depth", math.NaN(), -0.3}.String())
	require.Equal(t, "how common it is: against it (-1.00)", contribution{boostBaseRate, 0, -1}.String())
}

func TestBoostRefusesBadInput(t *testing.T) {
	x, y := [][]float64{{1}, {2}}, []int{0, 1}
	f, c, p := []string{"f"}, boostTwo, defaultBoostParams()
	for name, train := range map[string]func() error{
		"no rows":     func() error { _, err := trainBoost(f, c, nil, nil, nil, p); return err },
		"one class":   func() error { _, err := trainBoost(f, c[:1], x, y, nil, p); return err },
		"no feature":  func() error { _, err := trainBoost(nil, c, x, y, nil, p); return err },
		"twin names":  func() error { _, err := trainBoost(f, []string{"a", "a"}, x, y, nil, p); return err },
		"class range": func() error { _, err := trainBoost(f, c, x, []int{0, 2}, nil, p); return err },
		"row length":  func() error { _, err := trainBoost(f, c, [][]float64{{1}, {2, 3}}, y, nil, p); return err },
		"infinite":    func() error { _, err := trainBoost(f, c, [][]float64{{1}, {math.Inf(1)}}, y, nil, p); return err },
		"too large":   func() error { _, err := trainBoost(f, c, [][]float64{{1}, {1e300}}, y, nil, p); return err },
		"weight":      func() error { _, err := trainBoost(f, c, x, y, []float64{1, -1}, p); return err },
		"no weight":   func() error { _, err := trainBoost(f, c, x, y, []float64{0, 0}, p); return err },
		"settings":    func() error { _, err := trainBoost(f, c, x, y, nil, boostParams{}); return err },
	} {
		require.ErrorIs(t, train(), hide.Invalid, name)
	}
	err := boostParams{Rounds: -1}.validate()
	require.GreaterOrEqual(t, strings.Count(err.Error(), ";"), 4, "all faults are listed")
}

func BenchmarkBoostTrain(b *testing.B) { // a tenth of 30,000 × 40 × 13 × 150
	rng := rand.New(rand.NewPCG(1, 2))
	features, classes := make([]string, 40), make([]string, 13)
	for i := range features {
		features[i] = "f" + string(rune('A'+i))
	}
	for i := range classes {
		classes[i] = "c" + string(rune('A'+i))
	}
	x, y := make([][]float64, 30000), make([]int, 30000)
	for i := range x {
		x[i] = make([]float64, 40)
		for f := range x[i] {
			x[i][f] = rng.NormFloat64()
		}
		y[i] = min(12, int(math.Abs(x[i][0]*x[i][1]+x[i][2]+rng.NormFloat64())*4))
	}
	p := defaultBoostParams()
	p.Rounds = 15
	b.ReportAllocs()
	for b.Loop() {
		if _, err := trainBoost(features, classes, x, y, nil, p); err != nil {
			b.Fatal(err)
		}
	}
}

// Many rows asked at once, on all cores, give each the bits that it gets alone.
func TestManyRowsAtOnce(t *testing.T) {
	m, err := sortingModel()
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(5, 5))
	x := make([][]float64, 3*rowsAtOnce+5)
	for i := range x {
		x[i] = newFeatures()[:lookCount]
		for k := range x[i] {
			if rng.Float64() < 0.8 {
				x[i][k] = rng.NormFloat64()
			}
		}
		x[i][fForm] = float64(i % int(formCount))
	}
	for i, p := range m.Alone.probabilitiesOf(x) {
		require.Equal(t, m.Alone.probabilities(x[i]), p)
	}
	require.Empty(t, m.Alone.probabilitiesOf(nil))
}
