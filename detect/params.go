package detect

import "hidechart/hide"

// Params are the settings of finding flaws. Lengths are table millimetres;
// scores are in units of the leather's own variation at that place.
type Params struct {
	WorkPixel       hide.MM // pixel of the search; 1 mm holds the 1.5 mm scars of a 24 MP photograph of a hide
	EdgeMargin      hide.MM // left out along the edge and round holes: there table and leather mix
	Background      hide.MM // deviation of the window whose mean is taken off before lines and spots are sought
	PatchBackground hide.MM // the same for stains, which are larger

	LineSeed   float64 // a line's best score; below, chance alignments of grain outnumber flaws
	LineFollow float64 // a line is followed down to this score
	LineLength hide.MM // shorter lines are left to the spots

	LinesPerM2   float64 // at each scale the strongest lines only: on pebbled leather every crease answers
	PatchesPerM2 float64 // the plainest patches only

	SpotSeed    float64 // a spot's score by itself
	SpotJoin    float64 // a spot's score in a cluster
	ClusterGap  hide.MM // spots this near belong together
	ClusterSize int     // fewer spots than this need a seed among them

	PatchEdge float64  // mean slope out of a stain across its border, in units of the leather's own slopes
	PatchMin  hide.MM2 // the smallest stain
	PatchMax  hide.MM2 // the largest

	LooseScore float64  // ripple's log energy above the hide's own, in robust spreads
	LooseMin   hide.MM2 // the smallest loose area

	ThinScore float64  // a thin spot's brightness under back light
	ThinMin   hide.MM2 // the smallest thin spot

	Report float64 // candidates below this probability are not listed
}

// DefaultParams returns the settings used unless told otherwise.
func DefaultParams() Params {
	return Params{WorkPixel: 1, EdgeMargin: 2, Background: 10, PatchBackground: 60,
		LineSeed: 6, LineFollow: 3.5, LineLength: 14, LinesPerM2: 60, PatchesPerM2: 80,
		SpotSeed: 8, SpotJoin: 6, ClusterGap: 35, ClusterSize: 4,
		PatchEdge: 0.7, PatchMin: 250, PatchMax: 30000,
		LooseScore: 2.3, LooseMin: 2500, ThinScore: 4, ThinMin: 40, Report: 0.3}
}

// Validate lists every setting out of range.
func (p Params) Validate() error {
	return checks{
		{p.WorkPixel > 0 && p.WorkPixel <= 4, "work pixel must lie between 0 and 4 mm"},
		{p.EdgeMargin >= 0, "edge margin must not be negative"},
		{p.Background > 0 && p.PatchBackground > p.Background, "backgrounds must be positive, the patches' the wider"},
		{p.LineFollow > 0 && p.LineSeed >= p.LineFollow, "line seed must not lie below line follow"},
		{p.LineLength > 0, "line length must be positive"},
		{p.LinesPerM2 > 0 && p.PatchesPerM2 > 0, "lines and patches per square metre must be positive"},
		{p.SpotJoin > 0 && p.SpotSeed >= p.SpotJoin, "spot seed must not lie below spot join"},
		{p.ClusterGap > 0 && p.ClusterSize > 0, "cluster gap and size must be positive"},
		{p.PatchEdge > 0 && p.PatchMin > 0 && p.PatchMax > p.PatchMin, "patch edge and sizes must be positive and in order"},
		{p.LooseScore > 0 && p.LooseMin > 0, "loose score and size must be positive"},
		{p.ThinScore > 0 && p.ThinMin > 0, "thin score and size must be positive"},
		{p.Report >= 0 && p.Report < 1, "report must lie between 0 and 1"},
	}.err("detect settings")
}
