package detect

import (
	"encoding/json"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// inventedReviews are hides on which the sorter's probability is right but for
// what one feature tells beyond it.
func inventedReviews(seed uint64, hides int, bias, weight float64) []ReviewedHide {
	r := rand.New(rand.NewPCG(seed, 1))
	var out []ReviewedHide
	for h := range hides {
		one := ReviewedHide{ID: string(rune('A' + h))}
		for range 40 {
			p, z := 0.2+0.75*r.Float64(), r.NormFloat64()
			d := hide.Defect{Kind: hide.Scar, Status: hide.Rejected, Probability: p,
				Evidence: map[string]float64{"width in mm": z, "colour difference": r.NormFloat64()}}
			if r.Float64() < logistic(logit(p)+bias+weight*z) {
				d.Status = hide.Confirmed
			}
			one.Defects = append(one.Defects, d)
		}
		out = append(out, one)
	}
	return out
}

// TestLearn: twenty reviewed hides lower the false candidates at equal recall,
// on hides that the profile has not seen.
func TestLearn(t *testing.T) {
	p, err := Learn("russet", inventedReviews(1, 20, -0.7, 1.2))
	require.NoError(t, err)
	require.True(t, p.Active, p.Why)
	assert.Less(t, p.Gain.False, p.Was.False*3/4, "on hides left out")
	assert.GreaterOrEqual(t, p.Gain.Real, p.Was.Real)
	var before, after, lost int
	for _, h := range inventedReviews(2, 20, -0.7, 1.2) {
		for _, d := range h.Defects {
			flaw := d.Status == hide.Confirmed
			q := p.probability(d.Probability, d.Evidence)
			if !flaw && d.Probability >= 0.5 {
				before++
			}
			if !flaw && q >= p.Gain.Threshold {
				after++
			}
			if flaw && d.Probability >= 0.5 {
				lost++
			}
			if flaw && q >= p.Gain.Threshold {
				lost--
			}
		}
	}
	assert.Less(t, after, before*3/4, "on new hides of the article")
	assert.InDelta(t, 0, lost, 20, "real ones lost, of some 400")
}

func TestLearnKeepsStillWithoutGain(t *testing.T) {
	p, err := Learn("russet", inventedReviews(3, 20, 0, 0))
	require.NoError(t, err)
	assert.False(t, p.Active, p.Why)
	assert.InDelta(t, 0.4, p.probability(0.4, map[string]float64{"width in mm": 2}), 0)
	p, err = Learn("russet", inventedReviews(3, 4, -2, 2))
	require.NoError(t, err)
	assert.False(t, p.Active, "four hides are too few")
	_, err = Learn("russet", nil)
	assert.Equal(t, hide.Invalid, hide.KindOf(err))
}

// An article that was not reviewed has no profile, so nothing of it changes.
func TestProfileFor(t *testing.T) {
	all := []*Profile{{Article: "russet"}}
	assert.Nil(t, ProfileFor("navy", all))
	assert.Nil(t, ProfileFor("", append(all, &Profile{})))
	assert.Equal(t, all[0], ProfileFor("russet", all))
}

func TestDecodeProfile(t *testing.T) {
	p, err := Learn("russet", inventedReviews(1, 8, -1, 1))
	require.NoError(t, err)
	data, err := json.Marshal(p)
	require.NoError(t, err)
	got, err := DecodeProfile(data)
	require.NoError(t, err)
	assert.Equal(t, p, got)
	for _, bad := range []string{"{", `{"format":"x"}`, strings.Replace(string(data), `"sd":`, `"sd":-`, 1)} {
		_, err := DecodeProfile([]byte(bad))
		assert.Equal(t, hide.Invalid, hide.KindOf(err), bad[:min(20, len(bad))])
	}
}

// TestLearnReference compares the weights with those that Debian's
// python3-scipy finds for the same penalised likelihood (testdata/profile.py).
func TestLearnReference(t *testing.T) {
	python, err := exec.LookPath("/usr/bin/python3")
	if err != nil {
		t.Skip("no Debian python3")
	}
	set := newLessons(inventedReviews(5, 6, -0.5, 0.8))
	w, err := set.fit(0.4, func(int) bool { return true })
	require.NoError(t, err)
	data, err := json.Marshal(map[string]any{"x": set.x, "real": set.real, "sd": 0.4, "bias_sd": biasPrior})
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "lessons.json")
	require.NoError(t, os.WriteFile(path, data, 0o600))
	out, err := exec.Command(python, "testdata/profile.py", path).Output()
	require.NoError(t, err)
	var want []float64
	require.NoError(t, json.Unmarshal(out, &want))
	assert.InDeltaSlice(t, want, w, 1e-4)
}

func TestExplain(t *testing.T) {
	x := newFeatures()
	for k := range x {
		x[k] = float64(k)
	}
	c := Candidate{Features: x}
	m, err := sortingModel()
	require.NoError(t, err)
	d, err := m.sorted([]Candidate{c})[0].described()
	require.NoError(t, err)
	d.ID = 7
	assert.InDelta(t, fWidth, d.Evidence["width in mm"], 0)
	lines, err := Explain(d)
	require.NoError(t, err)
	assert.Contains(t, lines[0], "defect 7: "+d.Kind.Words())
	assert.Greater(t, len(lines), 6)
	assert.NotContains(t, lines[len(lines)-1], "by itself")

	by := d.Kind
	for k, why := range map[hide.Kind]string{hide.Vein: "part at two places", hide.Wrinkle: "beside folds", hide.Scar: ""} {
		if d.Kind = k; k == by {
			continue
		}
		lines, err = Explain(d)
		require.NoError(t, err)
		assert.Contains(t, lines[len(lines)-1], "by itself it is likelier "+by.Words())
		assert.Contains(t, lines[len(lines)-1], why)
	}
	delete(d.Evidence, featureWords()[fForm])
	_, err = Explain(d)
	require.NoError(t, err, "a chart of another make")
	_, err = Explain(hide.Defect{Kind: hide.Hole})
	assert.Equal(t, hide.Invalid, hide.KindOf(err))
}
