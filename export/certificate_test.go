package export_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

// longProof is an invented record of many runs with long names.
func longProof(runs int) hide.Proof {
	p := hide.Proof{Format: hide.ProofFormat, Place: "a table with a long name in a long hall, by the window", By: "A. Tester", Date: "2026-03-31",
		Due: "2027-03-31", Months: 12, Pass: true, Limit: hide.ProofLimit{Percent: 1, Least: 10000}, Range: [2]hide.MM2{500000, 6e6},
		Templates: []hide.ProofTemplate{{Name: "small", Area: 6e5, U: 200, Source: "certificate", Runs: runs}},
		Sums:      []hide.ProofSum{{Name: "1", Charts: []string{"c1", "c3"}, True: 12e5, Area: 12e5, Limit: 12000, Pass: true}},
		Worst:     hide.ProofWorst{What: "small, place 1", Error: 300, Percent: 0.05, Share: 0.03}}
	for i := range runs {
		p.Runs = append(p.Runs, hide.ProofRun{Template: "small", Position: fmt.Sprintf("place %d, a long way from the near left corner", i+1),
			Chart: fmt.Sprintf("c%d", i+1), Area: 6e5, Limit: 10000, Pass: true})
	}
	return p
}

// A long record runs over several pages; every run is on one of them, once, and
// the headings are repeated (read back by poppler's pdftotext).
func TestCertificateOverPages(t *testing.T) {
	path := filepath.Join(t.TempDir(), "c.pdf")
	var buf bytes.Buffer
	require.NoError(t, export.WriteCertificate(&buf, longProof(90)))
	require.NoError(t, os.WriteFile(path, buf.Bytes(), 0o600))
	out, err := exec.Command("pdftotext", "-layout", path, "-").Output()
	require.NoError(t, err)
	text := string(out)
	for i := range 90 {
		require.Equal(t, 1, strings.Count(text, fmt.Sprintf("place %d,", i+1)), "run %d", i+1)
	}
	require.GreaterOrEqual(t, strings.Count(text, "Measured dm²"), 3)
	require.Contains(t, text, "page 2")
	require.Contains(t, text, "runs 1, 3", "what the sum is made of")
	require.Contains(t, text, "signature")
}

// The JSON record is the domain's own and the same bytes each time.
func TestProofJSON(t *testing.T) {
	var a, b bytes.Buffer
	require.NoError(t, export.WriteProof(&a, longProof(5)))
	require.NoError(t, export.WriteProof(&b, longProof(5)))
	require.Equal(t, a.Bytes(), b.Bytes())
	require.Contains(t, a.String(), `"format": "hidechart proof 1"`)
}

func TestCertificateRefusesUndated(t *testing.T) {
	p := longProof(5)
	p.Date = "yesterday"
	require.ErrorIs(t, export.WriteCertificate(&bytes.Buffer{}, p), hide.Invalid)
}
