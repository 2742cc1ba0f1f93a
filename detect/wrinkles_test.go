package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"hidechart/hide"
)

func TestLongLinesBesideFoldsAreFolds(t *testing.T) {
	fold := calledScar(at(200, 0), at(210, 250), at(200, 500))
	fold.Kind = hide.Wrinkle
	beside, beyond := calledScar(at(130, 20), at(135, 250), at(120, 480)), calledScar(at(60, 30), at(60, 450))
	short, across, away := calledScar(at(230, 100), at(235, 300)), calledScar(at(0, 200), at(400, 220)), calledScar(at(600, 0), at(600, 500))
	doubtful := calledScar(at(260, 0), at(260, 500))
	doubtful.Probability = 0.4
	found := []sorted{short, beyond, across, fold, away, doubtful, beside}
	foldsBeside(found)
	assert.Equal(t, []hide.Kind{hide.Scar, hide.Wrinkle, hide.Scar, hide.Wrinkle, hide.Scar, hide.Scar, hide.Wrinkle}, kindsOf(found))
}
