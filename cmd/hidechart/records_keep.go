package main

import (
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hidechart/hide"
	"hidechart/record"
)

// oneLineText is a name on one line of a table.
func oneLineText(s string) string { return strings.Join(strings.Fields(s), " ") }

func newRecordsList(f *recordFlags) *cobra.Command {
	var filter record.Filter
	var kind string
	c := &cobra.Command{
		Use:       "list hides|lots|suppliers",
		Short:     "List hides, lots or suppliers",
		Args:      cobra.MatchAll(cobra.ExactArgs(1), cobra.OnlyValidArgs),
		ValidArgs: []string{"hides", "lots", "suppliers"},
		RunE: func(c *cobra.Command, args []string) error {
			if filter.Kind = hide.Kind(kind); kind != "" && !filter.Kind.Valid() {
				return usagef("--kind %q: no such kind", kind)
			}
			return f.with(c, false, func(s *record.Store) error { return f.list(c, s, args[0], filter) })
		},
	}
	scopeFlags(c, &filter.SheetScope)
	c.Flags().StringVar(&filter.Search, "search", "", "part of a name")
	c.Flags().StringVar(&kind, "kind", "", "hides with a flaw of this kind")
	c.Flags().IntVar(&filter.Limit, "limit", 0, "hides at most; 0: all")
	return c
}

func (f *recordFlags) list(c *cobra.Command, s *record.Store, what string, filter record.Filter) error {
	switch what {
	case "hides":
		list, err := s.Hides(c.Context(), filter)
		if err != nil {
			return err
		}
		return f.tell(c, list, func(say func(string, ...any)) {
			for _, h := range list {
				say("%-24s %-16s %-32s %8.2f dm² ± %.2f  stamp %-8s %3d flaws\n", oneLineText(h.Hide), oneLineText(h.Lot), oneLineText(h.Supplier), h.Area.DM2(), 2*h.U.DM2(), oneLineText(h.Stamp), h.Flaws)
			}
		})
	case "lots":
		list, err := s.Lots(c.Context(), filter)
		if err != nil {
			return err
		}
		return f.tell(c, list, func(say func(string, ...any)) {
			for _, l := range list {
				say("%-16s %-36s %s %5d hides %9.2f m² %6d flaws\n", oneLineText(l.Lot), oneLineText(l.Supplier), l.First[:10], l.Hides, l.AreaM2, l.Flaws)
			}
		})
	}
	list, err := s.Suppliers(c.Context(), filter)
	if err != nil {
		return err
	}
	return f.tell(c, list, func(say func(string, ...any)) {
		for _, p := range list {
			say("%-40s %4d lots %6d hides %10.2f m² %8d flaws\n", oneLineText(p.Supplier), p.Lots, p.Hides, p.AreaM2, p.Flaws)
		}
	})
}

func newRecordsLot(f *recordFlags) *cobra.Command {
	var supplier, per string
	var price float64
	var currency, rule, grade, note string
	c := &cobra.Command{
		Use:     "lot LOT",
		Short:   "Note the price and the grade that were agreed on for a lot",
		Example: "  hidechart records lot MH-2601 --price 62.50 --per m2 --currency EUR --grade II --rule iso-17551",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			var terms record.Terms
			given := c.Flags().Changed
			if given("price") {
				switch per {
				case "m2":
				case "ft2":
					price /= hide.FromFeet2(1).M2()
				default:
					return usagef("--per %q: want m2 or ft2", per)
				}
				terms.PricePerM2 = &price
			}
			for name, at := range map[string]struct {
				from *string
				to   **string
			}{"currency": {&currency, &terms.Currency}, "rule": {&rule, &terms.PromisedRule}, "grade": {&grade, &terms.PromisedGrade}, "note": {&note, &terms.Note}} {
				if given(name) {
					*at.to = at.from
				}
			}
			return f.with(c, false, func(s *record.Store) error {
				lot, err := s.FindLot(c.Context(), supplier, args[0])
				if err != nil {
					return err
				}
				return s.SetTerms(c.Context(), lot.Supplier, lot.Lot, terms)
			})
		},
	}
	c.Flags().StringVar(&supplier, "supplier", "", "whose lot, where two suppliers use one name")
	c.Flags().Float64Var(&price, "price", 0, "price by area")
	c.Flags().StringVar(&per, "per", "m2", "what the price is for: m2 or ft2")
	c.Flags().StringVar(&currency, "currency", "", "of the price")
	c.Flags().StringVar(&grade, "grade", "", "grade that was promised")
	c.Flags().StringVar(&rule, "rule", "", "rule of that grade")
	c.Flags().StringVar(&note, "note", "", "anything else")
	return c
}

func newRecordsHide(f *recordFlags) *cobra.Command {
	var supplier, lot, whole string
	var cut map[string]int
	c := &cobra.Command{
		Use:     "hide HIDE --lot LOT",
		Short:   "Note what was cut from a hide, or of which hide it is a side",
		Example: "  hidechart records hide MH-2601-01 --lot MH-2601 --cut front=4,back=4",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if lot == "" {
				return usagef("say of which lot: --lot LOT")
			}
			return f.with(c, false, func(s *record.Store) error {
				l, err := s.FindLot(c.Context(), supplier, lot)
				if err != nil {
					return err
				}
				if whole != "" {
					if err := s.SetWhole(c.Context(), l.Supplier, l.Lot, args[0], whole); err != nil {
						return err
					}
				}
				for piece, n := range cut {
					if err := s.AddCut(c.Context(), l.Supplier, l.Lot, args[0], piece, n, time.Now()); err != nil {
						return err
					}
				}
				return nil
			})
		},
	}
	c.Flags().StringVar(&supplier, "supplier", "", "whose lot, where two suppliers use one name")
	c.Flags().StringVar(&lot, "lot", "", "of which lot")
	c.Flags().StringVar(&whole, "of", "", "the whole hide that this side was cut from")
	c.Flags().StringToIntVar(&cut, "cut", nil, "pieces cut: name=number, separated by commas")
	return c
}

func newRecordsCertificate(f *recordFlags) *cobra.Command {
	return &cobra.Command{
		Use:   "certificate PROOF.json…",
		Short: "Keep the acceptance test of a rig, for the claims",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return f.with(c, true, func(s *record.Store) error {
				for _, path := range args {
					data, err := os.ReadFile(path)
					if err != nil {
						return hide.Wrapf(hide.Unreadable, err, "certificate")
					}
					if _, err := s.AddCertificate(c.Context(), data); err != nil {
						return err
					}
				}
				return nil
			})
		},
	}
}

func newRecordsExport(f *recordFlags) *cobra.Command {
	return &cobra.Command{
		Use:   "export DIR",
		Short: "Write the whole record as open files",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return f.with(c, false, func(s *record.Store) error { return s.Export(c.Context(), args[0]) })
		},
	}
}

func newRecordsImport(f *recordFlags) *cobra.Command {
	return &cobra.Command{
		Use:   "import DIR",
		Short: "File what records export wrote",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return f.with(c, true, func(s *record.Store) error { return s.Import(c.Context(), args[0]) })
		},
	}
}

func newRecordsBackup(f *recordFlags) *cobra.Command {
	return &cobra.Command{
		Use:   "backup FILE",
		Short: "Copy the record while it is in use",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return f.with(c, false, func(s *record.Store) error { return s.Backup(c.Context(), args[0]) })
		},
	}
}
