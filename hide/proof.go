package hide

// ProofFormat names the version of the acceptance record.
const ProofFormat = "hidechart proof 1"

// Proof is the record of an acceptance test of a table: templates of known area
// measured in several places, and sums of them.
type Proof struct {
	Format    string          `json:"format"`
	Place     string          `json:"place"` // which table
	By        string          `json:"by"`
	Date      string          `json:"date"` // of the test, 2006-01-02
	Due       string          `json:"due"`  // when it is due again
	Months    int             `json:"interval_months"`
	Pass      bool            `json:"pass"`
	Limit     ProofLimit      `json:"limit"`
	Range     [2]MM2          `json:"range_mm2"` // areas the table is used for, least and most
	Templates []ProofTemplate `json:"templates"`
	Runs      []ProofRun      `json:"runs"`
	Sums      []ProofSum      `json:"sums"`
	Worst     ProofWorst      `json:"worst"`
	Within2U  [2]int          `json:"within_2u"` // runs whose error is within twice the stated uncertainty; all runs
	RigSHA256 string          `json:"rig_sha256"`
	MadeBy    MadeBy          `json:"made_by"` // of the charts
	Notes     []string        `json:"notes,omitempty"`
}

// ProofLimit is the largest error allowed: a share of the area, but not below
// a least amount.
type ProofLimit struct {
	Percent float64 `json:"percent"`
	Least   MM2     `json:"least_mm2"`
}

// Of is the largest error allowed for an area.
func (l ProofLimit) Of(area MM2) MM2 { return max(l.Least, area*MM2(l.Percent)/100) }

// ProofTemplate is a shape of known area and what the runs said of it.
type ProofTemplate struct {
	Name      string `json:"name"`
	Area      MM2    `json:"area_mm2"`
	U         MM2    `json:"u_mm2"`
	Source    string `json:"source,omitempty"` // how its area is known
	Runs      int    `json:"runs"`
	MeanError MM2    `json:"mean_error_mm2"`
	SD        MM2    `json:"sd_mm2"` // of the runs
}

// ProofRun is one measurement of a template.
type ProofRun struct {
	Template string   `json:"template"`
	Position string   `json:"position"`
	Chart    string   `json:"chart"` // file, as the protocol names it
	SHA256   string   `json:"chart_sha256"`
	Area     MM2      `json:"area_mm2"`
	U        MM2      `json:"u_mm2"`
	Error    MM2      `json:"error_mm2"`
	Limit    MM2      `json:"limit_mm2"`
	Pass     bool     `json:"pass"`
	Flags    []string `json:"flags,omitempty"` // of the chart
}

// ProofSum is one summation test: several templates measured one after the
// other, their areas added.
type ProofSum struct {
	Name   string   `json:"name"`
	Charts []string `json:"charts"`
	True   MM2      `json:"true_mm2"`
	Area   MM2      `json:"area_mm2"`
	Error  MM2      `json:"error_mm2"`
	Limit  MM2      `json:"limit_mm2"`
	Pass   bool     `json:"pass"`
}

// ProofWorst is the run or sum whose error takes the largest share of its limit.
type ProofWorst struct {
	What    string  `json:"what"`
	Error   MM2     `json:"error_mm2"`
	Percent float64 `json:"error_percent"`
	Share   float64 `json:"share_of_limit"`
}
