package review

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/hex"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"

	"golang.org/x/time/rate"

	"hidechart/hide"
)

const (
	// mostBody of a decision, bytes: a drawing of 20 000 points as text.
	mostBody = 1 << 20
	// mostImport of annotations, bytes: ten thousand shapes.
	mostImport = 32 << 20
	// perSecond and burst of requests from one address: a page that pans fast asks for
	// 100 tiles a second for a moment.
	perSecond, burst = 200, 1000
	// decisionsPerSecond and their burst from one address: a person decides
	// twice a second; a page that was cut off sends a hide's worth at once.
	decisionsPerSecond, decisionsBurst = 20, 400
	// mostClients remembered; past it all are forgotten, which only gives each a
	// new burst.
	mostClients = 10000
)

// cookieName holds the token once it was given in the address.
const cookieName = "hidechart_review"

// NewToken makes a token of 128 random bits in hexadecimal.
func NewToken() string {
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails, by its contract since Go 1.24
	return hex.EncodeToString(b[:])
}

// guard stands before every request: host name, token, origin, rate, headers.
type guard struct {
	next  http.Handler
	token string          // empty: none asked for
	hosts map[string]bool // names the page may be asked for by; empty: any, where a token is asked for
	tls   bool

	mu      sync.Mutex
	clients map[string]*client
}

type client struct{ all, decisions *rate.Limiter }

// policy is the Content-Security-Policy (W3C CSP level 3): nothing but our own
// scripts, styles and pictures, no inline script or style, no frames around us.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

func (g *guard) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()")
	h.Set("Cache-Control", "no-store")
	switch {
	case len(g.hosts) > 0 && !g.hosts[strings.ToLower(r.Host)]:
		// a name that a hostile page made point here (DNS rebinding)
		writeFault(w, http.StatusMisdirectedRequest, "this page answers to its own address only")
	case !g.allowed(r):
		h.Set("Retry-After", "1")
		writeFault(w, http.StatusTooManyRequests, "too many requests: wait a second")
	case !g.knows(r):
		if g.letIn(w, r) {
			return
		}
		writeFault(w, http.StatusUnauthorized, "open the address with the token that hidechart review printed")
	case changes(r) && !sameOrigin(r):
		writeFault(w, http.StatusForbidden, "the request comes from another page")
	default:
		r.Body = http.MaxBytesReader(w, r.Body, mostImport)
		g.next.ServeHTTP(w, r)
	}
}

func changes(r *http.Request) bool {
	return r.Method != http.MethodGet && r.Method != http.MethodHead
}

// sameOrigin asks a browser's word that the request comes from our page. A program
// that sends no Origin is no browser and needs no protection from other pages.
func sameOrigin(r *http.Request) bool {
	if s := r.Header.Get("Sec-Fetch-Site"); s != "" && s != "same-origin" {
		return false
	}
	origin := r.Header.Get("Origin")
	if origin == "" {
		return r.Header.Get("Sec-Fetch-Site") == "same-origin" || r.Header.Get("Cookie") == ""
	}
	u, err := url.Parse(origin)
	scheme := "http"
	if r.TLS != nil {
		scheme = "https"
	}
	return err == nil && u.Scheme == scheme && strings.EqualFold(u.Host, r.Host)
}

func (g *guard) allowed(r *http.Request) bool {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	c := g.clients[host]
	if c == nil {
		if g.clients == nil || len(g.clients) > mostClients {
			g.clients = map[string]*client{}
		}
		c = &client{rate.NewLimiter(perSecond, burst), rate.NewLimiter(decisionsPerSecond, decisionsBurst)}
		g.clients[host] = c
	}
	return c.all.Allow() && (!changes(r) || c.decisions.Allow())
}

// knows tells whether a request carries the token, as its cookie or as a
// bearer (RFC 6750).
func (g *guard) knows(r *http.Request) bool {
	if g.token == "" {
		return true
	}
	given := strings.TrimPrefix(r.Header.Get("Authorization"), "Bearer ")
	if c, err := r.Cookie(cookieName); err == nil {
		given = c.Value
	}
	return subtle.ConstantTimeCompare([]byte(given), []byte(g.token)) == 1
}

// letIn takes the token from the address of a page, keeps it in a cookie that
// scripts and other sites do not see, and asks for the page without it.
func (g *guard) letIn(w http.ResponseWriter, r *http.Request) bool {
	given := r.URL.Query().Get("token")
	if r.Method != http.MethodGet || subtle.ConstantTimeCompare([]byte(given), []byte(g.token)) != 1 {
		return false
	}
	http.SetCookie(w, &http.Cookie{Name: cookieName, Value: g.token, Path: "/", HttpOnly: true, Secure: g.tls, SameSite: http.SameSiteStrictMode})
	w.Header().Set("Location", "/")
	w.WriteHeader(http.StatusSeeOther)
	return true
}

// statusTable maps every kind of error to its HTTP status.
func statusTable() map[hide.ErrorKind]int {
	return map[hide.ErrorKind]int{
		hide.Invalid:       http.StatusUnprocessableEntity,
		hide.Unreadable:    http.StatusUnprocessableEntity,
		hide.NotMeasurable: http.StatusUnprocessableEntity,
		hide.NotFound:      http.StatusNotFound,
		hide.Conflict:      http.StatusConflict,
		hide.Internal:      http.StatusInternalServerError,
	}
}
