package pix_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

func TestColour(t *testing.T) {
	sc := pix.NewScope()
	defer sc.Close()
	grey := sc.Keep(pix.New(2, 1, pix.U16, 1))
	copy(grey.Uint16s(), []uint16{7, 60000})
	c, err := pix.Colour(grey)
	require.NoError(t, err)
	sc.Keep(c)
	require.Equal(t, []uint16{7, 7, 7, 60000, 60000, 60000}, c.Uint16s())
	again, err := pix.Colour(c)
	require.NoError(t, err)
	require.Equal(t, c.Uint16s(), sc.Keep(again).Uint16s())
	_, err = pix.Colour(sc.Keep(pix.New(1, 1, pix.U8, 2)))
	require.ErrorIs(t, err, hide.Invalid)
}
