package export

import (
	"bytes"
	"fmt"
	"io"
	"text/tabwriter"

	"hidechart/hide"
)

// coverageFactor multiplies the standard uncertainty: about 95 % of a normal
// distribution (JCGM 100:2008, 6.2.2 and G.1.3).
const coverageFactor = 2

// WriteBudget writes the uncertainty of the area as a table after the GUM (JCGM
// 100:2008, 8 and H): a line for each quantity, its value and standard
// uncertainty, how that was evaluated, the sensitivity, and the contribution in
// mm² and in percent of the area; then the combined and the expanded
// uncertainty. Error: Internal when w cannot be written.
func WriteBudget(w io.Writer, c hide.Chart) error {
	var text bytes.Buffer
	fmt.Fprintf(&text, "Uncertainty of the area of %s, JCGM 100:2008\n\n", oneLineText(c.Capture.ID))
	t := tabwriter.NewWriter(&text, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "part\tquantity\tvalue\tstandard u\tunit\tdistribution\ttype\tsensitivity mm²/unit\tu mm²\tu %")
	a := float64(c.Area.Value)
	for _, p := range c.Area.Budget {
		fmt.Fprintf(t, "%s\t%s\t%.4g\t%.3g\t%s\t%s\t%s\t%.4g\t%.0f\t%.4f\n", p.Source, p.Quantity, p.Value, p.InputU, p.Unit, p.Distribution, p.Type,
			p.Sensitivity, float64(p.U), 100*float64(p.U)/a)
	}
	u := float64(c.Area.U)
	fmt.Fprintf(t, "combined\tarea\t%.0f\t%.0f\tmm²\t\t\t\t%.0f\t%.4f\n", a, u, u, 100*u/a)
	if err := t.Flush(); err != nil {
		return hide.Wrapf(hide.Internal, err, "budget")
	}
	fmt.Fprintf(&text, "\narea %.2f dm² ± %.2f dm² (k = %d, about 95 %%); %.3f ft² ± %.3f ft²\n\n", c.Area.Value.DM2(), coverageFactor*c.Area.U.DM2(), coverageFactor,
		c.Area.Value.Feet2(), coverageFactor*c.Area.U.Feet2())
	for _, p := range c.Area.Budget {
		fmt.Fprintf(&text, "%s: %s\n", p.Source, oneLineText(p.Text))
	}
	if _, err := w.Write(text.Bytes()); err != nil {
		return hide.Wrapf(hide.Internal, err, "budget")
	}
	return nil
}

// oneLineText keeps names from breaking the table.
func oneLineText(s string) string {
	out := make([]rune, 0, len(s))
	for _, r := range s {
		if r < ' ' {
			r = ' '
		}
		out = append(out, r)
	}
	return string(out)
}
