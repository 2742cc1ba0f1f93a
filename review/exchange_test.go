package review

import (
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

func fetch(t *testing.T, url string) string {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	require.NoError(t, err)
	res, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	require.Equal(t, http.StatusOK, res.StatusCode)
	data, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return string(data)
}

// What one review gives away, another takes in: afterwards both charts are the
// same, shape by shape; the same file once more changes nothing.
func TestShapesOutAndIn(t *testing.T) {
	for _, format := range []string{"webannotation", "coco"} {
		t.Run(format, func(t *testing.T) {
			from, to := t.TempDir(), t.TempDir()
			writeHide(t, from, "H1", 8)
			writeHide(t, to, "H1", 8)
			_, a := newServer(t, from, nil)
			_, b := newServer(t, to, nil)
			ann := newPerson(t, a, "H1", "Ann", "")
			ann.does(ask{Act: hide.ActConfirm}, 1, 2)
			ann.does(ask{Act: hide.ActReject}, 3)
			ann.does(ask{Act: hide.ActKind, Kind: hide.Brand}, 4)
			ann.does(ask{Act: hide.ActAdd, Kind: hide.Stain, Drawn: &stroke{Shape: square(600, 600, 40, 30)}})
			file := fetch(t, a.URL+"/api/charts/H1/export/"+format)
			for i := range 2 {
				status, _, body := send(t, http.MethodPost, b.URL+"/api/charts/H1/import/"+format+"?who=Bob", file, nil)
				require.Equal(t, http.StatusOK, status, body)
				require.Contains(t, body, `"read":9`, i)
			}
			want, err := export.ReadReviewed(filepath.Join(from, "H1"))
			require.NoError(t, err)
			have, err := export.ReadReviewed(filepath.Join(to, "H1"))
			require.NoError(t, err)
			assert.Equal(t, want.Defects, have.Defects)
			record, err := export.ReadReview(filepath.Join(to, "H1", export.ReviewName))
			require.NoError(t, err)
			assert.Len(t, record.Decisions, 5, "two confirmed, one rejected, one renamed, one added")
			assert.Equal(t, "Bob", record.Decisions[0].Who)
		})
	}
}

func TestImportRefuses(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 3)
	_, h := newServer(t, root, nil)
	for name, x := range map[string]struct{ format, body string }{
		"another format": {"xml", "{}"}, "no json": {"coco", "<x/>"}, "no annotation": {"webannotation", "{}"}, "too large": {"coco", `"` + strings.Repeat("x", mostImport) + `"`},
	} {
		status, _, _ := send(t, http.MethodPost, h.URL+"/api/charts/H1/import/"+x.format+"?who=Bob", x.body, nil)
		assert.GreaterOrEqual(t, status, 400, name)
		assert.Less(t, status, 500, name)
	}
	assert.NoFileExists(t, filepath.Join(root, "H1", export.ReviewName))
}
