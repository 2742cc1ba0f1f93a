package pix

import "slices"

// SelectRank reorders v so that v[k] is what sorting would put there: Hoare's
// quickselect (Hoare 1961, "Find"), the pivot a median of three, in time linear
// in the length for all but contrived orders; the last few are sorted.
func SelectRank(v []float64, k int) {
	lo, hi := 0, len(v)-1
	for hi-lo > 16 {
		pivot := medianOfThree(v[lo], v[(lo+hi)/2], v[hi])
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return
		}
	}
	slices.Sort(v[lo : hi+1])
}

func medianOfThree(a, b, c float64) float64 { return max(min(a, b), min(max(a, b), c)) }
