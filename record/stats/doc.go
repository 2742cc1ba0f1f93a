// Package stats is the statistics of the record: rates of flaws with intervals,
// paired differences, control charts over lots, comparisons that account for
// their number, and marks that keep coming back to one place.
//
// It works on counts and sums, never on rows: what it needs of a supplier's
// thousand hides is a handful of figures. Place: below record. It must not know
// SQL, files or charts. Random numbers come from fixed seeds.
//
// Every figure has its n and its interval, and few hides give wide intervals. The
// results are compared with SciPy and statsmodels (testdata/reference.py).
package stats
