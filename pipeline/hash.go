package pipeline

import (
	"crypto/sha256"
	"encoding/hex"
	"os"

	"hidechart/hide"
)

// hashBytes returns the SHA-256 in hexadecimal.
func hashBytes(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// openRegular opens a file but no pipe or device, which might never end.
func openRegular(path string) (*os.File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, cause(err), "cannot read %s", path)
	}
	if !info.Mode().IsRegular() {
		return nil, hide.Faultf(hide.Unreadable, "cannot read %s: it is no regular file", path)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, cause(err), "cannot read %s", path)
	}
	return f, nil
}

// readHashed reads a file whose hash is known already. Error: Conflict when it
// changed since.
func readHashed(path, sum string) ([]byte, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, cause(err), "cannot read %s", path)
	}
	if hashBytes(data) != sum {
		return nil, hide.Faultf(hide.Conflict, "%s changed while it was being measured: run again when it is whole", path)
	}
	return data, nil
}
