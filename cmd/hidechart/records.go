package main

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"hidechart/export"
	"hidechart/hide"
	"hidechart/record"
	"hidechart/yield"
)

// recordEnv names the record where no flag does; `chart` reads it as well.
const recordEnv = envPrefix + "_RECORD"

// recordDefault is the record where neither flag nor environment names one.
const recordDefault = "hidechart.db"

// recordFlags are common to all subcommands of `hidechart records`.
type recordFlags struct {
	where string
	json  bool
}

func newRecords() *cobra.Command {
	f := &recordFlags{}
	c := &cobra.Command{
		Use:   "records",
		Short: "Keep charts, and draw up sheets of suppliers, lots and claims",
		Long: `The record keeps every chart that is filed, whole and by its hash, under hide, lot,
supplier and article, and draws up what follows from many of them. It is a file
(SQLite), or a PostgreSQL database by its URL (postgres://…). Described in
docs/record.md.`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.PersistentFlags().StringVar(&f.where, "record", "", "the record: a file or a PostgreSQL URL; default: $"+recordEnv+", then "+recordDefault)
	c.PersistentFlags().BoolVar(&f.json, "json", false, "print the result as JSON")
	c.AddCommand(newRecordsAdd(f), newRecordsCheck(f), newRecordsList(f), newRecordsLot(f), newRecordsHide(f), newRecordsCertificate(f), newRecordsYield(f),
		newRecordsSheet(f), newRecordsClaim(f), newRecordsVerify(f), newRecordsExport(f), newRecordsImport(f), newRecordsBackup(f))
	return c
}

// open opens the record. Only where it may be made it is: a slip in a name would otherwise
// look like an empty record.
func (f *recordFlags) open(ctx context.Context, mayMake bool) (*record.Store, error) {
	return openRecord(ctx, cmp.Or(f.where, os.Getenv(recordEnv), recordDefault), mayMake)
}

func openRecord(ctx context.Context, where string, mayMake bool) (*record.Store, error) {
	if !mayMake && record.IsFile(where) {
		if _, err := os.Stat(where); errors.Is(err, fs.ErrNotExist) {
			return nil, hide.Faultf(hide.NotFound, "record %s: there is none; name it with --record, or file charts with records add first", where)
		}
	}
	return record.Open(ctx, where, readFiled)
}

// readFiled reads a chart and folds its review over it, for the record.
func readFiled(chart, review []byte) (hide.Chart, error) {
	c, err := export.ParseChart(chart)
	if err != nil || len(review) == 0 {
		return c, err
	}
	r, err := export.ParseReview(review)
	if err != nil {
		return c, err
	}
	sum := sha256.Sum256(chart)
	return hide.Fold(c, hex.EncodeToString(sum[:]), r.Decisions, "").Chart, nil
}

// with opens the record, does something and closes it.
func (f *recordFlags) with(c *cobra.Command, mayMake bool, do func(*record.Store) error) error {
	s, err := f.open(c.Context(), mayMake)
	if err != nil {
		return err
	}
	err = do(s)
	return errors.Join(err, s.Close())
}

// filingOf reads a chart's file, or its folder, and the review beside it.
func filingOf(path string, at time.Time) (record.Filing, error) {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		path = filepath.Join(path, export.ChartName)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return record.Filing{}, hide.Wrapf(hide.Unreadable, err, "chart")
	}
	review, err := os.ReadFile(filepath.Join(filepath.Dir(path), export.ReviewName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return record.Filing{}, hide.Wrapf(hide.Unreadable, err, "review")
	}
	return record.Filing{Chart: data, Review: review, At: at}, nil
}

// fileAll files charts one by one, so that one bad chart does not stop the others.
func fileAll(c *cobra.Command, s *record.Store, paths []string, at time.Time) ([]record.Receipt, []yieldFailure, []int) {
	receipts := []record.Receipt{}
	var failures []yieldFailure
	var statuses []int
	for _, path := range paths {
		f, err := filingOf(path, at)
		var got []record.Receipt
		if err == nil {
			got, err = s.File(c.Context(), f)
		}
		if err != nil {
			failures, statuses = append(failures, yieldFailure{path, oneLine(err)}), append(statuses, statusOf(err))
			if c.Context().Err() != nil {
				break
			}
			continue
		}
		receipts = append(receipts, got...)
	}
	return receipts, failures, statuses
}

// tellFailures lists what was not filed on standard error.
func tellFailures(c *cobra.Command, failures []yieldFailure, statuses []int) error {
	if failures == nil {
		return nil
	}
	lines := "not filed:\n"
	for _, x := range failures {
		lines += "  " + x.Chart + ": " + x.Error + "\n"
	}
	if _, err := fmt.Fprint(c.ErrOrStderr(), lines); err != nil {
		return hide.Wrapf(hide.Internal, err, "print the failures")
	}
	return toldError{worst(statuses)}
}

func newRecordsAdd(f *recordFlags) *cobra.Command {
	var date string
	c := &cobra.Command{
		Use:     "add CHART…",
		Short:   "File charts with their reviews; filing twice changes nothing",
		Example: "  hidechart records add charts/*/ --record season.db",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			at := time.Now()
			if date != "" {
				var err error
				if at, err = time.Parse(time.DateOnly, date); err != nil {
					return usagef("--date %q: want a day as 2026-03-31", date)
				}
			}
			return f.with(c, true, func(s *record.Store) error {
				receipts, failures, statuses := fileAll(c, s, args, at)
				if err := f.tell(c, receipts, func(say func(string, ...any)) { sayReceipts(say, receipts) }); err != nil {
					return err
				}
				return tellFailures(c, failures, statuses)
			})
		},
	}
	c.Flags().StringVar(&date, "date", "", "day on which the hides came in; default: today")
	return c
}

