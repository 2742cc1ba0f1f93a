package export

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/tdewolff/canvas"

	"hidechart/hide"
)

// twoWords is a page with both fonts, as the writer leaves it: with the time in it.
func twoWords(t *testing.T, title string) []byte {
	t.Helper()
	p, err := newPaper(paperA4, title)
	require.NoError(t, err)
	p.text(20, 100, 5, false, canvas.Left, "regular words")
	p.text(20, 80, 5, true, canvas.Left, "bold words")
	require.NoError(t, p.pdf.Close())
	return p.buf.Bytes()
}

// Two files of the writer that differ by the time alone are made the same. They differ in
// their fonts too: with the file's own date put right, other bytes are left.
func TestSteadyTakesTheTimeOut(t *testing.T) {
	day := time.Date(2026, 3, 31, 0, 0, 0, 0, time.UTC)
	var raw, done [2][]byte
	synctest.Test(t, func(t *testing.T) {
		for i := range raw {
			raw[i] = twoWords(t, "words")
			time.Sleep(time.Second)
		}
	})
	dated := func(pdf []byte) []byte { return createdForm.ReplaceAll(pdf, nil) }
	require.False(t, bytes.Equal(dated(raw[0]), dated(raw[1])), "no fonts with a stamp: the test shows nothing")
	for i := range done {
		var err error
		done[i], err = steady(raw[i], day)
		require.NoError(t, err)
	}
	require.True(t, bytes.Equal(done[0], done[1]))
}

// The writer's zone does not show either.
func TestSteadyInAnyZone(t *testing.T) {
	raw := twoWords(t, "words")
	day := time.Date(2026, 3, 31, 0, 0, 0, 0, time.UTC)
	want, err := steady(raw, day)
	require.NoError(t, err)
	require.Contains(t, string(want), "/CreationDate(D:20260331000000Z)")
	for _, zone := range []string{"Z", "+0530", "-0800"} {
		moved, err := splitPDF(raw)
		require.NoError(t, err)
		for k := range moved.objects {
			moved.objects[k].body = createdForm.ReplaceAllLiteral(moved.objects[k].body, []byte("/CreationDate(D:20261231235959"+zone+")"))
		}
		got, err := steady(moved.joined(), day)
		require.NoError(t, err)
		require.True(t, bytes.Equal(want, got), zone)
	}
}

// A title is any text, also one that looks like the inside of a file.
func TestSteadyKeepsTitles(t *testing.T) {
	for _, title := range []string{"/FontFile2 3 0 R", "/Info 3 0 R", "/CreationDate(D:20200101000000Z)", "a\nxref\n0 1\n0000000000 65535 f \n", "stream\n", "עור"} {
		raw := twoWords(t, title)
		done, err := steady(raw, time.Date(2026, 3, 31, 0, 0, 0, 0, time.UTC))
		require.NoError(t, err, title)
		path := filepath.Join(t.TempDir(), "a.pdf")
		require.NoError(t, os.WriteFile(path, done, 0o600))
		var got struct{ Title string }
		python(t, &got, "pdf_fonts.py", path, "2026-03-31")
		assert.Equal(t, title, got.Title)
	}
}

// A file that is not as the writer writes it is an error, not a bad file. Most changes here
// keep the length, so that the offsets stay right and only what is named is wrong.
func TestSteadyRefuses(t *testing.T) {
	raw := twoWords(t, "words")
	for what, bad := range map[string][]byte{
		"cut off":         raw[:len(raw)-40],
		"nothing":         nil,
		"a byte more":     append([]byte("x"), raw...),
		"no such font":    regexp.MustCompile(`/FontFile2 \d\d `).ReplaceAllLiteral(raw, []byte("/FontFile2 99 ")),
		"no such info":    bytes.Replace(raw, []byte("/Info 2 0"), []byte("/Info 0 0"), 1),
		"no date":         bytes.Replace(raw, []byte("/CreationDate("), []byte("/CreationTime("), 1),
		"font not packed": bytes.ReplaceAll(raw, []byte("<</Filter/FlateDecode/Length "), []byte("<</Filter/FlateEncode/Length ")),
	} {
		_, err := steady(bad, time.Now())
		require.ErrorIs(t, err, hide.Internal, what)
	}
	require.ErrorIs(t, dateFont([]byte("OTTO"), time.Now()), hide.Internal)
	require.ErrorIs(t, dateFont(make([]byte, 100), time.Now()), hide.Internal)
}

// Every PDF that we write is the same bytes at any time. qpdf finds no fault in it, and
// fontTools finds the sums of every font as OpenType asks and its day of change as given.
func TestEveryPDFIsSteady(t *testing.T) {
	s := recordOf(t, "A", "B")
	sheet := sheetOf(t, s, hide.SheetScope{Supplier: "A"})
	for _, c := range []struct {
		name, day string
		write     func(io.Writer) error
	}{
		{"certificate", "2026-03-31", func(w io.Writer) error {
			return WriteCertificate(w, hide.Proof{Format: hide.ProofFormat, Place: "table 1", Date: "2026-03-31", Due: "2027-03-31"})
		}},
		{"tag sheet", "2000-01-01", func(w io.Writer) error {
			return WriteTagSheet(w, TagSheet{Family: "tag36h11", Quiet: 1, Edge: 100, Paper: "A4", Tags: blankTags(2)})
		}},
		{"cut sheet", "2000-01-01", func(w io.Writer) error { return WriteCutSheet(w, samplePlan(), DefaultCutOptions()) }},
		{"cut tiles", "2000-01-01", func(w io.Writer) error { return WriteCutTiles(w, samplePlan(), DefaultCutOptions()) }},
		{"record sheet", "2026-08-01", func(w io.Writer) error { return WriteSheetPDF(w, sheet) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "a.pdf")
			require.NoError(t, os.WriteFile(path, sameTwice(t, c.write), 0o600))
			outside(t, "qpdf", "--check", path)
			var got struct{ Fonts int }
			python(t, &got, "pdf_fonts.py", path, c.day)
			assert.Positive(t, got.Fonts)
		})
	}
}
