package main

import (
	"bytes"
	"encoding/json"
	"image"
	"image/draw"
	"image/png"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

// binary builds the program, for tests that must kill it. The leak gate runs
// short: it cannot count in another process.
func binary(t *testing.T) string {
	t.Helper()
	if testing.Short() {
		t.Skip("not in short mode: runs in another process")
	}
	path := filepath.Join(t.TempDir(), "hidechart")
	out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput()
	require.NoError(t, err, string(out))
	return path
}

// lot makes n captures of the same photographs under ids of their own, to be
// charted quickly on coarse rasters: these tests are about files, not measuring.
func lot(t *testing.T, n int) []string {
	t.Helper()
	t.Setenv("HIDECHART_COARSE_MM_PER_PX", "4")
	t.Setenv("HIDECHART_MM_PER_PX", "2.5")
	t.Setenv("HIDECHART_DETECT_WORK_PIXEL", "2")
	good := render(t, filepath.Join(t.TempDir(), "good"), 9, hide.Top)
	var dirs []string
	for i := range n {
		dir := copyOf(t, good, "top.jpg")
		write(t, dir, "capture.yaml", "id: hide-"+string(rune('a'+i))+"\n")
		dirs = append(dirs, dir)
	}
	return dirs
}

type batchLine struct {
	Capture, State, Chart, Error string
	Kind                         string `json:"error_kind"`
}

func results(t *testing.T, text string) []batchLine {
	t.Helper()
	var out []batchLine
	require.NoError(t, json.Unmarshal([]byte(text), &out), text)
	return out
}

// running is a batch in another process.
type running struct {
	cmd    *exec.Cmd
	stdout bytes.Buffer
	ended  chan error
}

// start begins a batch and waits for its first chart.
func start(t *testing.T, program, out string, dirs []string) *running {
	t.Helper()
	r := &running{cmd: exec.Command(program, append([]string{"chart", "--out", out, "--at-once", "1", "--json"}, dirs...)...),
		ended: make(chan error, 1)}
	r.cmd.Stdout, r.cmd.Stderr = &r.stdout, os.Stderr
	require.NoError(t, r.cmd.Start())
	go func() { r.ended <- r.cmd.Wait() }()
	for {
		select {
		case err := <-r.ended:
			require.FailNow(t, "the program ended without a chart", "%v", err)
		case <-time.After(5 * time.Millisecond):
		}
		if _, err := os.Stat(filepath.Join(out, "hide-a", "chart.json")); err == nil {
			return r
		}
	}
}

// stop sends a signal and waits for the end.
func (r *running) stop(t *testing.T, s os.Signal) {
	t.Helper()
	require.NoError(t, r.cmd.Process.Signal(s))
	require.Error(t, <-r.ended)
}

// Killed in the middle of a batch: what is there is whole, and the second run
// makes the rest without making the first again.
func TestKilledBatchIsTakenUp(t *testing.T) {
	program, dirs, out := binary(t), lot(t, 3), t.TempDir()
	r := start(t, program, out, dirs)
	time.Sleep(300 * time.Millisecond) // into the second capture
	r.stop(t, syscall.SIGKILL)
	requireWholeUnderFinalNames(t, out)
	before, err := os.Stat(filepath.Join(out, "hide-a", "chart.json"))
	require.NoError(t, err)
	// what a kill while writing would leave beside
	require.NoError(t, os.MkdirAll(filepath.Join(out, ".hide-b.part"), 0o755))
	write(t, filepath.Join(out, ".hide-b.part"), "chart.json", `{"format": "hidech`)

	o := hidechart(append([]string{"chart", "--out", out, "--json"}, dirs...)...)
	require.Equal(t, statusDone, o.status, o.err)
	requireOnly(t, out, "hide-a", "hide-b", "hide-c")
	require.Equal(t, "already done", results(t, o.stdout)[0].State)
	after, err := os.Stat(filepath.Join(out, "hide-a", "chart.json"))
	require.NoError(t, err)
	require.Equal(t, before.ModTime(), after.ModTime(), "not made again")
}

// requireWholeUnderFinalNames looks at every file but those of hidden names.
func requireWholeUnderFinalNames(t *testing.T, out string) {
	t.Helper()
	entries, err := os.ReadDir(out)
	require.NoError(t, err)
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") {
			requireWhole(t, filepath.Join(out, e.Name()))
		}
	}
}

