package review

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hidechart/export"
	"hidechart/hide"
)

func confirmed(c hide.Chart, id int, key string) hide.Decision {
	b := c.Defects[id-1]
	a := b
	a.Status = hide.Confirmed
	return hide.Decision{Key: key, At: at(), Who: "Ann", Chart: strings.Repeat("0", 64), Act: hide.ActConfirm, Seen: []int{0}, Before: []hide.Defect{b}, After: []hide.Defect{a}}
}

// A program killed in the middle of writing (SIGKILL) loses no decision that it
// said was saved, and leaves a record that opens.
func TestKilledWhileWriting(t *testing.T) {
	if dir := os.Getenv("HIDECHART_WRITER"); dir != "" {
		c := inventedChart("H", 6)
		r, err := openRecord(dir, at())
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		for i := 0; ; i++ {
			d, err := r.append(confirmed(c, i%6+1, fmt.Sprintf("decision-%d", i)))
			if err != nil {
				os.Exit(1)
			}
			_, _ = fmt.Fprintln(os.Stdout, d.Seq) // said to be saved
		}
	}
	dir := t.TempDir()
	told := 0
	for range 3 {
		cmd := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestKilledWhileWriting$")
		cmd.Env = append(os.Environ(), "HIDECHART_WRITER="+dir)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		lines := json.NewDecoder(out)
		for range 60 {
			require.NoError(t, lines.Decode(&told))
		}
		require.NoError(t, cmd.Process.Signal(syscall.SIGKILL))
		for lines.Decode(&told) == nil { // what was still in the pipe had been said, too
		}
		_ = cmd.Wait()
		r, err := openRecord(dir, at())
		require.NoError(t, err)
		assert.GreaterOrEqual(t, len(r.decisions), told)
		for i, d := range r.decisions {
			require.Equal(t, i+1, d.Seq)
		}
		require.NoError(t, r.close())
	}
	assert.GreaterOrEqual(t, told, 180)
}

// A last line cut off at any byte is set aside whole and reported; all before it stand.
func TestDamagedLastLine(t *testing.T) {
	c := inventedChart("H", 6)
	dir := t.TempDir()
	r, err := openRecord(dir, at())
	require.NoError(t, err)
	for i := range 3 {
		_, err := r.append(confirmed(c, i+1, fmt.Sprintf("decision-%d", i)))
		require.NoError(t, err)
	}
	require.NoError(t, r.close())
	path := filepath.Join(dir, export.ReviewName)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := strings.SplitAfter(string(whole), "\n")
	last := len(lines[0]) + len(lines[1])
	for cut := last + 1; cut < len(whole); cut += 97 {
		require.NoError(t, os.WriteFile(path, whole[:cut], 0o644))
		r, err := openRecord(dir, at().Add(time.Duration(cut)))
		require.NoError(t, err)
		assert.Len(t, r.decisions, 2)
		require.NotEmpty(t, r.setAside)
		aside, err := os.ReadFile(filepath.Join(dir, r.setAside))
		require.NoError(t, err)
		assert.Equal(t, whole[last:cut], aside)
		d, err := r.append(confirmed(c, 5, "after-the-damage"))
		require.NoError(t, err)
		assert.Equal(t, 3, d.Seq)
		require.NoError(t, r.close())
		again, err := export.ReadReview(path)
		require.NoError(t, err)
		assert.Len(t, again.Decisions, 3)
		assert.Empty(t, again.Damaged)
	}
	// damage elsewhere is not a crash's: nothing is touched
	broken := "x" + string(whole)
	require.NoError(t, os.WriteFile(path, []byte(broken), 0o644))
	_, err = openRecord(dir, at())
	require.ErrorIs(t, err, hide.Unreadable)
	left, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, broken, string(left))
}

