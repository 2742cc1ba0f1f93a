package main

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/calibrate"
)

func TestParseKnown(t *testing.T) {
	for text, want := range map[string]calibrate.KnownLength{
		"3-12=2874.5±0.5":   {A: 3, B: 12, Length: 2874.5, U: 0.5},
		"3-12=2874.5+-0.25": {A: 3, B: 12, Length: 2874.5, U: 0.25},
		"\t0-1=900\t":       {A: 0, B: 1, Length: 900, U: knownU},
	} {
		got, err := parseKnown(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "3=5", "3-12", "a-b=5", "3-12=x", "3-12=5±x"} {
		_, err := parseKnown(text)
		require.Error(t, err, text)
		require.Equal(t, statusUsage, statusOf(usageError{err}), text)
	}
}

// A missing edge, bad words and photographs that are none end with the right
// status.
func TestRigSurveyBadInput(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, "a.jpg", "no picture")
	for _, c := range []struct {
		args   []string
		status int
	}{
		{[]string{"rig", "survey", dir + "/a.jpg", dir + "/a.jpg"}, statusUsage},
		{[]string{"rig", "survey", dir + "/a.jpg"}, statusUsage},
		{[]string{"rig", "survey", "--edge-mm", "100", "--at", "5", dir + "/a.jpg", dir + "/a.jpg"}, statusUsage},
		{[]string{"rig", "survey", "--edge-mm", "100", dir + "/a.jpg", dir + "/a.jpg"}, statusBadInput},
		{[]string{"rig", "log", dir + "/none.json"}, statusBadInput},
		{[]string{"rig", "log", "--false-every", "1", dir}, statusUsage},
	} {
		require.Equal(t, c.status, hidechart(c.args...).status, c.args)
	}
}
