package review

import (
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

func send(t *testing.T, method, url, body string, change func(*http.Request)) (int, http.Header, string) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, url, strings.NewReader(body))
	require.NoError(t, err)
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	if change != nil {
		change(r)
	}
	c := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := c.Do(r)
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	data, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res.StatusCode, res.Header, string(data)
}

const goodAsk = `{"key":"0123456789","who":"Ann","act":"confirm","targets":[{"id":1,"seen":0}]}`

// The headers that OWASP's secure headers project asks of a page (as of 2024), on pages, pictures,
// answers and refusals alike; no script or style stands in a page.
func TestHeadersEverywhere(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 3)
	_, h := newServer(t, root, nil)
	for _, path := range []string{"/", "/hide/H1", "/assets/hide.js", "/assets/theme.css", "/api/charts", "/api/charts/H1", "/api/charts/H1/thumb.jpg",
		"/api/charts/none", "/nowhere", "/assets/..%2fassets.go"} {
		_, head, body := send(t, http.MethodGet, h.URL+path, "", nil)
		csp := head.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'none'", "script-src 'self'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'none'"} {
			assert.Contains(t, csp, want, path)
		}
		assert.NotContains(t, csp, "unsafe", path)
		assert.Equal(t, "nosniff", head.Get("X-Content-Type-Options"), path)
		assert.Equal(t, "DENY", head.Get("X-Frame-Options"), path)
		assert.Equal(t, "no-referrer", head.Get("Referrer-Policy"), path)
		assert.Equal(t, "same-origin", head.Get("Cross-Origin-Opener-Policy"), path)
		assert.Equal(t, "same-origin", head.Get("Cross-Origin-Resource-Policy"), path)
		assert.Empty(t, head.Get("Access-Control-Allow-Origin"), path)
		if strings.Contains(head.Get("Content-Type"), "html") {
			assert.NotRegexp(t, `<script(?:\s[^>]*)?>[^<]`, body, "inline script")
			assert.NotRegexp(t, `\son[a-z]+=|style=|<style|javascript:`, body)
			assert.NotRegexp(t, `(?:src|href)="(?:https?:)?//`, body, "nothing from the network")
		}
	}
}

func TestOtherPagesCannotDecide(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 3)
	_, h := newServer(t, root, nil)
	u := h.URL + "/api/charts/H1/decisions"
	own, err := url.Parse(h.URL)
	require.NoError(t, err)
	for name, x := range map[string]struct {
		change func(*http.Request)
		status int
	}{
		"another origin":       {func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") }, 403},
		"another port":         {func(r *http.Request) { r.Header.Set("Origin", "http://127.0.0.1:1") }, 403},
		"origin null":          {func(r *http.Request) { r.Header.Set("Origin", "null") }, 403},
		"https of our name":    {func(r *http.Request) { r.Header.Set("Origin", "https://"+own.Host) }, 403},
		"cross site":           {func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, 403},
		"a name pointed at us": {func(r *http.Request) { r.Host = "evil.example:" + own.Port() }, 421},
		"a form":               {func(r *http.Request) { r.Header.Set("Content-Type", "text/plain") }, 422},
		"our page":             {func(r *http.Request) { r.Header.Set("Origin", h.URL); r.Header.Set("Sec-Fetch-Site", "same-origin") }, 200},
	} {
		status, _, _ := send(t, http.MethodPost, u, goodAsk, x.change)
		assert.Equal(t, x.status, status, name)
	}
	status, _, _ := send(t, http.MethodPut, u, goodAsk, nil)
	assert.Equal(t, http.StatusMethodNotAllowed, status)
}