// Ctrl-C: a clean stop leaves no trace of the capture under way, the list says
// what was not reached, and the next run completes.
func TestInterruptedBatchIsTakenUp(t *testing.T) {
	program, dirs, out := binary(t), lot(t, 3), t.TempDir()
	r := start(t, program, out, dirs)
	r.stop(t, os.Interrupt)
	require.Equal(t, statusOther, r.cmd.ProcessState.ExitCode())
	told := results(t, r.stdout.String())
	require.Equal(t, "charted", told[0].State)
	require.Equal(t, "stopped", told[2].State)
	require.Contains(t, told[2].Error, "run again")
	requireOnly(t, out, "hide-a")
	o := hidechart(append([]string{"chart", "--out", out, "--json"}, dirs...)...)
	require.Equal(t, statusDone, o.status, o.err)
	requireOnly(t, out, "hide-a", "hide-b", "hide-c")
}

// A full disk: the captures that do not fit fail with what to do, those that
// did fit are whole, nothing is left half-written.
func TestFullDisk(t *testing.T) {
	dirs, out := lot(t, 2), t.TempDir()
	room := t.TempDir()
	o := hidechart("chart", "--out", room, dirs[0])
	require.Equal(t, statusDone, o.status, o.err)
	if err := syscall.Mount("tmpfs", out, "tmpfs", 0, "size="+kilobytes(t, room)); err != nil {
		t.Skipf("NOT TESTED: a full disk needs a small tmpfs, and mounting is not permitted here (%v); run as root", err)
	}
	t.Cleanup(func() { require.NoError(t, syscall.Unmount(out, 0)) })
	o = hidechart(append([]string{"chart", "--out", out, "--at-once", "1"}, dirs...)...)
	require.Equal(t, statusOther, o.status, o.err)
	require.Regexp(t, `disk is full.*make room and run again`, o.reason(t, dirs[1]))
	requireOnly(t, out, "hide-a")
}

// kilobytes is room for the folder's files once and half again.
func kilobytes(t *testing.T, dir string) string {
	t.Helper()
	var n int64
	require.NoError(t, filepath.WalkDir(dir, func(_ string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		n += info.Size()
		return err
	}))
	size, err := json.Marshal(n * 3 / 2 / 1024)
	require.NoError(t, err)
	return string(size) + "k"
}

func TestSameIDFailsBoth(t *testing.T) {
	dirs := lot(t, 2)
	write(t, dirs[0], "capture.yaml", "id: One\n")
	write(t, dirs[1], "capture.yaml", "id: one\n")
	out := t.TempDir()
	o := hidechart("chart", "--out", out, dirs[0], dirs[1])
	require.Equal(t, statusBadInput, o.status)
	for _, d := range dirs {
		require.Regexp(t, `id "(?i)one" is also that of .*its own id`, o.reason(t, d))
	}
	requireOnly(t, out)
}

// What changes a chart makes it again; a review is never left without its ground.
func TestDoneIsRecognised(t *testing.T) {
	dirs, out := lot(t, 1), t.TempDir()
	state := func(args ...string) string {
		o := hidechart(append([]string{"chart", dirs[0], "--out", out, "--json"}, args...)...)
		require.Equal(t, statusDone, o.status, o.err)
		return results(t, o.stdout)[0].State
	}
	require.Equal(t, "charted", state())
	require.Equal(t, "already done", state())
	require.Equal(t, "charted", state("--substance", "2"))
	require.Equal(t, "already done", state("--substance", "2"))
	write(t, dirs[0], "capture.yaml", "id: hide-a\nsubstance: 1.2 mm\n")
	require.Equal(t, "charted", state())
	require.NoError(t, os.Remove(filepath.Join(out, "hide-a", "hide-a.svg")))
	require.Equal(t, "charted", state(), "a lost file")
	appendTo(t, dirs[0], "rig.yaml", "# surveyed again\n")
	require.Equal(t, "charted", state())

	review := filepath.Join(out, "hide-a", "review.jsonl")
	require.NoError(t, os.WriteFile(review, []byte("{}\n"), 0o644))
	require.Equal(t, "already done", state())
	o := hidechart("chart", dirs[0], "--out", out, "--substance", "2")
	require.Equal(t, statusBadInput, o.status)
	require.Regexp(t, `review of an older chart.*--again`, o.reason(t, dirs[0]))
	require.Equal(t, "charted", state("--substance", "2", "--again"))
	require.FileExists(t, review)
}

