package record

import (
	"context"
	"database/sql"
	"encoding/json"
	"slices"
	"time"

	"hidechart/hide"
)

// Grader gives a hide its grade and the reason; the yield package knows how.
type Grader func(hide.Chart) (grade, because string, err error)

// ClaimOptions say how a claim is made.
type ClaimOptions struct {
	By      string // who makes it
	Program string
	Day     time.Time
	Grade   Grader   // nil: no grades
	Rule    string   // its name, for the page
	Order   []string // its grades, best first
}

// Claim gathers all that a claim about a lot states, with the files that prove it:
// each chart that counts and its review as they were filed, the certificates of the rigs, and a
// list of them with their hashes (claim.json, which names all others).
//
// Errors: NotFound for a lot without hides; Conflict where several suppliers have
// one; Unreadable for a chart whose bytes are not those that were filed.
func (s *Store) Claim(ctx context.Context, supplier, lot string, o ClaimOptions) (hide.Claim, []hide.Attachment, error) {
	l, err := s.FindLot(ctx, supplier, lot)
	if err != nil {
		return hide.Claim{}, nil, err
	}
	sc := hide.SheetScope{Supplier: l.Supplier, Lot: l.Lot}
	c := hide.Claim{Format: hide.ClaimFormat, Date: day(o.Day), By: o.By, Supplier: l.Supplier, Lot: l.Lot, Program: o.Program,
		Promised: hide.ClaimGrade{Rule: l.PromisedRule, Grade: l.PromisedGrade}, Found: []hide.ClaimGrade{}, Certificates: []hide.ClaimCertificate{}}
	if c.Sheet, err = s.Sheet(ctx, sc, o.Day); err != nil {
		return c, nil, err
	}
	hides, err := s.Hides(ctx, Filter{SheetScope: sc})
	if err != nil {
		return c, nil, err
	}
	var files []hide.Attachment
	rigs := map[string]bool{}
	for _, h := range hides {
		more, err := s.claimHide(ctx, &c, h, o)
		if err != nil {
			return c, nil, err
		}
		files = append(files, more...)
		rigs[c.Hides[len(c.Hides)-1].RigSHA256] = true
	}
	c.Found = found(c.Hides, o)
	more, err := s.claimCertificates(ctx, &c, rigs)
	if err != nil {
		return c, nil, err
	}
	files = append(files, more...)
	for _, f := range files {
		c.Files = append(c.Files, hide.ClaimFile{Name: f.Name, What: f.What, SHA256: hashOf(f.Data), Bytes: len(f.Data)})
	}
	return c, files, nil
}

// claimHide adds a hide and returns its files.
func (s *Store) claimHide(ctx context.Context, c *hide.Claim, h Hide, o ClaimOptions) ([]hide.Attachment, error) {
	data, review, err := s.ChartOf(ctx, h.SHA256)
	if err != nil {
		return nil, err
	}
	if hashOf(data) != h.SHA256 {
		return nil, hide.Faultf(hide.Unreadable, "chart %s of hide %s: the bytes kept are not those that were filed: run records check", h.SHA256, h.Hide)
	}
	chart, err := s.read(data, review)
	if err != nil {
		return nil, err
	}
	f := factsOf(chart)
	x := hide.ClaimHide{ID: h.Hide, Article: h.Article, Side: chart.Side, ChartSHA256: h.SHA256, Filed: h.Filed, Area: chart.Area.Value, U: chart.Area.U,
		Stamp: chart.Capture.Stamp, TempC: chart.Capture.TempC, Humidity: chart.Capture.Humidity, RigSHA256: chart.Frame.RigSHA256,
		Images: chart.Capture.Images, Flags: chart.Flags, MadeBy: chart.MadeBy,
		Review: hide.SheetReview{Hides: flag(h.Reviewed), Candidates: f.status[hide.Candidate], Confirmed: f.status[hide.Confirmed], Rejected: f.status[hide.Rejected], Added: f.status[hide.Added]}}
	if st, err := hide.ParseStamp(x.Stamp); x.Stamp != "" && err == nil {
		x.Stamped = st.Area
		if st.Ambiguous() {
			x.StampNote = st.Explain()
		}
	}
	if o.Grade != nil {
		if x.Grade, x.Because, err = o.Grade(chart); err != nil {
			return nil, err
		}
	}
	c.Hides = append(c.Hides, x)
	files := []hide.Attachment{{Name: "chart-" + itoa(len(c.Hides)) + ".json", What: "chart of hide " + h.Hide, MIME: "application/json", Data: data}}
	if review != nil {
		files = append(files, hide.Attachment{Name: "review-" + itoa(len(c.Hides)) + ".jsonl", What: "review of hide " + h.Hide, MIME: "application/jsonl", Data: review})
	}
	return files, nil
}

