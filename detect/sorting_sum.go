package detect

import (
	"crypto/sha256"
	"encoding/hex"
)

// SortingSum names the sorting model that ships with the program by its
// SHA-256, in hexadecimal: a chart made with another model is another chart.
func SortingSum() string {
	sum := sha256.Sum256(sortingFile)
	return hex.EncodeToString(sum[:])
}
