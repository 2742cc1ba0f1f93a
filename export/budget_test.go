package export

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// The layout follows the example of JCGM 100:2008, H.1 (table H.1): a line for
// each quantity with standard uncertainty, sensitivity and contribution, then the
// combined uncertainty. Figures by hand: 0.02 % of lengths is 0.04 % of 4 m².
func TestWriteBudget(t *testing.T) {
	c := sampleChart("hide 7")
	c.Area = hide.Area{Value: 4e6, U: 2000, Budget: []hide.BudgetPart{
		{Source: "scale", Quantity: "lengths on the table", Value: 100, Unit: "%", InputU: 0.02, Distribution: "normal", Type: "A", Sensitivity: 80000, U: 1600, Text: "fit of 16 tags"},
		{Source: "edge", Quantity: "place of the edge, outward", Unit: "mm", InputU: 0.15, Distribution: "normal", Type: "B", Sensitivity: 8000, U: 1200, Text: "edge"}}}
	var out bytes.Buffer
	require.NoError(t, WriteBudget(&out, c))
	var cells [][]string
	for _, line := range strings.Split(out.String(), "\n") {
		cells = append(cells, strings.Fields(line))
	}
	require.Equal(t, []string{"scale", "lengths", "on", "the", "table", "100", "0.02", "%", "normal", "A", "8e+04", "1600", "0.0400"}, cells[3])
	require.Equal(t, []string{"combined", "area", "4000000", "2000", "mm²", "2000", "0.0500"}, cells[5])
	require.Contains(t, out.String(), "area 400.00 dm² ± 0.40 dm² (k = 2, about 95 %)")
	require.Contains(t, out.String(), "scale: fit of 16 tags")
}
