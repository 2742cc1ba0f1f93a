package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"hidechart/hide"
)

// kindsWithVeins are the kinds of lines after networks were sought.
func kindsWithVeins(found ...sorted) []hide.Kind {
	veinsBranch(found)
	return kindsOf(found)
}

func TestWhatBranchesTwiceIsAVein(t *testing.T) {
	stem := func() sorted { return calledScar(at(0, 0), at(60, 10), at(120, 0), at(180, 15)) }
	twig, other := calledScar(at(60, 16), at(90, 60), at(100, 100)), calledScar(at(120, -6), at(150, -60))
	assert.Equal(t, []hide.Kind{hide.Vein, hide.Vein, hide.Vein}, kindsWithVeins(stem(), twig, other))
	assert.Equal(t, []hide.Kind{hide.Scar, hide.Scar}, kindsWithVeins(stem(), twig), "one fork may be two wounds that cross")

	far := calledScar(at(120, -25), at(150, -80))
	assert.Equal(t, []hide.Kind{hide.Scar, hide.Scar, hide.Scar}, kindsWithVeins(stem(), twig, far), "it ends short of the stem")

	doubtful := other
	doubtful.Probability = 0.4
	assert.Equal(t, []hide.Kind{hide.Scar, hide.Scar, hide.Scar}, kindsWithVeins(stem(), twig, doubtful))

	dark := calledScar(at(120, -6), at(150, -60))
	set(dark.from.Features, fTopTone, -0.1)
	assert.Equal(t, []hide.Kind{hide.Scar, hide.Scar, hide.Scar}, kindsWithVeins(stem(), twig, dark), "of another tone")
}

// A wound that was found in pieces crosses another at one place only, and so do the strokes of a scrape.
func TestOneCrossingIsNoNetwork(t *testing.T) {
	pieces := []sorted{calledScar(at(-80, 0), at(-6, 0)), calledScar(at(6, 0), at(80, 0)), calledScar(at(0, -80), at(0, 80))}
	assert.Equal(t, []hide.Kind{hide.Scar, hide.Scar, hide.Scar}, kindsWithVeins(pieces...))
	scrape := []sorted{calledScar(at(0, -80), at(0, 80)), calledScar(at(-60, 0), at(60, 0)), calledScar(at(-60, 12), at(60, 12))}
	assert.Equal(t, []hide.Kind{hide.Scar, hide.Scar, hide.Scar}, kindsWithVeins(scrape...))
}

// The ripples of a loose area cross too, and scars cross the folds of a neck.
func TestRipplesAndFoldsAreNoVeins(t *testing.T) {
	lines := []sorted{calledScar(at(0, 0), at(180, 0)), calledScar(at(60, 4), at(80, 60)), calledScar(at(120, -4), at(150, -60))}
	lines[0].Kind = hide.Wrinkle
	assert.Equal(t, []hide.Kind{hide.Wrinkle, hide.Scar, hide.Scar}, kindsWithVeins(lines...))
	lines[0].Kind = hide.Loose
	assert.Equal(t, []hide.Kind{hide.Loose, hide.Scar, hide.Scar}, kindsWithVeins(lines...))
	lines[0].Kind, lines[1].Kind = hide.Scar, hide.Loose
	assert.Equal(t, []hide.Kind{hide.Vein, hide.Vein, hide.Vein}, kindsWithVeins(lines...), "a twig taken for a ripple")
}

// A stem found in two pieces that run on is one network.
func TestPiecesOfAStem(t *testing.T) {
	found := []sorted{calledScar(at(0, 0), at(90, 0)), calledScar(at(110, 2), at(200, 4)), calledScar(at(50, 4), at(80, 60)), calledScar(at(150, -4), at(180, -60))}
	assert.Equal(t, []hide.Kind{hide.Vein, hide.Vein, hide.Vein, hide.Vein}, kindsWithVeins(found...))
}
