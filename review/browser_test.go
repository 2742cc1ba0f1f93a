package review

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/pprof"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"hidechart/yield"
)

// serveInOwnProcess is what TestMain runs for a test that kills the server.
func serveInOwnProcess(dir, addr string) error {
	o := Options{Dir: dir}
	for _, n := range yield.LookNames() {
		l, err := yield.FindLook(n)
		if err != nil {
			return err
		}
		o.Looks = append(o.Looks, l)
	}
	s, err := New(o)
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return err
	}
	return s.Serve(context.Background(), l, func(srv *http.Server, l net.Listener) error { return srv.Serve(l) })
}

func TestMain(m *testing.M) {
	if dir := os.Getenv("HIDECHART_SERVE"); dir != "" {
		if err := serveInOwnProcess(dir, os.Getenv("HIDECHART_ADDR")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	code := m.Run()
	// the leak gate: its build counts pictures, others have no such profile
	if left := pprof.Lookup("gocv.io/x/gocv.Mat"); left != nil && left.Count() != 0 {
		_ = left.WriteTo(os.Stdout, 1)
		code = 1
	}
	os.Exit(code)
}

// process is a review server of its own, to be killed.
type process struct {
	t    testing.TB
	dir  string
	addr string
	cmd  *exec.Cmd
}

func startProcess(t testing.TB, dir string) *process {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	p := &process{t: t, dir: dir, addr: l.Addr().String()}
	require.NoError(t, l.Close())
	p.start()
	t.Cleanup(p.kill)
	return p
}

func (p *process) start() {
	p.t.Helper()
	p.cmd = exec.Command(os.Args[0])
	p.cmd.Env = append(os.Environ(), "HIDECHART_SERVE="+p.dir, "HIDECHART_ADDR="+p.addr)
	p.cmd.Stderr = os.Stderr
	require.NoError(p.t, p.cmd.Start())
	require.Eventually(p.t, func() bool {
		c, err := net.Dial("tcp", p.addr)
		if err == nil {
			_ = c.Close()
		}
		return err == nil
	}, 20*time.Second, 20*time.Millisecond)
}

func (p *process) kill() {
	_ = p.cmd.Process.Signal(syscall.SIGKILL)
	_ = p.cmd.Wait()
}

// browser is one window of a real browser.
type browser struct {
	context.Context //nolint:containedctx // chromedp keeps a window in its context
	t               testing.TB
}

// patience of a step of the browser: far above what it takes, for slow machines.
const patience = 20 * time.Second

// moment between two looks at the page.
const moment = 30 * time.Millisecond

// openBrowser starts Chromium. What the page does against its own policy or
// throws fails the test.
func openBrowser(t testing.TB, width, height int64) browser {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser makes no pictures of ours")
	}
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("no chromium: scripts/install.sh test")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.WSURLReadTimeout(60*time.Second))
	alloc, endAlloc := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(endAlloc)
	return newTab(alloc, t, width, height)
}

func newTab(parent context.Context, t testing.TB, width, height int64) browser {
	t.Helper()
	ctx, end := chromedp.NewContext(parent, chromedp.WithErrorf(func(string, ...any) {})) // events of newer browsers that it does not know
	t.Cleanup(end)
	chromedp.ListenTarget(ctx, func(e any) {
		switch e := e.(type) {
		case *runtime.EventExceptionThrown:
			t.Errorf("the page threw: %s %v", e.ExceptionDetails.Text, e.ExceptionDetails.Exception)
		case *cdplog.EventEntryAdded:
			if e.Entry.Source == cdplog.SourceSecurity {
				t.Errorf("against the policy: %s", e.Entry.Text)
			}
		}
	})
	require.NoError(t, chromedp.Run(ctx)) // starts it; a limit of time here would end it later
	b := browser{ctx, t}
	b.do(cdplog.Enable(), emulation.SetDeviceMetricsOverride(width, height, 1, false), emulation.SetTouchEmulationEnabled(true))
	return b
}

func (b browser) do(actions ...chromedp.Action) {
	b.t.Helper()
	ctx, end := context.WithTimeout(b.Context, patience)
	defer end()
	if err := chromedp.Run(ctx, actions...); err != nil {
		b.keep("failed")
		require.NoError(b.t, err)
	}
}

// eval gives the value of an expression. One that throws is asked again: while a
// list is drawn anew, what it asks of may be missing for a moment.
func eval[T any](b browser, js string) T {
	b.t.Helper()
	ctx, end := context.WithTimeout(b.Context, patience)
	defer end()
	for {
		var v T
		err := chromedp.Run(ctx, chromedp.Evaluate(js, &v, awaited))
		if err == nil {
			return v
		}
		var thrown *runtime.ExceptionDetails
		if !errors.As(err, &thrown) {
			b.keep("failed")
			require.NoError(b.t, err, js)
		}
		time.Sleep(moment)
	}
}

// until waits for an expression to become true.
func (b browser) until(js string) {
	b.t.Helper()
	end := time.Now().Add(patience)
	for time.Now().Before(end) {
		if b.holds(js) {
			return
		}
		time.Sleep(moment)
	}
	b.keep("failed")
	require.Fail(b.t, "never true: "+js)
}

// holds tells whether an expression is true now. While a page loads there may be
// no document yet, and the one that was asked may go: then it is not.
func (b browser) holds(js string) bool {
	b.t.Helper()
	ctx, end := context.WithTimeout(b.Context, patience)
	defer end()
	var v bool
	err := chromedp.Run(ctx, chromedp.Evaluate("(() => { try { return Boolean("+js+") } catch { return false } })()", &v, awaited))
	return err == nil && v
}

