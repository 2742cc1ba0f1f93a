package record

import (
	"cmp"
	"context"
	"database/sql"
	"maps"
	"slices"

	"hidechart/hide"
	"hidechart/record/stats"
)

// cm2PerM2 turns the sums' cm² into m².
const cm2PerM2 = 1e4

// kindSum is a row of kind_sums, of one lot.
type kindSum struct {
	supplier, lot  string
	price          float64
	currency       string
	kind           hide.Kind
	zone           hide.Zone
	hides          int
	n, n2, na, mm2 float64
}

// exposure is a row of zone_sums, of one lot.
type exposure struct {
	supplier, lot string
	zone          hide.Zone
	hides         int
	a, a2         float64
}

// kindSums reads the sums in scope: by lot for whole hides, or by zone for all lots
// together, which a sheet of a thousand lots does not have to read apart.
func (s *Store) kindSums(ctx context.Context, sc hide.SheetScope, byLot bool) ([]kindSum, []exposure, error) {
	where, args := scope(sc, "x.month")
	lot, group := "'', '', 0.0, ''", ""
	if byLot {
		where += " AND x.zone = '*'"
		lot, group = "s.name, l.name, l.price, l.currency", "s.name, l.id, l.name, l.price, l.currency, "
	}
	var kinds []kindSum
	err := s.each(ctx, func(r *sql.Rows) error {
		var k kindSum
		if err := r.Scan(&k.supplier, &k.lot, &k.price, &k.currency, &k.kind, &k.zone, &k.hides, &k.n, &k.n2, &k.na, &k.mm2); err != nil {
			return err
		}
		kinds = append(kinds, k)
		return nil
	}, "SELECT "+lot+", x.kind, x.zone, SUM(x.hides), SUM(x.n), SUM(x.n_sq), SUM(x.n_cm2), SUM(x.area_mm2) FROM kind_sums x"+fromSums+where+" GROUP BY "+group+"x.kind, x.zone", args...)
	if err != nil {
		return nil, nil, err
	}
	var zones []exposure
	err = s.each(ctx, func(r *sql.Rows) error {
		var e exposure
		var price float64
		var currency string
		if err := r.Scan(&e.supplier, &e.lot, &price, &currency, &e.zone, &e.hides, &e.a, &e.a2); err != nil {
			return err
		}
		zones = append(zones, e)
		return nil
	}, "SELECT "+lot+", x.zone, SUM(x.hides), SUM(x.cm2), SUM(x.cm2_sq) FROM zone_sums x"+fromSums+where+" GROUP BY "+group+"x.zone", args...)
	slices.SortFunc(kinds, func(a, b kindSum) int { // floats are added up in one order on every database
		return cmp.Or(cmp.Compare(a.supplier, b.supplier), cmp.Compare(a.lot, b.lot), cmp.Compare(a.kind, b.kind), cmp.Compare(a.zone, b.zone))
	})
	slices.SortFunc(zones, func(a, b exposure) int {
		return cmp.Or(cmp.Compare(a.supplier, b.supplier), cmp.Compare(a.lot, b.lot), cmp.Compare(a.zone, b.zone))
	})
	return kinds, zones, err
}

// sheetRates fills rates, losses and the control chart.
func (s *Store) sheetRates(ctx context.Context, out *hide.Sheet) error {
	kinds, zones, err := s.kindSums(ctx, out.Scope, false)
	if err != nil {
		return err
	}
	byLot, lots, err := s.kindSums(ctx, out.Scope, true)
	if err != nil {
		return err
	}
	whole := map[hide.Zone]stats.Counts{}
	for _, e := range zones {
		w := whole[e.zone]
		w.Units, w.A, w.A2 = w.Units+e.hides, w.A+e.a/cm2PerM2, w.A2+e.a2/cm2PerM2/cm2PerM2
		whole[e.zone] = w
	}
	out.Rates = rates(kinds, whole)
	out.Losses = losses(byLot, out.AreaM2)
	out.Trend = trend(out.Lots, lots, out.Rates)
	return nil
}

// trend is the control chart over the lots of a sheet.
func trend(lots []hide.SheetLot, zones []exposure, rates []hide.SheetRate) hide.ControlChart {
	type lot struct{ supplier, lot string }
	squares := map[lot]float64{}
	for _, e := range zones {
		if e.zone == all {
			squares[lot{e.supplier, e.lot}] = e.a2 / cm2PerM2 / cm2PerM2
		}
	}
	var points []stats.LotCount
	for _, l := range lots {
		points = append(points, stats.LotCount{Lot: l.Lot, N: float64(l.Flaws), Area: l.AreaM2, A2: squares[lot{l.Supplier, l.Lot}]})
	}
	phi := 0.0
	if len(rates) > 0 {
		phi = rates[0].PerM2.Dispersion
	}
	return stats.UChart(points, phi)
}

