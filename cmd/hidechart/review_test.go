package main

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// shared is a buffer that a command writes while a test reads.
type shared struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *shared) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *shared) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// serving runs `hidechart review` until the test ends and gives its address and
// what it said on standard error.
func serving(t *testing.T, args ...string) (address string, said *shared) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	out, errOut := &shared{}, &shared{}
	ended := make(chan int, 1)
	go func() { ended <- run(ctx, append([]string{"review", "--no-cache"}, args...), out, errOut) }()
	require.Eventually(t, func() bool { return strings.Contains(out.String(), "\n") }, 10*time.Second, 10*time.Millisecond, errOut.String())
	t.Cleanup(func() {
		stop()
		assert.Equal(t, statusDone, <-ended, "stopped by the user: "+errOut.String())
	})
	return strings.TrimSpace(out.String()), errOut
}

func status(t *testing.T, method, url, body string) (int, string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, url, strings.NewReader(body))
	require.NoError(t, err)
	r.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	data, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res.StatusCode, string(data)
}

// discFolder is a folder of charts with one in it.
func discFolder(t *testing.T) string {
	t.Helper()
	root := t.TempDir()
	require.NoError(t, os.Mkdir(filepath.Join(root, "disc"), 0o755))
	data, err := os.ReadFile(discChart(t))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(root, "disc", "chart.json"), data, 0o644))
	return root
}

// A decision made through the command is what export and yield work on next.
func TestReviewCommandAndWhatFollows(t *testing.T) {
	root := discFolder(t)
	address, said := serving(t, root, "--port", "0")
	assert.True(t, strings.HasPrefix(address, "http://127.0.0.1:"), address)
	assert.Empty(t, said.String(), "no warning on this machine")
	code, _ := status(t, http.MethodPost, address+"api/charts/disc/decisions", `{"key":"0123456789","who":"Ann","act":"reject","targets":[{"id":1,"seen":0}]}`)
	require.Equal(t, http.StatusOK, code)

	o := hidechart("export", filepath.Join(root, "disc"), "--to", "svg,page")
	require.Equal(t, statusDone, o.status, o.err)
	svg, err := os.ReadFile(filepath.Join(root, "disc", "disc.svg"))
	require.NoError(t, err)
	assert.NotContains(t, string(svg), `id="defect-1"`, "rejected")
	assert.FileExists(t, filepath.Join(root, "disc", "disc.page", "index.html"))
	o = hidechart("yield", filepath.Join(root, "disc"), "--look", "classic", "--json")
	require.Equal(t, statusDone, o.status, o.err)
	assert.Contains(t, o.stdout, `"look_first": []`, "nothing left to decide")
	o = hidechart("export", filepath.Join(root, "disc"), "--to", "coco")
	assert.Equal(t, statusBadInput, o.status, "no picture to give shapes on")
}

// Open to the network: a warning, and nothing without the token.
func TestReviewListens(t *testing.T) {
	address, said := serving(t, discFolder(t), "--listen", "0.0.0.0:0")
	assert.Contains(t, said.String(), "WARNING: other machines can reach this")
	assert.Contains(t, said.String(), "nothing is encrypted")
	base, token, ok := strings.Cut(address, "?token=")
	require.True(t, ok, address)
	assert.Len(t, token, 32)
	base = strings.Replace(base, "[::]", "127.0.0.1", 1)
	code, _ := status(t, http.MethodGet, base+"api/charts", "")
	assert.Equal(t, http.StatusUnauthorized, code)
	code, _ = status(t, http.MethodGet, base+"?token=wrong", "")
	assert.Equal(t, http.StatusUnauthorized, code)
}

func TestReviewUsage(t *testing.T) {
	root := discFolder(t)
	for _, args := range [][]string{{"review"}, {"review", root, "--listen", "nowhere"}, {"review", root, "--listen", "0.0.0.0:0", "--token", "short"},
		{"review", root, "--cert", "a.pem"}, {"review", root, "--port", "70000"}} {
		assert.Equal(t, statusUsage, hidechart(args...).status, args)
	}
	assert.Equal(t, statusBadInput, hidechart("review", filepath.Join(root, "none"), "--port", "0").status)
	assert.Equal(t, statusBadInput, hidechart("review", root, "--look", "none", "--port", "0").status)
}
