package record

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// cluster is a PostgreSQL of our own for the time of the tests: its data in a
// folder that goes away, no network, a socket in that folder.
type cluster struct {
	socket string
	stop   func()
}

var shared struct { // one start for all tests of the package
	once sync.Once
	c    *cluster
	err  error
}

func TestMain(m *testing.M) {
	if helper := os.Getenv("RECORD_TEST_HELPER"); helper != "" {
		os.Exit(runHelper(helper))
	}
	code := m.Run()
	if shared.c != nil {
		shared.c.stop()
	}
	os.Exit(code)
}

// openPostgres opens an empty database; skipped only where PostgreSQL is not installed.
func openPostgres(t *testing.T) *Store {
	t.Helper()
	return openAt(t, postgresURL(t))
}

func postgresURL(t *testing.T) string {
	t.Helper()
	bins, err := filepath.Glob("/usr/lib/postgresql/*/bin")
	require.NoError(t, err)
	if len(bins) == 0 {
		t.Skip("PostgreSQL is not installed (scripts/install.sh test brings it)")
	}
	slices.Sort(bins)
	shared.once.Do(func() { shared.c, shared.err = startCluster(bins[len(bins)-1]) })
	require.NoError(t, shared.err)
	name := fmt.Sprintf("t%d", time.Now().UnixNano())
	admin, err := sql.Open("pgx", shared.c.url("postgres"))
	require.NoError(t, err)
	defer admin.Close()
	_, err = admin.ExecContext(t.Context(), "CREATE DATABASE "+name)
	require.NoError(t, err)
	return shared.c.url(name)
}

func (c *cluster) url(database string) string {
	return fmt.Sprintf("postgres:///%s?host=%s&user=hides", database, c.socket)
}

// startCluster runs the programs as the user postgres when the tests run as root, whom
// PostgreSQL refuses.
func startCluster(bin string) (*cluster, error) {
	dir, err := os.MkdirTemp("", "hidechart-pg")
	if err != nil {
		return nil, err
	}
	var as []string
	if os.Geteuid() == 0 {
		u, err := user.Lookup("postgres")
		if err != nil {
			return nil, err
		}
		uid, _ := strconv.Atoi(u.Uid)
		gid, _ := strconv.Atoi(u.Gid)
		if err := os.Chown(dir, uid, gid); err != nil {
			return nil, err
		}
		as = []string{"setpriv", "--reuid=" + u.Uid, "--regid=" + u.Gid, "--clear-groups"}
	}
	run := func(args ...string) error {
		args = append(slices.Clone(as), args...)
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		cmd := exec.CommandContext(ctx, args[0], args[1:]...)
		cmd.Dir = dir
		cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "LC_ALL=C"}
		log, err := os.Create(filepath.Join(os.TempDir(), filepath.Base(dir)+".log"))
		if err != nil {
			return err
		}
		defer log.Close()
		cmd.Stdout, cmd.Stderr = log, log // a file: the server that stays must not hold a pipe
		if err := cmd.Run(); err != nil {
			text, _ := os.ReadFile(log.Name())
			return fmt.Errorf("%v: %w: %s", args, err, text)
		}
		return os.Remove(log.Name())
	}
	data := filepath.Join(dir, "data")
	if err := run(filepath.Join(bin, "initdb"), "-D", data, "-U", "hides", "-A", "trust", "-E", "UTF8", "--no-sync"); err != nil {
		return nil, err
	}
	if err := run(filepath.Join(bin, "pg_ctl"), "-D", data, "-w", "-l", filepath.Join(dir, "log"), "-o", "-k "+dir+" -c listen_addresses='' -c fsync=off", "start"); err != nil {
		return nil, err
	}
	return &cluster{socket: dir, stop: func() {
		_ = run(filepath.Join(bin, "pg_ctl"), "-D", data, "-m", "immediate", "stop")
		_ = os.RemoveAll(dir)
	}}, nil
}