// found counts grades, the best first.
func found(hides []hide.ClaimHide, o ClaimOptions) []hide.ClaimGrade {
	out := []hide.ClaimGrade{}
	if o.Grade == nil {
		return out
	}
	n := map[string]int{}
	for _, h := range hides {
		n[h.Grade]++
	}
	order := slices.Clone(o.Order)
	for _, h := range hides {
		if !slices.Contains(order, h.Grade) {
			order = append(order, h.Grade)
		}
	}
	for _, g := range order {
		if n[g] > 0 {
			out = append(out, hide.ClaimGrade{Rule: o.Rule, Grade: g, Hides: n[g]})
		}
	}
	return out
}

// claimCertificates adds the newest certificate of each rig.
func (s *Store) claimCertificates(ctx context.Context, c *hide.Claim, rigs map[string]bool) ([]hide.Attachment, error) {
	var files []hide.Attachment
	seen := map[string]bool{}
	err := s.each(ctx, func(r *sql.Rows) error {
		var sum, rig string
		var packedData []byte
		if err := r.Scan(&sum, &rig, &packedData); err != nil {
			return err
		}
		if !rigs[rig] || seen[rig] {
			return nil
		}
		seen[rig] = true
		data, err := unpacked(packedData)
		if err != nil {
			return err
		}
		var p hide.Proof
		if err := json.Unmarshal(data, &p); err != nil {
			return hide.Wrapf(hide.Unreadable, err, "certificate %s", sum)
		}
		c.Certificates = append(c.Certificates, hide.ClaimCertificate{RigSHA256: rig, Place: p.Place, Date: p.Date, Due: p.Due, Pass: p.Pass, Percent: p.Limit.Percent, SHA256: sum})
		files = append(files, hide.Attachment{Name: "certificate-" + itoa(len(c.Certificates)) + ".json", What: "acceptance test of the rig", MIME: "application/json", Data: data})
		return nil
	}, "SELECT sha256, rig_sha256, data FROM certificates ORDER BY day DESC, sha256")
	return files, err
}

// PutClaim notes that a claim was made: its file can be told from any other later.
func (s *Store) PutClaim(ctx context.Context, supplier, lot, sha256, name string, at time.Time) error {
	return s.write(ctx, "claim", func(t *tx) error {
		var id int64
		found, err := t.one("SELECT l.id FROM lots l JOIN suppliers s ON s.id = l.supplier_id WHERE s.name = ? AND l.name = ?", []any{supplier, lot}, &id)
		if err != nil {
			return err
		}
		if !found {
			return hide.Faultf(hide.NotFound, "no lot %q of %q", lot, supplier)
		}
		return t.exec("INSERT INTO claims (sha256, lot_id, made_at, name) VALUES (?, ?, ?, ?) ON CONFLICT (sha256) DO NOTHING", sha256, id, stampOf(at), name)
	})
}

// MadeClaim says when a claim of these bytes was made; found is false for a file
// the record does not know.
func (s *Store) MadeClaim(ctx context.Context, sha256 string) (lot, at string, found bool, err error) {
	found, err = s.get(ctx, "SELECT l.name, k.made_at FROM claims k JOIN lots l ON l.id = k.lot_id WHERE k.sha256 = ?", []any{sha256}, &lot, &at)
	return lot, at, found, err
}

// KnowsChart says whether a chart of these bytes was filed, and whether it still counts.
func (s *Store) KnowsChart(ctx context.Context, sha256 string) (known, counts bool, err error) {
	known, err = s.get(ctx, "SELECT CASE WHEN superseded_by IS NULL THEN 1 ELSE 0 END FROM charts WHERE sha256 = ?", []any{sha256}, &counts)
	return known, counts, err
}
