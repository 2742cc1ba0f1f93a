package score

import (
	"fmt"
	"io"
	"text/tabwriter"

	"hidechart/hide"
)

// proLimit is the false-positive rate up to which the per-region overlap is
// integrated: the one published figures use (Bergmann et al. 2021).
const proLimit = 0.3

// falseAreas are the shares of sound surface wrongly marked at which the recall
// is stated: the target of the detection (0.5 %), a fifth and twice of it.
func falseAreas() []float64 { return []float64{0.001, 0.005, 0.01} }

// SwatchResult is how well score maps tell defects from sound surface. The JSON
// names are those of the table. A figure that cannot be computed is null.
type SwatchResult struct {
	Images      int             `json:"images"`
	Regions     int             `json:"regions"`      // connected defect regions
	AUROC       *float64        `json:"auroc_pooled"` // all pixels of all maps under one threshold
	AUROCMean   *float64        `json:"auroc_mean"`   // mean of the maps' own, maps without defect left out
	AUPRO       *float64        `json:"aupro_0.3"`    // pooled
	RecallAt    []RecallAtShare `json:"recall_at_false_area"`
	ByImage     []ImageResult   `json:"by_image"`
	pixelScores [][]uint16      // of each region, for the recall
}

// RecallAtShare is the recall at the threshold where the given share of sound
// pixels is wrongly marked.
type RecallAtShare struct {
	FalseArea float64  `json:"false_area_share"`
	Pixels    *float64 `json:"pixel_recall"`
	Regions   *float64 `json:"region_recall"` // regions with at least 30 % of their pixels marked
}

// ImageResult is one map alone.
type ImageResult struct {
	Name  string   `json:"name"`
	AUROC *float64 `json:"auroc"`
}

// Swatches judges the score maps of a folder against the masks of another; see
// FindMaps for the names. Maps are read one at a time. Errors: those of FindMaps
// and ReadMap.
func Swatches(scores, masks string) (SwatchResult, error) {
	pairs, err := FindMaps(scores, masks)
	if err != nil {
		return SwatchResult{}, err
	}
	return compareMaps(len(pairs), func(i int) (Map, error) { return ReadMap(pairs[i][0], pairs[i][1]) })
}

// CompareMaps judges score maps already in memory.
func CompareMaps(maps []Map) SwatchResult {
	r, _ := compareMaps(len(maps), func(i int) (Map, error) { return maps[i], nil }) // no error can come
	return r
}

func compareMaps(n int, read func(i int) (Map, error)) (SwatchResult, error) {
	r := SwatchResult{Images: n}
	pooled := newCurve()
	for i := range n {
		m, err := read(i)
		if err != nil {
			return r, err
		}
		regions := regionsOf(m.Defect, m.Width)
		pooled.add(m, regions)
		alone := newCurve()
		alone.add(m, nil)
		r.ByImage = append(r.ByImage, ImageResult{Name: m.Name, AUROC: alone.auroc()})
		for _, region := range regions {
			s := make([]uint16, len(region))
			for k, p := range region {
				s[k] = m.Score[p]
			}
			r.pixelScores = append(r.pixelScores, s)
		}
	}
	r.Regions = pooled.regions
	r.AUROC, r.AUPRO, r.AUROCMean = pooled.auroc(), pooled.aupro(proLimit), meanOf(r.ByImage)
	for _, share := range falseAreas() {
		r.RecallAt = append(r.RecallAt, r.recallAt(share, pooled.threshold(share)))
	}
	return r, nil
}

func meanOf(images []ImageResult) *float64 {
	var total float64
	n := 0
	for _, i := range images {
		if i.AUROC != nil {
			total += *i.AUROC
			n++
		}
	}
	if n == 0 {
		return nil
	}
	v := total / float64(n)
	return &v
}

func (r SwatchResult) recallAt(share float64, threshold int) RecallAtShare {
	var pixels, marked, found int
	for _, region := range r.pixelScores {
		n := 0
		for _, s := range region {
			n += count(int(s) >= threshold)
		}
		pixels += len(region)
		marked += n
		found += count(float64(n) >= foundShare*float64(len(region)))
	}
	return RecallAtShare{FalseArea: share, Pixels: ratio(marked, pixels), Regions: ratio(found, len(r.pixelScores))}
}

// WriteTable prints the result for people, one line a figure.
func (r SwatchResult) WriteTable(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	textf(t, "images\t%d\t%d defect regions\n", r.Images, r.Regions)
	textf(t, "auroc_pooled\t%s\tall pixels under one threshold\n", fine(r.AUROC))
	textf(t, "auroc_mean\t%s\tmean over images\n", fine(r.AUROCMean))
	textf(t, "aupro_0.3\t%s\tper-region overlap up to 30 %% false-positive rate\n", fine(r.AUPRO))
	for _, a := range r.RecallAt {
		textf(t, "recall_at_false_area %.1f %%\t%s\tof pixels; of regions %s\n",
			100*a.FalseArea, percent(a.Pixels, false), percent(a.Regions, false))
	}
	if err := t.Flush(); err != nil {
		return hide.Wrapf(hide.Internal, err, "print result")
	}
	return nil
}

func fine(v *float64) string {
	if v == nil {
		return "–"
	}
	return fmt.Sprintf("%.5f", *v)
}