// Two runs into one folder would take each other's files away.
func TestSecondRunIsRefused(t *testing.T) {
	dirs, out := lot(t, 1), t.TempDir()
	held, err := os.Open(out)
	require.NoError(t, err)
	defer held.Close()
	require.NoError(t, syscall.Flock(int(held.Fd()), syscall.LOCK_EX))
	o := hidechart("chart", dirs[0], "--out", out)
	require.Equal(t, statusBadInput, o.status)
	require.Contains(t, o.err, "another run is writing")
}

func TestStatedFactsReachTheChart(t *testing.T) {
	dirs, out := lot(t, 1), t.TempDir()
	write(t, dirs[0], "capture.yaml", "id: hide/1\nsupplier: A\nstamp: 29¹\nsubstance: 4 oz\n")
	config := filepath.Join(t.TempDir(), "s.yaml")
	require.NoError(t, os.WriteFile(config, []byte("spreading_u: 0.004\ncalibrate: {tag_u_mm: 0.3}\n"), 0o600))
	o := hidechart("chart", dirs[0], "--out", out, "--settings", config)
	require.Equal(t, statusDone, o.status, o.err)
	name := export.SafeName("hide/1")
	requireOnly(t, out, name)
	c, err := export.ReadChart(filepath.Join(out, name, "chart.json"))
	require.NoError(t, err)
	require.Equal(t, "hide/1", c.Capture.ID)
	require.Equal(t, "29¹", c.Capture.Stamp)
	require.InDelta(t, 1.588, float64(c.Capture.Substance[0].MM), 1e-3) // facts.md: 4 oz = 1.588 mm [C]
	requireSpreading(t, c, filepath.Join(out, name), 0.004)
	require.InDelta(t, 0.3, c.MadeBy.Settings["calibrate"].(map[string]any)["tag_u_mm"], 0)
	requireSizesWithU(t, c)
}

// requireSpreading: the share set by hand is the budget's last line, in the file as in the
// table, and part of u (JCGM 100:2008, 5.1.2).
func requireSpreading(t *testing.T, c hide.Chart, dir string, set float64) {
	t.Helper()
	require.InDelta(t, set, c.MadeBy.Settings["spreading_u"], 0)
	require.Len(t, c.Area.Budget, 5)
	var square float64
	for _, b := range c.Area.Budget {
		square += float64(b.U) * float64(b.U)
	}
	line := c.Area.Budget[4]
	require.Equal(t, "spreading", line.Source)
	require.InDelta(t, set*float64(c.Area.Value), float64(line.U), 0.01)
	require.InDelta(t, 100*set, line.InputU, 1e-9)
	require.InDelta(t, math.Sqrt(square), float64(c.Area.U), 0.01)
	table, err := os.ReadFile(filepath.Join(dir, export.SafeName(c.Capture.ID)+".budget.txt"))
	require.NoError(t, err)
	require.Regexp(t, `spreading.*0\.40`, string(table))
}

// requireSizesWithU: every length and area that a chart states has its u.
func requireSizesWithU(t *testing.T, c hide.Chart) {
	t.Helper()
	require.NotEmpty(t, c.Defects)
	require.Greater(t, c.BackboneU, hide.MM(0))
	for _, d := range c.Defects {
		require.Greater(t, d.LengthU, hide.MM(0), d.ID)
		require.Greater(t, d.WidthU, hide.MM(0), d.ID)
		require.Greater(t, d.AreaU, hide.MM2(0), d.ID)
		require.Equal(t, d.EdgeDistance > 0, d.EdgeDistanceU > 0, d.ID)
	}
}

// Grey and 16-bit photographs give charts with all their files as well.
func TestGreyAndSixteenBit(t *testing.T) {
	dirs, out := lot(t, 2), t.TempDir()
	im := photo(t, dirs[0], "top.jpg")
	grey, deep := image.NewGray(im.Bounds()), image.NewRGBA64(im.Bounds())
	draw.Draw(grey, grey.Rect, im, image.Point{}, draw.Src)
	draw.Draw(deep, deep.Rect, im, image.Point{}, draw.Src)
	save(t, grey, dirs[0], "top.jpg")
	require.NoError(t, os.Remove(filepath.Join(dirs[1], "top.jpg")))
	f, err := os.Create(filepath.Join(dirs[1], "top.png"))
	require.NoError(t, err)
	require.NoError(t, png.Encode(f, deep))
	require.NoError(t, f.Close())
	o := hidechart("chart", "--out", out, dirs[0], dirs[1])
	require.Equal(t, statusDone, o.status, o.err)
	requireOnly(t, out, "hide-a", "hide-b")
}
