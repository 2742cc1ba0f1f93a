package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hidechart/calibrate"
	"hidechart/export"
	"hidechart/hide"
)

type rigProveFlags struct {
	date string
	out  string
	json bool
}

func newRigProve() *cobra.Command {
	var f rigProveFlags
	cmd := &cobra.Command{
		Use:   "prove PROTOCOL.yaml",
		Short: "Certify a table by templates of known area",
		Long: `Computes an acceptance test from charts of templates of known area and writes
OUT.pdf (a dated certificate) and OUT.json.

The protocol file names the table, the range of areas it is used for, the
templates and which chart is which run. Asked for: templates near both ends of
the range, five runs or more of each in different positions, three sums. A test
with gaps is not certified; each gap is named. Charts are found relative to the
protocol file.

Exit status 0: passed; 1: certified as failed; 3: incomplete.`,
		Example: `  hidechart rig prove proof/protocol.yaml --out proof/certificate

  # protocol.yaml
  place: cutting room, table 1
  by: A. Tester
  range_dm2: [60, 600]
  templates:
    - {name: small, area_dm2: 80.00, u_dm2: 0.02, source: steel square, certificate 17}
    - {name: large, area_dm2: 540.00, u_dm2: 0.20, source: measured twice}
  runs:
    - {template: small, position: near left, chart: small-1/chart.json}
  sums:
    - parts: [{template: small, chart: small-1/chart.json}, {template: large, chart: large-1/chart.json}]`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return runRigProve(cmd, f, args[0]) },
	}
	cmd.Flags().StringVar(&f.date, "date", "", "day of the test, 2006-01-02 (default today)")
	cmd.Flags().StringVar(&f.out, "out", "certificate", "file name without ending: .pdf and .json are added")
	cmd.Flags().BoolVar(&f.json, "json", false, "print the record on standard output too")
	return cmd
}

func runRigProve(cmd *cobra.Command, f rigProveFlags, path string) error {
	day := time.Now()
	if f.date != "" {
		var err error
		if day, err = time.Parse(time.DateOnly, f.date); err != nil {
			return usagef("--date %q: want a day such as 2026-03-31", f.date)
		}
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return hide.Wrapf(hide.Unreadable, err, "protocol")
	}
	protocol, err := calibrate.ParseProtocol(data)
	if err != nil {
		return err
	}
	charts, err := proofCharts(protocol, filepath.Dir(path))
	if err != nil {
		return err
	}
	proof, err := calibrate.Prove(protocol, charts, day)
	if err != nil {
		return err
	}
	return writeProof(cmd, f, proof)
}

func writeProof(cmd *cobra.Command, f rigProveFlags, proof hide.Proof) error {
	stem := strings.TrimSuffix(f.out, ".pdf")
	if err := export.WriteFile(stem+".json", func(w io.Writer) error { return export.WriteProof(w, proof) }); err != nil {
		return err
	}
	if err := export.WriteFile(stem+".pdf", func(w io.Writer) error { return export.WriteCertificate(w, proof) }); err != nil {
		return err
	}
	if f.json {
		if err := export.WriteProof(cmd.OutOrStdout(), proof); err != nil {
			return err
		}
	}
	sayf(cmd, "largest error %+.2f dm² (%+.2f %%), %.0f %% of the limit: %s", proof.Worst.Error.DM2(), proof.Worst.Percent, 100*proof.Worst.Share, proof.Worst.What)
	if !proof.Pass {
		sayf(cmd, "FAILED: the table must not be used where the limit counts")
		return toldError{statusOther}
	}
	sayf(cmd, "passed; due again %s", proof.Due)
	return nil
}

// proofCharts reads the charts that the protocol names. A file that is not
// there is a gap of the test, for Prove to name with the others; one that is no
// chart is an error.
func proofCharts(p calibrate.Protocol, dir string) (map[string]calibrate.ProofChart, error) {
	charts := map[string]calibrate.ProofChart{}
	for _, name := range p.Charts() {
		path := name
		if !filepath.IsAbs(path) {
			path = filepath.Join(dir, path)
		}
		data, err := os.ReadFile(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, hide.Wrapf(hide.Unreadable, err, "chart %s", name)
		}
		chart, err := export.ParseChart(data)
		if err != nil {
			return nil, hide.Wrapf(hide.Invalid, err, "chart %s", name)
		}
		sum := sha256.Sum256(data)
		charts[name] = calibrate.ProofChart{SHA256: hex.EncodeToString(sum[:]), Chart: chart}
	}
	return charts, nil
}
