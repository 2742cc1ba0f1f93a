package hide

// ClaimFormat names the version of the claim's own list of what it holds.
const ClaimFormat = "hidechart claim 1"

// Claim is what a lot is found to be against what was promised, with all that is
// needed to check it.
type Claim struct {
	Format       string             `json:"format"`
	Date         string             `json:"date"` // 2006-01-02
	By           string             `json:"by"`
	Supplier     string             `json:"supplier"`
	Lot          string             `json:"lot"`
	Program      string             `json:"program"`
	Promised     ClaimGrade         `json:"promised"`
	Found        []ClaimGrade       `json:"found"` // grades found, best first
	Hides        []ClaimHide        `json:"hides"`
	Certificates []ClaimCertificate `json:"certificates"`
	Files        []ClaimFile        `json:"files"` // attached, this list left out
	Sheet        Sheet              `json:"sheet"`
}

// ClaimGrade is a grade by a rule.
type ClaimGrade struct {
	Rule  string `json:"rule"`
	Grade string `json:"grade"`
	Hides int    `json:"hides,omitempty"`
}

// ClaimFile is an attached file.
type ClaimFile struct {
	Name   string `json:"name"`
	What   string `json:"what"`
	SHA256 string `json:"sha256"`
	Bytes  int    `json:"bytes"`
}

// ClaimHide is one hide of the claim.
type ClaimHide struct {
	ID          string      `json:"id"`
	Article     string      `json:"article"`
	Side        bool        `json:"side"`
	ChartSHA256 string      `json:"chart_sha256"`
	Filed       string      `json:"filed"`
	Area        MM2         `json:"area_mm2"`
	U           MM2         `json:"u_mm2"`
	Stamp       string      `json:"stamp,omitempty"`
	Stamped     MM2         `json:"stamped_mm2,omitempty"`
	StampNote   string      `json:"stamp_note,omitempty"` // other ways to read it
	Grade       string      `json:"grade,omitempty"`
	Because     string      `json:"because,omitempty"`
	TempC       *float64    `json:"temperature_c,omitempty"`
	Humidity    *float64    `json:"humidity_percent,omitempty"`
	Review      SheetReview `json:"review"`
	RigSHA256   string      `json:"rig_sha256"`
	Images      []ImageFact `json:"images"`
	Flags       []Flag      `json:"flags"`
	MadeBy      MadeBy      `json:"made_by"`
}

// ClaimCertificate is an acceptance test of a rig that made the charts.
type ClaimCertificate struct {
	RigSHA256 string  `json:"rig_sha256"`
	Place     string  `json:"place"`
	Date      string  `json:"date"`
	Due       string  `json:"due"`
	Pass      bool    `json:"pass"`
	Percent   float64 `json:"limit_percent"`
	SHA256    string  `json:"sha256"`
}

// Attachment is a file that goes into a claim.
type Attachment struct {
	Name string // as the reader sees it
	What string // in words
	MIME string
	Data []byte
}
