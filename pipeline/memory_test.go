package pipeline

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func put(t *testing.T, root string, files map[string]string) {
	t.Helper()
	for name, text := range files {
		path := filepath.Join(root, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	}
}

// Version 2 of control groups: the tightest of this group and those above it
// counts, less what is used, file cache not counted.
func TestCgroupTwo(t *testing.T) {
	root := t.TempDir()
	put(t, root, map[string]string{
		"self":                    "0::/jobs/one\n",
		"fs/memory.max":           "max\n",
		"fs/jobs/memory.max":      "4000\n",
		"fs/jobs/memory.current":  "1500\n",
		"fs/jobs/memory.stat":     "anon 3\ninactive_file 500\n",
		"fs/jobs/one/memory.max":  "max\n",
		"fs/jobs/one/memory.stat": "inactive_file 1\n",
	})
	require.Equal(t, int64(3000), cgroupFree(filepath.Join(root, "fs"), filepath.Join(root, "self")))
}

func TestCgroupOne(t *testing.T) {
	root := t.TempDir()
	put(t, root, map[string]string{
		"self":                                "5:cpu:/\n4:memory:/box\n",
		"fs/memory/memory.limit_in_bytes":     "9223372036854771712\n", // no limit
		"fs/memory/box/memory.limit_in_bytes": "9000\n",
		"fs/memory/box/memory.usage_in_bytes": "4000\n",
		"fs/memory/box/memory.stat":           "total_inactive_file 1000\n",
	})
	require.Equal(t, int64(6000), cgroupFree(filepath.Join(root, "fs"), filepath.Join(root, "self")))
}

func TestNoLimit(t *testing.T) {
	require.Zero(t, cgroupFree(t.TempDir(), filepath.Join(t.TempDir(), "none")))
	require.Zero(t, meminfo(filepath.Join(t.TempDir(), "none")))
	require.Positive(t, meminfo("/proc/meminfo"))
	require.Positive(t, available())
}

func TestPublish(t *testing.T) {
	out := t.TempDir()
	files := func(text string) []file {
		w := func(s string) file { return file{s, textWriter(text)} }
		return []file{w("a.svg"), w("chart.json")}
	}
	require.NoError(t, publish(out, "one", files("1")))
	put(t, out, map[string]string{"one/review.jsonl": "kept"})
	require.NoError(t, publish(out, "one", files("2")))
	for name, want := range map[string]string{"a.svg": "2", "chart.json": "2", "review.jsonl": "kept"} {
		data, err := os.ReadFile(filepath.Join(out, "one", name))
		require.NoError(t, err)
		require.Equal(t, want, string(data))
	}
	// a writer that fails midway leaves what was there
	bad := append(files("3"), file{"last", brokenWriter})
	require.Error(t, publish(out, "one", bad))
	data, err := os.ReadFile(filepath.Join(out, "one", "chart.json"))
	require.NoError(t, err)
	require.Equal(t, "2", string(data))
	require.Error(t, publish(out, "two", bad))
	entries, err := os.ReadDir(out)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	require.Equal(t, "one", strings.Join(names, " "))
}