func sayReceipts(say func(string, ...any), receipts []record.Receipt) {
	n := map[record.State]int{}
	for _, r := range receipts {
		n[r.State]++
		if len(receipts) <= 40 { // a screen
			say("%-10s %s, lot %s\n", r.State, oneLineText(r.Hide), oneLineText(r.Lot))
		}
	}
	say("%d filed, %d charted again, %d reviewed, %d known already\n", n[record.Filed], n[record.Recharted], n[record.Reviewed], n[record.Known])
}

// tell prints a result as JSON or in words.
func (f *recordFlags) tell(c *cobra.Command, result any, words func(say func(string, ...any))) error {
	if f.json {
		return writeJSON(c.OutOrStdout(), result)
	}
	var failed error
	words(func(format string, args ...any) {
		if _, err := fmt.Fprintf(c.OutOrStdout(), format, args...); err != nil && failed == nil {
			failed = hide.Wrapf(hide.Internal, err, "print the result")
		}
	})
	return failed
}

func newRecordsCheck(f *recordFlags) *cobra.Command {
	var mend bool
	c := &cobra.Command{
		Use:   "check",
		Short: "Verify every hash and every link of the record",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return f.with(c, false, func(s *record.Store) error {
				if mend {
					if err := s.Mend(c.Context()); err != nil {
						return err
					}
				}
				r, err := s.Check(c.Context())
				if err != nil {
					return err
				}
				if err := f.tell(c, r, func(say func(string, ...any)) {
					for _, x := range r.Findings {
						say("%s: %s\n", x.What, x.Text)
					}
					say("%d hides, %d charts, %d reviews: %d findings\n", r.Hides, r.Charts, r.Reviews, len(r.Findings))
				}); err != nil {
					return err
				}
				if len(r.Findings) > 0 {
					return toldError{statusBadInput}
				}
				return nil
			})
		},
	}
	c.Flags().BoolVar(&mend, "mend-sums", false, "count the sums anew first")
	return c
}

// yieldOf is a chart's yield under a look.
func yieldOf(s *record.Store, c *cobra.Command, sum string, look yield.Look) (record.Yield, error) {
	data, review, err := s.ChartOf(c.Context(), sum)
	if err != nil {
		return record.Yield{}, err
	}
	chart, err := readFiled(data, review)
	if err != nil {
		return record.Yield{}, err
	}
	cut, err := yield.Cuttable(chart, look, yield.DefaultParams())
	if err != nil {
		return record.Yield{}, hide.Wrapf(hide.KindOf(err), err, "hide %s", chart.Capture.ID)
	}
	return record.Yield{Share: cut.CuttableShare.Median, P10: cut.CuttableShare.P10, P90: cut.CuttableShare.P90}, nil
}

// lookKey names a look for the record: by its content, so that a look changed is
// another.
func lookKey(look yield.Look) (record.Look, error) {
	data, err := json.Marshal(look)
	if err != nil {
		return record.Look{}, hide.Wrapf(hide.Internal, err, "look")
	}
	sum := sha256.Sum256(data)
	return record.Look{Name: look.Name, SHA256: hex.EncodeToString(sum[:])}, nil
}

// yieldBatch is how many yields are kept at a time: a run that is stopped loses no more.
const yieldBatch = 50

// fillYields works out what is missing in scope.
func fillYields(c *cobra.Command, s *record.Store, sc hide.SheetScope, name string) error {
	look, err := yield.FindLook(name)
	if err != nil {
		return err
	}
	key, err := lookKey(look)
	if err != nil {
		return err
	}
	for {
		sums, err := s.Unyielded(c.Context(), sc, key, yieldBatch)
		if err != nil || len(sums) == 0 {
			return err
		}
		batch := map[string]record.Yield{}
		for _, sum := range sums {
			if batch[sum], err = yieldOf(s, c, sum, look); err != nil {
				return err
			}
		}
		if err := s.PutYields(c.Context(), key, batch); err != nil {
			return err
		}
	}
}

func newRecordsYield(f *recordFlags) *cobra.Command {
	var looks []string
	var sc hide.SheetScope
	c := &cobra.Command{
		Use:   "yield --look NAME,…",
		Short: "Work out the yield of hides under looks and keep it for the sheets",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return f.with(c, false, func(s *record.Store) error {
				for _, l := range looks {
					if err := fillYields(c, s, sc, l); err != nil {
						return err
					}
				}
				return nil
			})
		},
	}
	scopeFlags(c, &sc)
	c.Flags().StringSliceVar(&looks, "look", []string{"classic"}, "looks: names or files, separated by commas")
	return c
}

func scopeFlags(c *cobra.Command, sc *hide.SheetScope) {
	c.Flags().StringVar(&sc.Supplier, "supplier", "", "hides of this supplier")
	c.Flags().StringVar(&sc.Lot, "lot", "", "hides of this lot")
	c.Flags().StringVar(&sc.Article, "article", "", "hides of this article")
	c.Flags().StringVar(&sc.Month, "month", "", "hides first filed in this month, 2026-03")
}
