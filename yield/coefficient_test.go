package yield

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
)

// Source: shared/facts.md, "Yield and grades" [S+C]: leather coefficient = usable
// ÷ total × actual ÷ invoiced area; 25 ft² invoiced × 0.98 × 0.88 = 21.56 ft² cuttable.
func TestLeatherCoefficient(t *testing.T) {
	invoiced := hide.FromFeet2(25)
	actual := invoiced * 0.98
	c, err := Coefficient(0.88*actual, actual, actual, invoiced)
	require.NoError(t, err)
	require.InDelta(t, 0.8624, c, 1e-12)
	require.InDelta(t, 21.56, (invoiced * hide.MM2(c)).Feet2(), 1e-9)
	// price per cuttable area = price ÷ coefficient: 10 a foot costs 11.5955 a cuttable foot [C]
	price, err := PricePerCuttable(10, c)
	require.NoError(t, err)
	require.InDelta(t, 10/0.8624, price, 1e-12)
	require.InDelta(t, 25*10, price*21.56, 1e-9, "the same money")
}

// Source: shared/facts.md [S+C]: six 24 × 24 in panels from one 50 ft² hide = 24 ft²
// net = 48 %.
func TestSixPanels(t *testing.T) {
	side := hide.FromInches(24)
	net := 6 * hide.MM2(side) * hide.MM2(side)
	require.InDelta(t, 24, net.Feet2(), 1e-9)
	require.InDelta(t, 0.48, float64(net/hide.FromFeet2(50)), 1e-12)
	buy, err := WithWaste(net, 0.52)
	require.NoError(t, err)
	require.InDelta(t, 50, buy.Feet2(), 1e-9)
}

// Source: shared/facts.md [S]: furniture 70 % at best, 50 % with large panels;
// UK rule of thumb 25 % waste.
func TestAllowances(t *testing.T) {
	var used []float64
	for _, a := range Allowances() {
		used = append(used, a.Used)
		buy, err := WithWaste(hide.FromFeet2(35), 1-a.Used)
		require.NoError(t, err)
		require.InDelta(t, 35/a.Used, buy.Feet2(), 1e-9)
	}
	require.Equal(t, []float64{0.70, 0.50, 0.75}, used)
}

func TestCoefficientRefuses(t *testing.T) {
	for _, a := range [][4]hide.MM2{{2, 1, 1, 1}, {1, 0, 1, 1}, {1, 1, 1, 0}, {-1, 1, 1, 1}} {
		_, err := Coefficient(a[0], a[1], a[2], a[3])
		require.Error(t, err)
	}
	_, err := PricePerCuttable(10, 0)
	require.Error(t, err)
	_, err = WithWaste(1, 1)
	require.Error(t, err)
}

// Source: ISO 2588 as in shared/facts.md [S, secondary]: n = 0.5·√N, at least 3:
// N = 64 → 4, 144 → 6, 400 → 10.
func TestSampleSize(t *testing.T) {
	for n, want := range map[int]int{64: 4, 144: 6, 400: 10, 1: 1, 3: 3, 10: 3, 65: 5, 0: 0, -4: 0} {
		require.Equal(t, want, SampleSize(n), "N = %d", n)
	}
}

func ExampleCoefficient() {
	c, _ := Coefficient(hide.FromFeet2(21.56), hide.FromFeet2(24.5), hide.FromFeet2(24.5), hide.FromFeet2(25))
	fmt.Printf("%.4f\n", c)
	// Output:
	// 0.8624
}