func TestNoPathLeavesTheFolder(t *testing.T) {
	base := t.TempDir()
	root := filepath.Join(base, "charts")
	writeHide(t, root, "H1", 3)
	writeHide(t, base, "secret", 3)
	require.NoError(t, os.Symlink(filepath.Join(base, "secret"), filepath.Join(root, "link")))
	require.NoError(t, os.Mkdir(filepath.Join(root, "H2"), 0o755))
	require.NoError(t, os.Symlink(filepath.Join(base, "secret", export.ChartName), filepath.Join(root, "H2", export.ChartName)))
	require.NoError(t, os.Remove(filepath.Join(root, "H1", export.LightFile(hide.RakeE))))
	require.NoError(t, os.Symlink(filepath.Join(base, "secret", export.LightFile(hide.RakeE)), filepath.Join(root, "H1", export.LightFile(hide.RakeE))))
	_, h := newServer(t, root, nil)
	for _, path := range []string{"/api/charts/..", "/api/charts/..%2Fsecret", "/api/charts/%2e%2e%2fsecret", "/api/charts/link", "/api/charts/H2", "/api/charts/.hidden",
		"/api/charts/H1%00", "/api/charts/H1/tiles/../0/0_0.jpg", "/api/charts/H1/tiles/rake-e/11/0_0.jpg", "/api/charts/H1/tiles/top/-1/0_0.jpg", "/api/charts/H1/tiles/top/11/9999999999_0.jpg",
		"/assets/..%2f..%2fgo.mod", "/assets/%2e%2e/doc.go", "/hide/../../etc/passwd", "/api/charts/H1/export/..%2f..%2fx", "/api/charts/H1/export/png"} {
		status, _, body := send(t, http.MethodGet, h.URL+path, "", nil)
		if strings.Contains(path, "/..") { // sent on to the path without the dots, which leads nowhere
			assert.Contains(t, []int{http.StatusTemporaryRedirect, http.StatusNotFound}, status, path)
			continue
		}
		assert.Equal(t, http.StatusNotFound, status, "%s: %s", path, body)
		assert.NotContains(t, body, base, "no path of the machine is told")
	}
}

func TestLimits(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 3)
	_, h := newServer(t, root, nil)
	u := h.URL + "/api/charts/H1/decisions"
	big := `{"key":"0123456789","who":"Ann","act":"note","text":"` + strings.Repeat("x", mostBody) + `"}`
	status, _, _ := send(t, http.MethodPost, u, big, nil)
	assert.Equal(t, http.StatusRequestEntityTooLarge, status)
	status, _, _ = send(t, http.MethodPost, u, `{"key":"0123456789","who":"Ann","act":"note","text":"`+strings.Repeat("x", 3000)+`"}`, nil)
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	many := 0
	for range decisionsBurst + 100 {
		status, head, _ := send(t, http.MethodPost, u, `{`, nil)
		if status == http.StatusTooManyRequests {
			assert.Equal(t, "1", head.Get("Retry-After"))
			many++
		}
	}
	assert.Positive(t, many)
}

// Beyond this machine nothing is answered without the token.
func TestTokenForOtherMachines(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 3)
	token := NewToken()
	assert.Len(t, token, 32)
	assert.NotEqual(t, token, NewToken())
	s, h := newServer(t, root, func(o *Options) { o.Token = token })
	outside := &net.TCPAddr{IP: net.IPv4(192, 0, 2, 1), Port: 80}
	_, err := s.Handler(outside)
	require.NoError(t, err)
	assert.Contains(t, s.Address(outside), "?token="+token)

	for _, path := range []string{"/", "/hide/H1", "/api/charts", "/assets/hide.js", "/?token=" + strings.Repeat("0", 32)} {
		status, _, _ := send(t, http.MethodGet, h.URL+path, "", nil)
		assert.Equal(t, http.StatusUnauthorized, status, path)
	}
	status, head, _ := send(t, http.MethodGet, h.URL+"/?token="+token, "", nil)
	assert.Equal(t, http.StatusSeeOther, status)
	assert.Equal(t, "/", head.Get("Location"), "the token leaves the address bar")
	cookie := head.Get("Set-Cookie")
	for _, want := range []string{"HttpOnly", "SameSite=Strict", "Path=/"} {
		assert.Contains(t, cookie, want)
	}
	status, _, _ = send(t, http.MethodGet, h.URL+"/api/charts", "", func(r *http.Request) { r.Header.Set("Cookie", strings.Split(cookie, ";")[0]) })
	assert.Equal(t, http.StatusOK, status)
	status, _, _ = send(t, http.MethodGet, h.URL+"/api/charts", "", func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+token) })
	assert.Equal(t, http.StatusOK, status)
	status, _, _ = send(t, http.MethodPost, h.URL+"/api/charts/H1/decisions", goodAsk, func(r *http.Request) {
		r.Header.Set("Cookie", strings.Split(cookie, ";")[0])
	})
	assert.Equal(t, http.StatusForbidden, status, "a browser's cookie without its word on the origin")
}

func TestNoTokenNoNetwork(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 3)
	s, _ := newServer(t, root, nil)
	for _, ip := range []net.IP{net.IPv4(192, 0, 2, 1), net.IPv4zero, net.IPv6unspecified} {
		_, err := s.Handler(&net.TCPAddr{IP: ip, Port: 80})
		require.ErrorIs(t, err, hide.Invalid)
	}
}