func (b browser) open(url string) {
	b.t.Helper()
	b.do(chromedp.Navigate(url))
}

// key presses a real key.
func (b browser) key(k string) {
	b.t.Helper()
	b.do(chromedp.KeyEvent(k))
}

// middle of an element on the screen, waited for: a list being drawn anew has
// none for a moment.
func (b browser) middle(css string) (x, y float64) {
	b.t.Helper()
	js := fmt.Sprintf(`(()=>{const e=document.querySelector(%q);if(!e)return [];e.scrollIntoView({block:"nearest"});const r=e.getBoundingClientRect();return [r.x+r.width/2,r.y+r.height/2]})()`, css)
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(moment) {
		if at := eval[[]float64](b, js); len(at) == 2 {
			return at[0], at[1]
		}
	}
	b.keep("failed")
	require.Fail(b.t, "never there: "+css)
	return 0, 0
}

// click with the mouse.
func (b browser) click(css string) {
	b.t.Helper()
	x, y := b.middle(css)
	b.do(chromedp.MouseClickXY(x, y))
}

// clickUntil clicks again if the list was drawn anew under the pointer.
func (b browser) clickUntil(css, js string) {
	b.t.Helper()
	for range 5 {
		b.click(css)
		for range 20 {
			if b.holds(js) {
				return
			}
			time.Sleep(moment)
		}
	}
	b.until(js)
}

// tap with a finger.
func (b browser) tap(css string) {
	b.t.Helper()
	x, y := b.middle(css)
	b.do(input.DispatchTouchEvent(input.TouchStart, []*input.TouchPoint{{X: x, Y: y}}), input.DispatchTouchEvent(input.TouchEnd, []*input.TouchPoint{}))
}

// drag with the mouse along points of the screen.
func (b browser) drag(points ...[2]float64) {
	b.t.Helper()
	p := points[0]
	actions := []chromedp.Action{input.DispatchMouseEvent(input.MouseMoved, p[0], p[1]), input.DispatchMouseEvent(input.MousePressed, p[0], p[1]).WithButton(input.Left).WithClickCount(1)}
	for _, p = range points[1:] {
		actions = append(actions, input.DispatchMouseEvent(input.MouseMoved, p[0], p[1]).WithButton(input.Left).WithButtons(1), chromedp.Sleep(15*time.Millisecond))
	}
	actions = append(actions, input.DispatchMouseEvent(input.MouseReleased, p[0], p[1]).WithButton(input.Left).WithClickCount(1))
	b.do(actions...)
}

// fingerDrag along points of the screen.
func (b browser) fingerDrag(points ...[2]float64) {
	b.t.Helper()
	at := func(p [2]float64) []*input.TouchPoint { return []*input.TouchPoint{{X: p[0], Y: p[1]}} }
	actions := []chromedp.Action{input.DispatchTouchEvent(input.TouchStart, at(points[0]))}
	for _, p := range points[1:] {
		actions = append(actions, input.DispatchTouchEvent(input.TouchMove, at(p)), chromedp.Sleep(15*time.Millisecond))
	}
	b.do(append(actions, input.DispatchTouchEvent(input.TouchEnd, []*input.TouchPoint{}))...)
}

// keep a screenshot as an artefact: in HIDECHART_SHOTS, or in out/review of the tree.
func (b browser) keep(name string) {
	dir := os.Getenv("HIDECHART_SHOTS")
	if dir == "" {
		dir = filepath.Join("..", "out", "review")
	}
	ctx, end := context.WithTimeout(b.Context, patience)
	defer end()
	var data []byte
	err := chromedp.Run(ctx, chromedp.ActionFunc(func(ctx context.Context) (err error) {
		data, err = page.CaptureScreenshot().Do(ctx)
		return err
	}))
	if err == nil && os.MkdirAll(dir, 0o755) == nil {
		_ = os.WriteFile(filepath.Join(dir, name+".png"), data, 0o644)
	}
}

// saved waits until nothing is on its way.
func (b browser) saved() {
	b.t.Helper()
	b.until(`document.getElementById("saved").textContent === "All saved"`)
}

func (b browser) count(id string) int {
	b.t.Helper()
	return eval[int](b, fmt.Sprintf("Number(document.getElementById(%q).textContent)", id))
}

// pageOf opens the page of a hide, H1 in root, with so many candidates to a reviewer.
func pageOf(t *testing.T, flaws int, who string) (b browser, root string, server *httptest.Server) {
	t.Helper()
	root = t.TempDir()
	writeHide(t, root, "H1", flaws)
	_, server = newServer(t, root, nil)
	b = openBrowser(t, 1280, 800)
	b.openHide(server.URL + "/hide/H1")
	b.named(who)
	return b, root, server
}

// openHide waits until the page is ready to be used.
func (b browser) openHide(url string) {
	b.t.Helper()
	b.open(url)
	b.until(`document.documentElement.dataset.ready && document.getElementById("cut").textContent !== "–" && document.querySelector("#list [aria-current]")`)
}

// named gives the reviewer's name by hand.
func (b browser) named(who string) {
	b.t.Helper()
	b.click("#who")
	b.until(`document.activeElement.id === "who-name"`)
	b.do(chromedp.KeyEvent(who))
	b.click(`[data-answer="ok"]`)
	b.until(fmt.Sprintf(`document.getElementById("who").textContent === %q`, who))
}

// awaited waits for a promise.
func awaited(p *runtime.EvaluateParams) *runtime.EvaluateParams { return p.WithAwaitPromise(true) }
