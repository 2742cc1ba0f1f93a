package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

// proofFolder writes an invented test of a table: two templates (70 and 520
// dm²), five charts of each, and the protocol; scale is how much too large the
// table measures areas.
func proofFolder(t *testing.T, scale float64) string {
	t.Helper()
	dir := t.TempDir()
	var b strings.Builder
	b.WriteString("place: cutting room, table 1\nby: A. Tester\nrange_dm2: [60, 600]\ntemplates:\n" +
		"  - {name: small, area_dm2: 70, u_dm2: 0.02, source: steel square}\n  - {name: large, area_dm2: 520, u_dm2: 0.2, source: measured twice}\nruns:\n")
	places := []string{"near left", "near right", "middle", "far left", "far right"}
	for i, name := range []string{"small", "large"} {
		for k, place := range places {
			writeSquare(t, filepath.Join(dir, fmt.Sprintf("%s-%d.json", name, k+1)), []float64{70, 520}[i], scale, i*5+k)
			fmt.Fprintf(&b, "  - {template: %s, position: %s, chart: %s-%d.json}\n", name, place, name, k+1)
		}
	}
	b.WriteString("sums:\n")
	for k := range 3 {
		fmt.Fprintf(&b, "  - parts: [{template: small, chart: small-%d.json}, {template: large, chart: large-%d.json}]\n", k+1, k+1)
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "protocol.yaml"), []byte(b.String()), 0o600))
	return dir
}

func writeSquare(t *testing.T, path string, dm2, scale float64, id int) {
	t.Helper()
	area := float64(hide.FromDM2(dm2)) * scale
	side := hide.MM(math.Sqrt(area))
	x, y := hide.MM(100+120*(id%5)), hide.MM(90+40*(id%5))
	c := hide.Chart{Format: hide.Format, Frame: hide.Frame{Unit: "mm", Y: "up", MMPerPX: 0.5, RigSHA256: strings.Repeat("1b", 32)},
		Capture: hide.CaptureFacts{ID: fmt.Sprintf("t%d", id), Images: []hide.ImageFact{{Light: hide.Top, SHA256: fmt.Sprintf("%064x", id+1), WidthPX: 6000, HeightPX: 4000}}},
		Area:    hide.Area{Value: hide.MM2(area * (1 + 0.0004*float64(id%5-2))), U: hide.MM2(area * 0.001)},
		Outline: hide.Polygon{Outer: hide.Ring{{X: x, Y: y}, {X: x + side, Y: y}, {X: x + side, Y: y + side}, {X: x, Y: y + side}}},
		Flags:   []hide.Flag{{Code: "no_lens", Text: "no lens file"}},
		MadeBy:  hide.MadeBy{Version: "test", OpenCV: "4.6.0", SettingsSHA256: strings.Repeat("2c", 32)}}
	require.NoError(t, export.WriteChart(path, c))
}

func pdfText(t *testing.T, path string) string {
	t.Helper()
	out, err := exec.Command("pdftotext", "-layout", path, "-").Output()
	require.NoError(t, err)
	return string(out)
}

// A good table passes: the PDF (read back by poppler's pdftotext) and the JSON
// say the same, with the day asked for, and are the same bytes when made again.
func TestRigProvePasses(t *testing.T) {
	dir := proofFolder(t, 1.002)
	var first []byte
	for range 2 {
		require.NoError(t, runCommand(t, "prove", filepath.Join(dir, "protocol.yaml"), "--date", "2026-03-31", "--out", filepath.Join(dir, "cert")))
		pdf, err := os.ReadFile(filepath.Join(dir, "cert.pdf"))
		require.NoError(t, err)
		if first != nil {
			require.Equal(t, first, pdf)
		}
		first = pdf
	}
	text := pdfText(t, filepath.Join(dir, "cert.pdf"))
	for _, want := range []string{"PASSED", "2026-03-31", "2027-03-31", "cutting room, table 1", "A. Tester", "far right", "steel square", "520.00",
		"1 %, not below 1.00 dm²", "no verification by an authority", "Flag on 10 runs: no lens"} {
		require.Contains(t, text, want)
	}
	data, err := os.ReadFile(filepath.Join(dir, "cert.json"))
	require.NoError(t, err)
	var proof hide.Proof
	require.NoError(t, json.Unmarshal(data, &proof))
	require.True(t, proof.Pass)
	require.Len(t, proof.Runs, 10)
	require.Len(t, proof.Sums, 3)
	require.Len(t, proof.Runs[0].SHA256, 64)
	require.Contains(t, text, fmt.Sprintf("%+.2f dm²", proof.Worst.Error.DM2()))
}

// A table 1.5 % too large is certified as failed, and the exit status says so.
func TestRigProveFails(t *testing.T) {
	dir := proofFolder(t, 1.015)
	err := runCommand(t, "prove", filepath.Join(dir, "protocol.yaml"), "--date", "2026-03-31", "--out", filepath.Join(dir, "cert"))
	require.Equal(t, statusOther, statusOf(err))
	require.Contains(t, pdfText(t, filepath.Join(dir, "cert.pdf")), "FAILED")
}

// With a chart gone nothing is written and the gap is named.
func TestRigProveRefuses(t *testing.T) {
	dir := proofFolder(t, 1)
	require.NoError(t, os.Remove(filepath.Join(dir, "large-4.json")))
	err := runCommand(t, "prove", filepath.Join(dir, "protocol.yaml"), "--out", filepath.Join(dir, "cert"))
	require.ErrorIs(t, err, hide.Invalid)
	require.ErrorContains(t, err, "large-4.json is missing")
	require.ErrorContains(t, err, "template large: 4 of 5 runs")
	require.NoFileExists(t, filepath.Join(dir, "cert.pdf"))
	require.Equal(t, statusUsage, statusOf(runCommand(t, "prove", filepath.Join(dir, "protocol.yaml"), "--date", "31.3.2026")))
}
