package main

import (
	"encoding/gob"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"hidechart/detect"
	"hidechart/export"
	"hidechart/hide"
	"hidechart/pipeline"
	"hidechart/score"
)

// newTrain is hidden: it is for developers, called by `make train`.
func newTrain() *cobra.Command {
	var out string
	var reuse bool
	var without []string
	c := &cobra.Command{
		Use:    "train CAPTURE...",
		Short:  "Fit the sorting model to captures whose truth is known",
		Hidden: true,
		Args:   cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			var all []detect.Hide
			for _, dir := range args {
				s, err := keptSamples(cmd, dir, reuse)
				if hide.KindOf(err) == hide.NotMeasurable { // drawn as people photograph, some are refused
					slog.Warn("left out", "capture", dir, "why", err)
					continue
				}
				if err != nil {
					return err
				}
				all = append(all, s)
			}
			all = slices.DeleteFunc(all, func(h detect.Hide) bool { return slices.Contains(without, h.Article) })
			data, report, err := detect.Train(all)
			if err != nil {
				return err
			}
			if err := json.NewEncoder(cmd.OutOrStdout()).Encode(report); err != nil {
				return err
			}
			return export.WriteFile(out, func(w io.Writer) error {
				_, err := w.Write(data)
				return err
			})
		},
	}
	c.Flags().StringVar(&out, "out", "detect/sorting.model", "the model file to write")
	c.Flags().StringSliceVar(&without, "without", nil, "articles not to learn from")
	c.Flags().BoolVar(&reuse, "reuse", false, "take the samples kept beside the truth by an earlier run, where there are any")
	return c
}

// ownShare of a candidate must lie on flaws for it to be learned as one.
const ownShare = 0.35

// samplesFile keeps a capture's samples beside its truth: charting costs far
// more than fitting. The gob format holds missing features, which JSON cannot.
const samplesFile = "samples.gob"

func keptSamples(cmd *cobra.Command, dir string, reuse bool) (detect.Hide, error) {
	path := filepath.Join(dir, samplesFile)
	if f, err := os.Open(path); reuse && err == nil {
		defer func() { _ = f.Close() }() // read only
		var kept detect.Hide
		return kept, gob.NewDecoder(f).Decode(&kept)
	}
	found, err := samples(cmd, dir)
	if err != nil {
		return found, err
	}
	return found, export.WriteFile(path, func(w io.Writer) error { return gob.NewEncoder(w).Encode(found) })
}

func samples(cmd *cobra.Command, dir string) (detect.Hide, error) {
	var out detect.Hide
	truth, err := score.ReadTruth(filepath.Join(dir, "truth.json"))
	if err != nil {
		return out, err
	}
	study, err := pipeline.StudyCapture(cmd.Context(), pipeline.Job{Dir: dir}, pipeline.DefaultParams())
	if err != nil {
		return out, err
	}
	chart := hide.Chart{Outline: study.Outline}
	for i, c := range study.Candidates {
		chart.Defects = append(chart.Defects, hide.Defect{ID: i + 1, Kind: hide.Scar, Status: hide.Candidate, Probability: 1, Geometry: c.Shape})
	}
	result, err := score.Compare(chart, truth)
	if err != nil {
		return out, err
	}
	out.Article, out.SquareMetres = truth.Article, study.Outline.Area().DM2()/100
	for i, c := range result.Candidates {
		kind := c.Of
		if c.On < ownShare {
			kind = "" // it covers a flaw by being large
		}
		s := study.Candidates[i]
		out.Samples = append(out.Samples, detect.Sample{Features: single(s.Features), Near: s.Near, Kind: kind, Real: c.Real})
	}
	fmt.Fprintf(os.Stderr, "%s: %d candidates, %d of %d flaws stand out, %d harmless\n",
		filepath.Base(dir), len(out.Samples), result.Found, result.TruthDefects, result.FalseCandidates)
	return out, nil
}

// single are features to single precision, which is far finer than the trees' bins, and half of the file.
func single(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = float64(float32(v))
	}
	return out
}
