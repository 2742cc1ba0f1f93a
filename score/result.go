package score

import "hidechart/hide"

// Result is how one chart compares with its truth. The JSON names are the names
// in the table for people (Table). A figure that has nothing to be computed
// from is null.
type Result struct {
	Article string `json:"article"`

	AreaError       float64  `json:"area_error"`        // (charted − true) ÷ true
	AreaErrorInU    *float64 `json:"area_error_in_u"`   // (charted − true) ÷ stated standard uncertainty
	OutlineIoU      float64  `json:"outline_iou"`       // area of intersection ÷ of union, holes taken off
	NeckError       *hide.MM `json:"neck_error_mm"`     // distance of the backbone's neck end from truth
	TailError       *hide.MM `json:"tail_error_mm"`     // and of its tail end
	Recall          *float64 `json:"recall"`            // found ÷ truth defects that show
	FalsePerM2      float64  `json:"false_per_m2"`      // false candidates ÷ true area of the hide
	FalseAreaShare  float64  `json:"false_area_share"`  // leather wrongly covered ÷ true area of the hide
	KindAccuracy    *float64 `json:"kind_accuracy"`     // kind right ÷ found
	CalibrationErr  *float64 `json:"calibration_error"` // expected calibration error, 10 bins
	BorderOff       *float64 `json:"border_off_mm"`     // median over the defects found as what they are
	HoleRecall      *float64 `json:"hole_recall"`       // of holes ≥ 3 mm, charted as holes
	InventedHoles   int      `json:"invented_holes"`    // holes charted where there is none
	TruthDefects    int      `json:"truth_defects"`     // truth defects that show
	Found           int      `json:"found"`
	FalseCandidates int      `json:"false_candidates"`

	ByKind     []KindResult       `json:"by_kind"` // kinds in truth or chart, in the order of hide.Kinds
	Bins       []Bin              `json:"bins"`
	Truths     []TruthOutcome     `json:"truths"`     // in the order of truth.json
	Candidates []CandidateOutcome `json:"candidates"` // in the order of the chart

	Area      hide.MM2 `json:"true_area_mm2"`
	FalseArea hide.MM2 `json:"false_area_mm2"`
	Holes     int      `json:"holes"` // truth holes ≥ 3 mm
	HolesHit  int      `json:"holes_found"`
}

// KindResult is what became of one kind.
type KindResult struct {
	Kind            hide.Kind `json:"kind"`
	TruthDefects    int       `json:"truth_defects"`
	Found           int       `json:"found"`
	KindRight       int       `json:"kind_right"`
	FalseCandidates int       `json:"false_candidates"` // candidates called this kind
	Recall          *float64  `json:"recall"`
}

// TruthOutcome is what became of one truth defect.
type TruthOutcome struct {
	ID         int       `json:"id"`
	Kind       hide.Kind `json:"kind"`
	Visibility float64   `json:"visibility,omitempty"`
	Share      float64   `json:"share"`  // of its pixels within 2 mm of candidates with p ≥ 0.5
	Hidden     bool      `json:"hidden"` // wholly under other defects: not counted
	Found      bool      `json:"found"`
	// By is the candidate that covers most of it and As what it is called; 0 and
	// "" when no candidate with p ≥ 0.5 comes near.
	By int       `json:"by"`
	As hide.Kind `json:"as"`
	// BorderOff is how far that candidate's border lies from the true one on the mean,
	// null unless it is found as what it is.
	BorderOff *float64 `json:"border_off_mm"`
}

// CandidateOutcome is what one candidate turned out to be.
type CandidateOutcome struct {
	ID          int       `json:"id"`
	Kind        hide.Kind `json:"kind"`
	Probability float64   `json:"probability"`
	Real        bool      `json:"real"`  // for the calibration
	False       bool      `json:"false"` // p ≥ 0.5 and nowhere near a truth
	Of          hide.Kind `json:"of"`    // what a real one is, by most pixels near it; else ""
	On          float64   `json:"on"`    // share of its own pixels within 2 mm of a truth
}

// Bin is one bin of the calibration.
type Bin struct {
	From        float64 `json:"from"`
	To          float64 `json:"to"`
	Count       int     `json:"count"`
	Probability float64 `json:"mean_probability"`
	Real        float64 `json:"share_real"`
}

// ratio is hits ÷ of, nil when there is nothing to divide by.
func ratio(hits, of int) *float64 {
	if of == 0 {
		return nil
	}
	v := float64(hits) / float64(of)
	return &v
}