// The page tells of it, and later steps are flagged until it is set aside.
func TestDamageIsReported(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 6)
	_, h := newServer(t, root, nil)
	newPerson(t, h, "H1", "Ann", "").does(ask{Act: hide.ActReject}, 1)
	h.Close()
	root2 := t.TempDir()
	require.NoError(t, os.CopyFS(root2, os.DirFS(root)))
	path := filepath.Join(root2, "H1", export.ReviewName)
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteString(`{"format":"hidechart rev`)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	folded, err := export.ReadReviewed(filepath.Join(root2, "H1"))
	require.NoError(t, err)
	assert.Equal(t, "review_damaged", folded.Flags[len(folded.Flags)-1].Code)
	assert.Equal(t, hide.Rejected, folded.Defects[0].Status)
	_, h2 := newServer(t, root2, nil)
	s := newPerson(t, h2, "H1", "Ann", "").state()
	assert.Contains(t, s.SetAside, "review.jsonl.damaged-")
	assert.Equal(t, hide.Rejected, s.find(1).Status)
}

// A full disk: the decision is refused in words, nothing half-written stays,
// and the same request is taken once there is room.
func TestFullDisk(t *testing.T) {
	root := t.TempDir()
	small := filepath.Join(root, "small")
	require.NoError(t, os.Mkdir(small, 0o755))
	if err := syscall.Mount("none", small, "tmpfs", 0, "size=512k"); err != nil {
		t.Skip("a small disk needs root: ", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(small, syscall.MNT_DETACH) })
	writeHide(t, small, "H1", 6)
	s, h := newServer(t, small, nil)
	ann := newPerson(t, h, "H1", "Ann", "")
	ann.does(ask{Act: hide.ActReject}, 1)
	fill := filepath.Join(small, "fill")
	_ = os.WriteFile(fill, make([]byte, 1<<20), 0o644) // as much as there is room for
	var refused decided
	status := 200
	for i := 0; status == 200; i++ { // the last block of the record has some room
		refused, status = ann.ask(ask{Act: hide.ActNote, Text: strings.Repeat("long ", 300), Key: fmt.Sprintf("full-disk-%d", i)})
	}
	require.Equal(t, http.StatusInternalServerError, status)
	assert.Zero(t, refused.Decision.Seq)
	before := ann.state().Progress.Decided
	have, err := export.ReadReview(filepath.Join(small, "H1", export.ReviewName))
	require.NoError(t, err)
	assert.Empty(t, have.Damaged, "nothing half-written")
	assert.Len(t, have.Decisions, before)
	require.NoError(t, os.Remove(fill))
	_, status = ann.ask(ask{Act: hide.ActReject, Key: "once-there-is-room"}, 2)
	assert.Equal(t, http.StatusOK, status)
	assert.Equal(t, before+1, ann.state().Progress.Decided)
	require.NoError(t, s.shelf.close())
}

func TestOneProgramAtATime(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 6)
	_, h := newServer(t, root, nil)
	newPerson(t, h, "H1", "Ann", "").does(ask{Act: hide.ActReject}, 1)
	_, other := newServer(t, root, nil)
	bob := newPerson(t, other, "H1", "Bob", "")
	s := bob.state()
	assert.Contains(t, s.ReadOnly, "another program")
	assert.Equal(t, hide.Rejected, s.find(1).Status, "it can be read")
	_, status := bob.ask(ask{Act: hide.ActConfirm}, 1)
	assert.Equal(t, http.StatusConflict, status)
}

// A chart made anew leaves the decisions about the old one out, and says so.
func TestAnotherChart(t *testing.T) {
	root := t.TempDir()
	writeHide(t, root, "H1", 6)
	_, h := newServer(t, root, nil)
	ann := newPerson(t, h, "H1", "Ann", "")
	ann.does(ask{Act: hide.ActReject}, 1)
	require.NoError(t, export.WriteChart(filepath.Join(root, "H1", export.ChartName), inventedChart("H1", 7)))
	s := ann.state()
	assert.Equal(t, hide.Candidate, s.find(1).Status)
	assert.Len(t, s.Defects, 7)
	assert.Equal(t, "review_stale", s.Flags[len(s.Flags)-1].Code)
}
