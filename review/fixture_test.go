package review

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/pix"
	"hidechart/yield"
)

// An invented hide: an ellipse of 1000 × 800 mm with flaws in rows, no two
// alike, and pictures of it at 1 mm a pixel under two lights.

func square(x, y, w, h float64) hide.Shape {
	return hide.Shape{{Outer: hide.Ring{{X: hide.MM(x), Y: hide.MM(y)}, {X: hide.MM(x + w), Y: hide.MM(y)}, {X: hide.MM(x + w), Y: hide.MM(y + h)}, {X: hide.MM(x), Y: hide.MM(y + h)}}}}
}

func inventedChart(id string, flaws int) hide.Chart {
	var ring hide.Ring
	for i := range 120 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 120)
		ring = append(ring, hide.Point{X: hide.MM(hide.Micron(hide.MM(550 + 500*c))), Y: hide.MM(hide.Micron(hide.MM(450 + 400*s)))})
	}
	c := hide.Chart{Format: hide.Format, Outline: hide.Polygon{Outer: ring}, Backbone: [2]hide.Point{{X: 60, Y: 450}, {X: 1040, Y: 450}},
		Capture: hide.CaptureFacts{ID: id, Article: "invented", Images: []hide.ImageFact{}},
		Frame:   hide.Frame{Unit: "mm", Y: "up", MMPerPX: 1}, Flags: []hide.Flag{}, Tags: []hide.TagFit{}}
	c.Area = hide.Area{Value: c.Outline.Area(), U: 500, Budget: []hide.BudgetPart{{Source: "scale", U: 400}, {Source: "edge", U: 300, InputU: 0.1, Unit: "mm"}}}
	kinds := []hide.Kind{hide.Scar, hide.Bites, hide.Stain, hide.Vein, hide.Scratch, hide.Wart}
	for i := range flaws {
		x, y := 250+float64(i%6)*100, 250+float64(i/6)*90
		s := square(x, y, 20+float64(i%5)*4, 12+float64(i%3)*5)
		c.Defects = append(c.Defects, hide.Defect{ID: i + 1, Kind: kinds[i%len(kinds)], Status: hide.Candidate, Probability: 0.15 + 0.8*float64(i%9)/9,
			Geometry: s, Area: s.Area(), Length: 30, Width: 12, EdgeDistance: 50, Lights: []hide.Light{hide.Top}})
	}
	return c
}

func writeHide(t testing.TB, root, id string, flaws int) hide.Chart {
	t.Helper()
	dir := filepath.Join(root, id)
	require.NoError(t, os.MkdirAll(dir, 0o755))
	c := inventedChart(id, flaws)
	require.NoError(t, export.WriteChart(filepath.Join(dir, export.ChartName), c))
	writeLights(t, dir, c, 1100, 900, 1)
	back, err := export.ReadChart(filepath.Join(dir, export.ChartName))
	require.NoError(t, err)
	return back
}

func writeLights(t testing.TB, dir string, c hide.Chart, width, height int, mmPerPX float64) {
	t.Helper()
	l := export.Lights{Format: export.LightsFormat, Hide: c.Capture.ID, Left: 0, Top: 900, MMPerPX: hide.MM(mmPerPX), Width: width, Height: height}
	for i, light := range []hide.Light{hide.Top, hide.RakeE} {
		im := pix.New(width, height, pix.U8, 3)
		px := im.Bytes()
		for k := range px { // brown, with a grain of its own under each light; never black or white
			px[k] = uint8(90 + 30*(k%3) + (k*(7+i*4)/3)%23)
		}
		data, err := pix.EncodeJPEG(im, 90)
		im.Close()
		require.NoError(t, err)
		sum := sha256.Sum256(data)
		require.NoError(t, os.WriteFile(filepath.Join(dir, export.LightFile(light)), data, 0o644))
		l.Pictures = append(l.Pictures, export.LightPicture{Light: light, File: export.LightFile(light), SHA256: hex.EncodeToString(sum[:])})
	}
	require.NoError(t, export.WriteFile(filepath.Join(dir, export.LightsName), func(w io.Writer) error { return export.WriteLights(w, l) }))
}

// at is the fixed clock of the tests.
func at() time.Time { return time.Date(2026, 3, 2, 10, 0, 0, 0, time.UTC) }

func newServer(t testing.TB, root string, change func(*Options)) (*Server, *httptest.Server) {
	t.Helper()
	var looks []yield.Look
	for _, n := range yield.LookNames() {
		l, err := yield.FindLook(n)
		require.NoError(t, err)
		looks = append(looks, l)
	}
	o := Options{Dir: root, Looks: looks, Now: at}
	if change != nil {
		change(&o)
	}
	s, err := New(o)
	require.NoError(t, err)
	h := httptest.NewUnstartedServer(nil)
	h.Config.Handler, err = s.Handler(h.Listener.Addr())
	require.NoError(t, err)
	h.Start()
	t.Cleanup(func() {
		h.CloseClientConnections()
		h.Close()
		require.NoError(t, s.Close())
	})
	return s, h
}

func call(t testing.TB, method, url string, body any, into any) int {
	t.Helper()
	var in io.Reader
	if body != nil {
		data, err := json.Marshal(body)
		require.NoError(t, err)
		in = bytes.NewReader(data)
	}
	r, err := http.NewRequestWithContext(context.Background(), method, url, in)
	require.NoError(t, err)
	r.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer func() { _ = res.Body.Close() }()
	data, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	if into != nil {
		require.NoError(t, json.Unmarshal(data, into), string(data))
	}
	return res.StatusCode
}

// person decides on a chart with what the page would know.
type person struct {
	t    testing.TB
	base string // of the chart's API
	who  string
	pass string
	seen map[int]int
	n    int
}

func newPerson(t testing.TB, h *httptest.Server, chart, who, pass string) *person {
	return &person{t: t, base: h.URL + "/api/charts/" + chart, who: who, pass: pass, seen: map[int]int{}}
}

func (p *person) ask(a ask, ids ...int) (decided, int) {
	p.t.Helper()
	p.n++
	a.Who, a.Look = p.who, "classic"
	if a.Key == "" {
		a.Key = p.who + "-" + p.pass + "-" + time.Unix(int64(p.n), 0).UTC().Format("150405")
	}
	for _, id := range ids {
		a.Targets = append(a.Targets, target{ID: id, Seen: p.seen[id]})
	}
	var out decided
	status := call(p.t, http.MethodPost, p.base+"/decisions?pass="+p.pass, a, &out)
	for _, x := range out.Touched {
		p.seen[x.ID] = x.Revision
	}
	return out, status
}

func (p *person) does(a ask, ids ...int) decided {
	p.t.Helper()
	out, status := p.ask(a, ids...)
	require.Equal(p.t, http.StatusOK, status)
	require.False(p.t, out.Held)
	return out
}

func (p *person) state() state {
	p.t.Helper()
	var s state
	require.Equal(p.t, http.StatusOK, call(p.t, http.MethodGet, p.base+"?pass="+p.pass, nil, &s))
	return s
}

func (s state) find(id int) *hide.Defect {
	for i := range s.Defects {
		if s.Defects[i].ID == id {
			return &s.Defects[i]
		}
	}
	return nil
}