// rates has, in the order of kinds and zones: all kinds first, each kind on the whole
// hide, then by zone. Kinds without a flaw stand there too: none found is a finding.
func rates(kinds []kindSum, whole map[hide.Zone]stats.Counts) []hide.SheetRate {
	type key struct {
		kind hide.Kind
		zone hide.Zone
	}
	sums := map[key]stats.Counts{}
	with := map[key]int{}
	for _, k := range kinds {
		at := key{k.kind, k.zone}
		c := sums[at]
		c.N, c.N2, c.NA = c.N+k.n, c.N2+k.n2, c.NA+k.na/cm2PerM2
		sums[at] = c
		with[at] += k.hides
	}
	var out []hide.SheetRate
	for _, kind := range append([]hide.Kind{all}, hide.Kinds()...) {
		for _, zone := range append([]hide.Zone{all}, hide.Zones()...) {
			w := whole[zone]
			if w.Units == 0 {
				continue
			}
			c := sums[key{kind, zone}]
			if zone != all && c.N == 0 {
				continue
			}
			c.Units, c.A, c.A2 = w.Units, w.A, w.A2
			out = append(out, hide.SheetRate{Kind: named(kind), Zone: named(zone), Count: int(c.N), AreaM2: c.A,
				HidesWith: stats.Proportion(with[key{kind, zone}], w.Units), PerM2: stats.Rate(c)})
		}
	}
	return out
}

// named writes "all" as an empty name.
func named[T ~string](v T) T {
	if v == all {
		return ""
	}
	return v
}

// losses are the kinds by the area of their flaws.
func losses(kinds []kindSum, leather float64) []hide.SheetLoss {
	byKind := map[hide.Kind]*hide.SheetLoss{}
	money := map[hide.Kind]map[string]hide.SheetMoney{}
	total := 0.0
	for _, k := range kinds {
		if k.kind == all || k.zone != all || k.n == 0 {
			continue
		}
		l := byKind[k.kind]
		if l == nil {
			l = &hide.SheetLoss{Kind: k.kind}
			byKind[k.kind], money[k.kind] = l, map[string]hide.SheetMoney{}
		}
		l.Count += int(k.n)
		l.AreaM2 += k.mm2 / 1e6
		total += k.mm2 / 1e6
		if k.price > 0 {
			m := money[k.kind][k.currency]
			m.Currency, m.Amount, m.AreaM2 = k.currency, m.Amount+k.price*k.mm2/1e6, m.AreaM2+k.mm2/1e6
			money[k.kind][k.currency] = m
		}
	}
	var out []hide.SheetLoss
	for kind, l := range byKind {
		if leather > 0 {
			l.Percent = 100 * l.AreaM2 / leather
		}
		for _, c := range slices.Sorted(maps.Keys(money[kind])) {
			l.Money = append(l.Money, money[kind][c])
		}
		out = append(out, *l)
	}
	slices.SortFunc(out, func(a, b hide.SheetLoss) int {
		return cmp.Or(cmp.Compare(b.AreaM2, a.AreaM2), cmp.Compare(a.Kind, b.Kind))
	})
	run := 0.0
	for i := range out {
		run += out[i].AreaM2
		if total > 0 {
			out[i].Cumulative = 100 * run / total
		}
	}
	return out
}

// sheetCompare compares the supplier of the sheet with every other one, or all of
// them on a sheet without a supplier; all kinds together and each kind by itself are
// one family of comparisons.
func (s *Store) sheetCompare(ctx context.Context, out *hide.Sheet) error {
	if out.Scope.Lot != "" {
		return nil // one lot says nothing about a supplier
	}
	sc := hide.SheetScope{Article: out.Scope.Article, Month: out.Scope.Month}
	kinds, zones, err := s.kindSums(ctx, sc, true)
	if err != nil {
		return err
	}
	out.Compare = contrasts(kinds, zones, out.Scope.Supplier)
	return nil
}

func contrasts(kinds []kindSum, zones []exposure, supplier string) []hide.SheetContrast {
	type lot struct{ supplier, lot string }
	area := map[lot]float64{}
	for _, e := range zones {
		if e.zone == all && e.a > 0 {
			area[lot{e.supplier, e.lot}] += e.a / cm2PerM2
		}
	}
	n := map[hide.Kind]map[lot]float64{}
	for _, k := range kinds {
		if k.zone == all {
			if n[k.kind] == nil {
				n[k.kind] = map[lot]float64{}
			}
			n[k.kind][lot{k.supplier, k.lot}] += k.n
		}
	}
	lots := slices.SortedFunc(maps.Keys(area), func(a, b lot) int {
		return cmp.Or(cmp.Compare(a.supplier, b.supplier), cmp.Compare(a.lot, b.lot))
	})
	var out []hide.SheetContrast
	for _, kind := range append([]hide.Kind{all}, hide.Kinds()...) {
		groups := map[string]*stats.Group{}
		for _, l := range lots {
			if groups[l.supplier] == nil {
				groups[l.supplier] = &stats.Group{Name: l.supplier}
			}
			groups[l.supplier].Lots.Add(n[kind][l], area[l])
		}
		var list []stats.Group
		for _, name := range slices.Sorted(maps.Keys(groups)) {
			list = append(list, *groups[name])
		}
		for _, c := range stats.Pairs(list, supplier) {
			out = append(out, hide.SheetContrast{Kind: named(kind), Comparison: c})
		}
	}
	family := make([]*hide.Comparison, len(out))
	for i := range out {
		family[i] = &out[i].Comparison
	}
	stats.Correct(family)
	return out
}
