package detect

import (
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"math"
	"slices"

	"github.com/fxamacker/cbor/v2"

	"hidechart/hide"
)

const (
	// boostVersion changes when old files can no longer be read.
	boostVersion = 4
	// boostMostBytes bounds an unpacked model: 5000 rounds of shallow trees for
	// a dozen classes stay below it, a decompression bomb does not.
	boostMostBytes = 256 << 20
	// boostMostScore bounds stored numbers, so that no sum over the rounds
	// overflows; a log-odds of 1e6 is certainty many times over.
	boostMostScore = 1e6
)

// The file is CBOR (RFC 8949, deterministic as its section 4.2.1 has it), which is read
// in a quarter of the time that JSON takes, and gzipped (docs/adr/0032).
var boostWriter, boostReader = boostForm()

func boostForm() (cbor.EncMode, cbor.DecMode) {
	write, err1 := cbor.CoreDetEncOptions().EncMode()
	read, err2 := cbor.DecOptions{DupMapKey: cbor.DupMapKeyEnforcedAPF, ExtraReturnErrors: cbor.ExtraDecErrorUnknownField}.DecMode()
	if err := errors.Join(err1, err2); err != nil {
		panic(err) // these options contradict one another on no machine or on all
	}
	return write, read
}

// encode is the model as gzipped CBOR, the same bytes for the same model.
func (m *boostModel) encode() ([]byte, error) { return zipped(m) }

func zipped(model any) ([]byte, error) {
	plain, err := boostWriter.Marshal(model)
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "write boosted trees")
	}
	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "write boosted trees")
	}
	if _, err := z.Write(plain); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "write boosted trees")
	}
	if err := z.Close(); err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "write boosted trees")
	}
	return out.Bytes(), nil
}

// loadBoost reads a model from CBOR, gzipped or plain. Whatever it accepts can
// be asked without panic or endless walk. Unreadable if it is not such a file,
// Invalid if it contradicts itself.
func loadBoost(data []byte) (*boostModel, error) {
	m := new(boostModel)
	if err := unpack(data, m); err != nil {
		return nil, err
	}
	if err := m.check(); err != nil {
		return nil, err
	}
	return m, nil
}

// unpack reads one CBOR value, gzipped or plain, that holds nothing unknown.
func unpack(data []byte, into any) error {
	if bytes.HasPrefix(data, []byte{0x1f, 0x8b}) { // RFC 1952, section 2.3.1
		plain, err := unzipped(data)
		if err != nil {
			return err
		}
		data = plain
	}
	if err := boostReader.Unmarshal(data, into); err != nil {
		return hide.Wrapf(hide.Unreadable, err, "read boosted trees")
	}
	return nil
}

func unzipped(data []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "unpack boosted trees")
	}
	plain, err := io.ReadAll(io.LimitReader(z, boostMostBytes+1))
	if err != nil {
		return nil, hide.Wrapf(hide.Unreadable, err, "unpack boosted trees")
	}
	if len(plain) > boostMostBytes {
		return nil, hide.Faultf(hide.Unreadable, "unpack boosted trees: more than 256 MiB")
	}
	return plain, nil
}

// check holds the model against the rules of its form and links the trees.
func (m *boostModel) check() error {
	err := checks{
		{m.Version == boostVersion, "version is not 4"},
		{len(m.Features) > 0 && distinctNames(m.Features), "features must have names, each its own"},
		{len(m.Classes) > 1 && distinctNames(m.Classes), "classes must be two or more with names, each its own"},
		{len(m.Base) == len(m.Classes), "there must be one base per class"},
		{!slices.ContainsFunc(m.Base, func(v float64) bool { return !scoreSized(v) }), "a base is out of range"},
		{m.Temperature >= 1/boostMostScore && m.Temperature <= boostMostScore, "temperature is out of range"},
		{!slices.ContainsFunc(m.Flaw, func(c isotonic) bool { return !c.check() }), "the correction of the flaw's probability does not rise"},
		{len(m.Rounds) <= boostMostRounds, "more than 5000 rounds"},
	}.err("boosted trees")
	if err != nil {
		return err
	}
	for r, round := range m.Rounds {
		if len(round) != len(m.Classes) {
			return hide.Faultf(hide.Invalid, "boosted trees: round %d has %d trees for %d classes", r, len(round), len(m.Classes))
		}
		for k := range round {
			if err := round[k].link(len(m.Features)); err != nil {
				return hide.Wrapf(hide.Invalid, err, "boosted trees: round %d, class %q", r, m.Classes[k])
			}
		}
	}
	return nil
}

// link checks the tree's form for a model of that many features and lays its nodes
// out, with the right children: in preorder one starts where the left subtree has ended.
func (t *boostTree) link(features int) error {
	n := len(t.Feature)
	if n == 0 || len(t.Cut) != n || len(t.Missing) != n || len(t.Value) != n {
		return hide.Faultf(hide.Invalid, "a tree's lists are empty or differ in length")
	}
	t.nodes = make([]boostNode, n)
	var open []int // splits whose left subtree is not finished
	for i := range n {
		if !scoreSized(float64(t.Value[i])) || !finite(float64(t.Cut[i])) ||
			t.Feature[i] < boostLeaf || t.Feature[i] >= features || t.Missing[i]>>1 != 0 {
			return hide.Faultf(hide.Invalid, "node %d is out of range", i)
		}
		t.nodes[i] = boostNode{cut: t.Cut[i], feature: int32(t.Feature[i]), missingLeft: t.Missing[i] == 1} //nolint:gosec // fewer than features
		if t.Feature[i] != boostLeaf {
			open = append(open, i)
			continue
		}
		if len(open) == 0 {
			if i != n-1 {
				return hide.Faultf(hide.Invalid, "the tree ends at node %d of %d", i, n)
			}
			return nil
		}
		t.nodes[open[len(open)-1]].right = int32(i + 1) //nolint:gosec // fewer than a file has bytes
		open = open[:len(open)-1]
	}
	return hide.Faultf(hide.Invalid, "the tree has splits without children")
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func scoreSized(v float64) bool { return math.Abs(v) <= boostMostScore }

func distinctNames(names []string) bool {
	s := slices.Clone(names)
	slices.Sort(s)
	return s[0] != "" && len(slices.Compact(s)) == len(names)
}
