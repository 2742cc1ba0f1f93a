package detect

import (
	"errors"
	"math"
	"testing"

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
	head := `{"version":3,"features":["f"],"classes":["a","b"],"base":[0,0],"temperature":1,"rounds":`
	leaf := `{"f":[-1],"c":[0],"m":[0],"v":[0.1]}`
	for name, c := range map[string]struct {
		text string
		want error
	}{
		"good":           {head + `[[` + leaf + `,{"f":[0,-1,-1],"c":[1,0,0],"m":[1,0,0],"v":[0,1,2]}]]}`, nil},
		"too few trees":  {head + `[[` + leaf + `]]}`, hide.Invalid},
		"empty tree":     {head + `[[` + leaf + `,{"f":[],"c":[],"m":[],"v":[]}]]}`, hide.Invalid},
		"unlike lists":   {head + `[[` + leaf + `,{"f":[-1],"c":[],"m":[0],"v":[0]}]]}`, hide.Invalid},
		"no such input":  {head + `[[` + leaf + `,{"f":[1,-1,-1],"c":[1,0,0],"m":[1,0,0],"v":[0,1,2]}]]}`, hide.Invalid},
		"missing child":  {head + `[[` + leaf + `,{"f":[0,-1],"c":[1,0],"m":[1,0],"v":[0,1]}]]}`, hide.Invalid},
		"nodes too many": {head + `[[` + leaf + `,{"f":[-1,-1],"c":[1,0],"m":[1,0],"v":[0,1]}]]}`, hide.Invalid},
		"huge value":     {head + `[[` + leaf + `,{"f":[-1],"c":[0],"m":[0],"v":[1e30]}]]}`, hide.Invalid},
		"side":           {head + `[[` + leaf + `,{"f":[0,-1,-1],"c":[1,0,0],"m":[2,0,0],"v":[0,1,2]}]]}`, hide.Invalid},
		"overflow":       {head + `[[` + leaf + `,{"f":[-1],"c":[1e99],"m":[0],"v":[0]}]]}`, hide.Unreadable},
		"unknown key":    {`{"colour":1}`, hide.Unreadable},
		"second value":   {head + `[]}{}`, hide.Unreadable},
		"null":           {`null`, hide.Invalid},
		"version":        {`{"version":1,"features":["f"],"classes":["a","b"],"base":[0,0],"temperature":1,"rounds":[]}`, hide.Invalid},
		"cold":           {`{"version":3,"features":["f"],"classes":["a","b"],"base":[0,0],"temperature":0,"rounds":[]}`, hide.Invalid},
		"base":           {`{"version":3,"features":["f"],"classes":["a","b"],"base":[0],"temperature":1,"rounds":[]}`, hide.Invalid},
	} {
		_, err := loadBoost([]byte(c.text))
		if c.want == nil {
			require.NoError(t, err, name)
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
	f.Add([]byte(`{"version":3,"features":["f"],"classes":["a","b"],"base":[0,0],"temperature":1,"rounds":[[{"f":[0,-1,-1],"c":[1,0,0],"m":[1,0,0],"v":[0,1,2]},{"f":[-1],"c":[0],"m":[0],"v":[0.1]}]]}`))
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
