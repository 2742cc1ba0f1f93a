package export

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"os"

	"github.com/pdfcpu/pdfcpu/pkg/api"
	"github.com/pdfcpu/pdfcpu/pkg/pdfcpu/model"

	"hidechart/hide"
)

// mostClaimBytes bounds what is read as a claim: a thousand charts of a megabyte.
const mostClaimBytes = 1 << 30

// ClaimCheck is what checking a claim's file found.
type ClaimCheck struct {
	SHA256  string       `json:"sha256"` // of the file
	Claim   hide.Claim   `json:"-"`
	Files   []FileCheck  `json:"files"`
	Faults  []string     `json:"faults"`
	Charts  []hide.Chart `json:"-"`
	ListSum string       `json:"list_sha256"` // to compare with the printed one
}

// FileCheck is one attached file.
type FileCheck struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"` // of the bytes attached
	OK     bool   `json:"ok"`
}

// VerifyClaim reads a claim's PDF and checks every attached file against the list in it, and
// each chart against what the list says of its hide. What is wrong is in the report. It shows that list and
// files belong together; that they are the ones once made, only the record that made the claim or the
// printed hash of the list can tell.
// Errors: Unreadable for a file that is no PDF or has no list.
func VerifyClaim(path string) (ClaimCheck, error) {
	var out ClaimCheck
	info, err := os.Stat(path)
	if err != nil {
		return out, hide.Wrapf(hide.Unreadable, err, "claim")
	}
	if info.Size() > mostClaimBytes {
		return out, hide.Faultf(hide.Invalid, "claim %s: larger than %d MiB", path, mostClaimBytes>>20)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return out, hide.Wrapf(hide.Unreadable, err, "claim")
	}
	out.SHA256 = sumOf(data)
	files, err := attached(data)
	if err != nil {
		return out, hide.Wrapf(hide.Unreadable, err, "claim %s: cannot be read as a PDF with attached files", path)
	}
	list, ok := files[ClaimListName]
	if !ok {
		return out, hide.Faultf(hide.Unreadable, "claim %s: no file %s is attached: this is no claim of hidechart", path, ClaimListName)
	}
	out.ListSum = sumOf(list)
	if err := json.Unmarshal(list, &out.Claim); err != nil || out.Claim.Format != hide.ClaimFormat {
		return out, hide.Faultf(hide.Unreadable, "claim %s: %s cannot be read, or has the format %q instead of %q", path, ClaimListName, out.Claim.Format, hide.ClaimFormat)
	}
	out.check(files)
	return out, nil
}

func sumOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// attached reads every attached file with pdfcpu, another's reader of PDF.
func attached(data []byte) (map[string][]byte, error) {
	api.DisableConfigDir() // reading a claim writes nothing into anybody's home
	conf := model.NewDefaultConfiguration()
	conf.ValidationMode = model.ValidationRelaxed
	conf.Offline = true
	list, err := api.ExtractAttachmentsRaw(bytes.NewReader(data), "", nil, conf)
	if err != nil {
		return nil, err
	}
	out := map[string][]byte{}
	for _, a := range list {
		body, err := io.ReadAll(a)
		if err != nil {
			return nil, err
		}
		name := a.FileName
		if name == "" {
			name = a.ID
		}
		out[name] = body
	}
	return out, nil
}

func (c *ClaimCheck) check(files map[string][]byte) {
	fault := func(format string, args ...any) { c.Faults = append(c.Faults, fmt.Sprintf(format, args...)) }
	listed := map[string]bool{ClaimListName: true}
	sums := map[string]bool{}
	for _, f := range c.Claim.Files {
		listed[f.Name] = true
		body, ok := files[f.Name]
		x := FileCheck{Name: f.Name, SHA256: sumOf(body)}
		x.OK = ok && x.SHA256 == f.SHA256 && len(body) == f.Bytes
		switch {
		case !ok:
			fault("%s is listed but not attached", f.Name)
		case !x.OK:
			fault("%s: its bytes have the hash %s, the list says %s", f.Name, x.SHA256, f.SHA256)
		default:
			sums[x.SHA256] = true
		}
		c.Files = append(c.Files, x)
	}
	for name := range files {
		if !listed[name] {
			fault("%s is attached but not listed", name)
		}
	}
	for _, h := range c.Claim.Hides {
		if !sums[h.ChartSHA256] {
			fault("hide %s: its chart %s is not among the files that are as listed", h.ID, h.ChartSHA256)
		}
	}
}
