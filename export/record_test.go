package export

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/record"
)

// awkwardNames break careless programs: quotes, line ends, right-to-left text, formulas.
func awkwardNames() []string {
	return []string{`O'Hara "& Sons"`, "two\nlines\r\nof name", "עור ופרווה", "جلود الشرق", "=HYPERLINK(\"x\")", "-1+2", "@x", "<b>bold</b> & co", "日本革", "\u202eevil"}
}

// recordOf files a plain hide or three for each name.
func recordOf(t *testing.T, names ...string) *record.Store {
	t.Helper()
	s, err := record.Open(context.Background(), filepath.Join(t.TempDir(), "r.db"), func(chart, _ []byte) (hide.Chart, error) { return ParseChart(chart) })
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	for _, name := range names {
		for i := range 3 {
			c := sampleChart("x")
			c.Capture.ID, c.Capture.Supplier, c.Capture.Lot = name+strings.Repeat("x", i), name, name
			c.Capture.Images = nil
			c.Frame.RigSHA256 = strings.Repeat("ab", 32)
			data, err := EncodeChart(c)
			require.NoError(t, err)
			_, err = s.File(t.Context(), record.Filing{Chart: data, At: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)})
			require.NoError(t, err)
		}
	}
	return s
}

func sheetOf(t *testing.T, s *record.Store, sc hide.SheetScope) hide.Sheet {
	t.Helper()
	sheet, err := s.Sheet(t.Context(), sc, time.Date(2026, 8, 1, 0, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	return sheet
}

func lotsIn(t *testing.T, tables []SheetTable) SheetTable {
	t.Helper()
	for _, x := range tables {
		if x.Name == "lots" {
			return x
		}
	}
	t.Fatal("no table of lots")
	return SheetTable{}
}

// Python's csv and openpyxl read the names back: text, unharmed, and no formula.
func TestTablesKeepNames(t *testing.T) {
	sheet := sheetOf(t, recordOf(t, awkwardNames()...), hide.SheetScope{})
	dir := t.TempDir()
	var b bytes.Buffer
	require.NoError(t, WriteTableCSV(&b, lotsIn(t, SheetTables(sheet))))
	rows, err := csv.NewReader(bytes.NewReader(b.Bytes())).ReadAll()
	require.NoError(t, err)
	got := map[string]bool{}
	for _, r := range rows[1:] {
		got[strings.TrimPrefix(r[0], "'")] = true
		assert.NotContains(t, "=+-@\t\r\n", r[0][:1], "a spreadsheet would run it")
	}
	for _, n := range awkwardNames() {
		assert.True(t, got[strings.ReplaceAll(n, "\r\n", "\n")], "%q", n) // RFC 4180 readers fold CRLF inside quotes
	}
	path := filepath.Join(dir, "s.xlsx")
	require.NoError(t, os.WriteFile(path, sameTwice(t, func(w io.Writer) error { return WriteTablesXLSX(w, SheetTables(sheet)) }), 0o600))
	out, err := exec.CommandContext(t.Context(), "/usr/bin/python3", "-c", `
import json, sys, openpyxl
w = openpyxl.load_workbook(sys.argv[1])["lots"]
print(json.dumps([[c.value, c.data_type] for c in list(w.columns)[0][1:]]))`, path).Output()
	require.NoError(t, err)
	var cells [][2]string
	require.NoError(t, json.Unmarshal(out, &cells))
	seen := map[string]bool{}
	for _, c := range cells {
		assert.Equal(t, "s", c[1], "stored as text: %q", c[0])
		seen[c[0]] = true
	}
	for _, n := range awkwardNames() {
		assert.True(t, seen[n], "%q in %q", n, out)
	}
}

// The page keeps names as text: parsed by Python's html.parser they come out as they went in.
func TestSheetPageKeepsNames(t *testing.T) {
	s := recordOf(t, awkwardNames()...)
	for _, n := range awkwardNames() {
		path := filepath.Join(t.TempDir(), "s.html")
		sheet := sheetOf(t, s, hide.SheetScope{Supplier: n})
		require.NoError(t, WriteFile(path, func(w io.Writer) error { return WriteSheetPage(w, sheet) }))
		out, err := exec.CommandContext(t.Context(), "/usr/bin/python3", "-c", `
import sys
from html.parser import HTMLParser
class P(HTMLParser):
    h1 = 0; text = ""
    def handle_starttag(self, tag, a): self.h1 += tag == "h1"; assert tag != "b"
    def handle_endtag(self, tag): self.h1 -= tag == "h1"
    def handle_data(self, d): self.text += d if self.h1 else ""
p = P(); p.feed(open(sys.argv[1], newline="").read()); sys.stdout.buffer.write(p.text.encode())`, path).CombinedOutput()
		require.NoError(t, err, string(out))
		assert.Equal(t, "Supplier "+n, string(out))
	}
}

// claimOf makes the claim of a lot, with a certificate, and its PDF.
func claimOf(t *testing.T, s *record.Store, lot string) (string, hide.Claim) {
	t.Helper()
	proof, err := json.Marshal(hide.Proof{Format: hide.ProofFormat, Place: "table 1", Date: "2026-01-05", Due: "2027-01-05", Pass: true, Limit: hide.ProofLimit{Percent: 1}, RigSHA256: strings.Repeat("ab", 32)})
	require.NoError(t, err)
	_, err = s.AddCertificate(t.Context(), proof)
	require.NoError(t, err)
	day := time.Date(2026, 8, 1, 0, 0, 0, 0, time.UTC)
	c, files, err := s.Claim(t.Context(), "", lot, record.ClaimOptions{By: "Ada Example", Program: "hidechart", Day: day, Rule: "test", Order: []string{"I"},
		Grade: func(hide.Chart) (string, string, error) { return "I", "for the test", nil }})
	require.NoError(t, err)
	var charts []hide.Chart
	for _, h := range c.Hides {
		data, _, err := s.ChartOf(t.Context(), h.ChartSHA256)
		require.NoError(t, err)
		chart, err := ParseChart(data)
		require.NoError(t, err)
		charts = append(charts, chart)
	}
	path := filepath.Join(t.TempDir(), "claim.pdf")
	claim := sameTwice(t, func(w io.Writer) error { return WriteClaim(w, c, charts, files) })
	require.NoError(t, os.WriteFile(path, claim, 0o600))
	return path, c
}

// qpdf finds no fault, poppler's pdfdetach takes out what was put in, and pikepdf finds what
// ISO 19005-3 asks of a PDF/A-3b: see testdata/pdfa_check.py, which says what it cannot check.
func TestClaimIsPDFA(t *testing.T) {
	for _, lot := range append(awkwardNames()[1:5], "日本革", "SD-2603") {
		path, c := claimOf(t, recordOf(t, lot), lot)
		out, err := exec.CommandContext(t.Context(), "qpdf", "--check", path).CombinedOutput()
		require.NoError(t, err, string(out))
		out, err = exec.CommandContext(t.Context(), "/usr/bin/python3", "testdata/pdfa_check.py", path).CombinedOutput()
		require.NoError(t, err, string(out))
		check, err := VerifyClaim(path)
		require.NoError(t, err)
		assert.Empty(t, check.Faults)
		assert.Equal(t, lot, check.Claim.Lot, "the list holds the name itself")
		assert.Equal(t, c.Hides[0].ChartSHA256, check.Files[0].SHA256)
	}
	path, _ := claimOf(t, recordOf(t, "L1"), "L1")
	dir := t.TempDir()
	out, err := exec.CommandContext(t.Context(), "pdfdetach", "-saveall", "-o", dir, path).CombinedOutput()
	require.NoError(t, err, string(out))
	chart, err := os.ReadFile(filepath.Join(dir, "chart-1.json"))
	require.NoError(t, err)
	_, err = ParseChart(chart)
	require.NoError(t, err)
	for _, name := range []string{ClaimListName, "certificate-1.json"} {
		assert.FileExists(t, filepath.Join(dir, name))
	}
	text, err := exec.CommandContext(t.Context(), "pdftotext", "-layout", path, "-").Output()
	require.NoError(t, err)
	for _, want := range []string{"Statement of a lot as measured", "referee method", "table 1", "was not looked at", sumOf(chart)} {
		assert.Contains(t, strings.Join(strings.Fields(string(text)), " "), want)
	}
}

// One changed byte in an attached chart is found, and so is a file taken away.
func TestVerifyFindsChanges(t *testing.T) {
	path, _ := claimOf(t, recordOf(t, "L1"), "L1")
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	at := bytes.Index(data, []byte(`"mm_per_px": 0.`))
	require.Positive(t, at, "charts are attached as they are")
	changed := bytes.Clone(data)
	changed[at+len(`"mm_per_px": 0.`)] ^= 1
	require.NoError(t, os.WriteFile(path, changed, 0o600))
	check, err := VerifyClaim(path)
	require.NoError(t, err)
	assert.NotEmpty(t, check.Faults)
	require.NoError(t, os.WriteFile(path, data[:len(data)/2], 0o600))
	_, err = VerifyClaim(path)
	require.ErrorIs(t, err, hide.Unreadable)
	require.NoError(t, os.WriteFile(path, []byte("%PDF-1.7\nnothing"), 0o600))
	_, err = VerifyClaim(path)
	require.ErrorIs(t, err, hide.Unreadable)
}

// Our sRGB profile turns colours into the same Lab values as lcms's own (python3-pil's ImageCms).
func TestProfileIsSRGB(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s.icc")
	require.NoError(t, os.WriteFile(path, srgbProfile(), 0o600))
	out, err := exec.CommandContext(t.Context(), "/usr/bin/python3", "-c", `
import sys
from PIL import Image, ImageCms
ours, theirs, lab = ImageCms.ImageCmsProfile(sys.argv[1]), ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB")
im = Image.new("RGB", (16, 16)); im.putdata([(i, (i * 7) % 256, 255 - i) for i in range(256)])
a, b = (ImageCms.applyTransform(im, ImageCms.buildTransform(p, lab, "RGB", "LAB")).tobytes() for p in (ours, theirs))
worst = max(min(abs(x - y), 256 - abs(x - y)) for x, y in zip(a, b))
assert worst <= 1, worst  # a step of 8 bits, by rounding`, path).CombinedOutput()
	require.NoError(t, err, string(out))
}

// The sheet is one A4 page, and the same bytes each time.
func TestSheetIsOnePage(t *testing.T) {
	sheet := sheetOf(t, recordOf(t, "A", "B"), hide.SheetScope{Supplier: "A"})
	page := sameTwice(t, func(w io.Writer) error { return WriteSheetPDF(w, sheet) })
	path := filepath.Join(t.TempDir(), "s.pdf")
	require.NoError(t, os.WriteFile(path, page, 0o600))
	out, err := exec.CommandContext(t.Context(), "pdfinfo", path).Output()
	require.NoError(t, err)
	assert.Regexp(t, `Pages:\s+1\n`, string(out))
	assert.Contains(t, string(out), "A4")
}
