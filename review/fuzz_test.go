package review

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/export"
)

// fuzzServer answers in memory: no socket, no rate limit in the way.
func fuzzServer(f *testing.F) (http.Handler, string) {
	f.Helper()
	root := f.TempDir()
	writeHide(f, root, "H1", 6)
	s, _ := newServer(f, root, nil)
	return s.routes(), root
}

// Whatever is sent as a decision, the answer is a proper one, the record stays
// readable and holds what was answered with 200 and nothing else.
func FuzzDecision(f *testing.F) {
	h, root := fuzzServer(f)
	for _, seed := range []string{goodAsk, `{`, `null`, `[]`, `{"key":"0123456789","who":"<script>","act":"add","kind":"scar","drawn":{"line":[[500,500],[1e300,5]],"width_mm":3}}`,
		`{"key":"0123456788","who":"A","act":"add","kind":"hole","drawn":{"shape":{"type":"Polygon","coordinates":[[[500,500],[550,500],[500,520],[550,520],[500,500]]]}}}`,
		`{"key":"0123456787","who":"A","act":"split","targets":[{"id":1,"seen":0}],"cut":[[0,0],[0,0]]}`, `{"key":"0123456786","who":"A","act":"undo"}`,
		`{"key":"0123456785","who":"A","act":"merge","targets":[{"id":1,"seen":0},{"id":2,"seen":-1}],"look":"classic"}`,
		`{"key":"0123456784","who":"A","act":"redraw","targets":[{"id":1}],"drawn":{"line":[[400,400],[400,400]],"width_mm":0.2}}`} {
		f.Add([]byte(seed), "")
	}
	f.Fuzz(func(t *testing.T, body []byte, pass string) {
		r := httptest.NewRequest(http.MethodPost, "/api/charts/H1/decisions?pass="+url.QueryEscape(pass), bytes.NewReader(body))
		r.Header.Set("Content-Type", "application/json")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != http.StatusOK && (w.Code < 400 || w.Code > 499) {
			t.Fatalf("status %d: %s", w.Code, w.Body)
		}
		if w.Code == http.StatusOK {
			have, err := export.ReadReview(filepath.Join(root, "H1", export.ReviewName))
			require.NoError(t, err)
			require.Empty(t, have.Damaged)
			if len(have.Decisions) > 200 { // keep the fold short: start anew
				require.NoError(t, os.Truncate(filepath.Join(root, "H1", export.ReviewName), have.Good))
				t.Skip()
			}
		}
	})
}

// Whatever address is asked for, nothing outside the folder comes back and
// nothing breaks.
func FuzzAddress(f *testing.F) {
	h, root := fuzzServer(f)
	require.NoError(f, os.WriteFile(filepath.Join(filepath.Dir(root), "secret.json"), []byte("the secret"), 0o644))
	for _, seed := range []string{"/", "/hide/H1", "/api/charts/H1/tiles/top/3/0_0.jpg", "/api/charts/../secret.json", "/assets/../../x", "/api/charts/H1/tiles/top/99/-1_0.jpg", "/api/charts/%00/summary"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, path string) {
		u, err := url.Parse(path)
		if err != nil || !strings.HasPrefix(u.Path, "/") || u.Host != "" || strings.HasSuffix(u.Path, "/events") {
			t.Skip()
		}
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.URL = u
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code >= 500 || strings.Contains(w.Body.String(), "the secret") {
			t.Fatalf("%q: status %d: %s", path, w.Code, w.Body)
		}
	})
}
