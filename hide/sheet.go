package hide

// SheetScope says which hides a sheet is about; an empty field leaves it open.
type SheetScope struct {
	Supplier string `json:"supplier,omitempty"`
	Lot      string `json:"lot,omitempty"`
	Article  string `json:"article,omitempty"`
	Month    string `json:"month,omitempty"` // of the first filing, 2006-01
}

// Sheet is what the record knows of a supplier, a lot or a month. Every figure
// carries its n and its interval. A flaw counts when it was confirmed or drawn by a
// reviewer, or when it is a candidate with a probability of 0.5 or more.
type Sheet struct {
	Scope   SheetScope      `json:"scope"`
	Made    string          `json:"made"` // day, 2006-01-02
	Hides   int             `json:"hides"`
	Sides   int             `json:"sides"` // among them
	Lots    []SheetLot      `json:"lots"`
	AreaM2  float64         `json:"area_m2"`
	Review  SheetReview     `json:"review"`
	Stamp   StampCheck      `json:"stamp"`
	Yields  []SheetYield    `json:"yields"`
	Rates   []SheetRate     `json:"rates"`
	Trend   ControlChart    `json:"trend"`
	Losses  []SheetLoss     `json:"losses"` // most area first
	Compare []SheetContrast `json:"comparisons"`
	Maps    []HeatMap       `json:"maps"`
	Places  []SheetPlace    `json:"places"`
	Repeats []SheetRepeat   `json:"repeats"`
	Notes   []string        `json:"notes"`
}

// SheetLot is a lot on a sheet, in the order of its first filing.
type SheetLot struct {
	Supplier string  `json:"supplier"`
	Lot      string  `json:"lot"`
	First    string  `json:"first_filed"`
	Hides    int     `json:"hides"`
	AreaM2   float64 `json:"area_m2"`
	Flaws    int     `json:"flaws"`
	Price    float64 `json:"price_per_m2,omitempty"`
	Currency string  `json:"currency,omitempty"`
}

// SheetReview says how much of it a person has looked at.
type SheetReview struct {
	Hides      int `json:"hides_reviewed"`
	Candidates int `json:"candidates"` // not reviewed, counted or not
	Confirmed  int `json:"confirmed"`
	Rejected   int `json:"rejected"`
	Added      int `json:"added"`
}

// StampCheck compares the measured with the stamped areas, in percent of the
// stamped one.
type StampCheck struct {
	Mean  Estimate   `json:"mean_percent"` // its interval is from the spread of the hides alone
	Whole Estimate   `json:"with_measurement_percent"`
	U     float64    `json:"measurement_u_percent"` // mean standard uncertainty of a measured area
	Test  PairedTest `json:"test"`
	Above int        `json:"above"` // hides measured larger than stamped
	Below int        `json:"below"`
	// Sums over the hides with a stamp.
	MeasuredM2 float64 `json:"measured_m2"`
	StampedM2  float64 `json:"stamped_m2"`
}

// SheetYield is the cuttable share under a look.
type SheetYield struct {
	Look   string   `json:"look"`
	SHA256 string   `json:"look_sha256"`
	Share  Estimate `json:"share"` // mean over hides of the median, 0–1
	P10    float64  `json:"p10"`   // mean over hides of what reviewing could leave
	P90    float64  `json:"p90"`
	Of     int      `json:"of_hides"` // hides in scope
}

// SheetRate is flaws per m² of a kind in a zone. Empty kind: all kinds, empty
// zone: the whole hide.
type SheetRate struct {
	Kind      Kind         `json:"kind"`
	Zone      Zone         `json:"zone"`
	Count     int          `json:"count"`
	HidesWith Estimate     `json:"share_of_hides"` // with one or more
	AreaM2    float64      `json:"area_m2"`
	PerM2     RateEstimate `json:"per_m2"`
}

// SheetLoss is what a kind costs.
type SheetLoss struct {
	Kind       Kind         `json:"kind"`
	Count      int          `json:"count"`
	AreaM2     float64      `json:"area_m2"` // of the flaws themselves, no margin; overlaps count twice
	Percent    float64      `json:"percent"` // of the leather
	Cumulative float64      `json:"cumulative"`
	Money      []SheetMoney `json:"money"`
}

// SheetMoney is an amount by the prices of the lots; lots without one are left out.
type SheetMoney struct {
	Currency string  `json:"currency"`
	Amount   float64 `json:"amount"`
	AreaM2   float64 `json:"of_area_m2"` // flaw area that had a price
}

// SheetContrast compares two suppliers in one kind (empty: all).
type SheetContrast struct {
	Kind Kind `json:"kind"`
	Comparison
}

// Forms of a hide on a sheet.
const (
	WholeForm = "whole"
	SideForm  = "side"
)

// HeatMap is where marks of a kind lie in the hide frame, all hides of one form
// folded together.
type HeatMap struct {
	Form    string     `json:"form"`
	Kind    Kind       `json:"kind"`
	Hides   int        `json:"hides"` // folded, with or without marks
	Across  int        `json:"across"`
	Along   int        `json:"along"`
	Marks   []int      `json:"marks"` // by cell: along·across, left to right
	Outline HalfWidths `json:"outline"`
	Left    int        `json:"hides_more_left"` // whole hides with more marks on the left half
	Right   int        `json:"hides_more_right"`
	SidesP  float64    `json:"left_right_p"` // sign test
}

// SheetPlace is a place at which a kind comes back, in words as well.
type SheetPlace struct {
	Form string `json:"form"`
	Zone Zone   `json:"zone"`
	Text string `json:"text"`
	Place
}

// SheetRepeat is one place of a lot with the same kind of mark from hide to hide.
type SheetRepeat struct {
	Form     string   `json:"form"`
	Kind     Kind     `json:"kind"`
	Zone     Zone     `json:"zone"`
	U        float64  `json:"u"`
	V        float64  `json:"v"`
	Hides    []string `json:"hides"`
	Of       int      `json:"of_hides"`
	Expected float64  `json:"expected"`
	P        float64  `json:"p"`
	Text     string   `json:"text"`
}
