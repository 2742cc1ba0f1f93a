package scene

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// source draws numbers from one named stream of a seed. Streams by name keep
// one part of the scene unchanged when another draws more numbers.
type source struct{ *rand.Rand }

func stream(seed int64, name string) source {
	h := fnv.New64a()
	h.Write([]byte(name)) // never fails (hash.Hash)
	return source{rand.New(rand.NewPCG(uint64(seed), h.Sum64()))}
}

// in draws uniformly from lo to hi.
func (s source) in(lo, hi float64) float64 { return lo + (hi-lo)*s.Float64() }

// log draws so that equal ratios are equally likely; lo and hi are positive.
func (s source) log(lo, hi float64) float64 { return math.Exp(s.in(math.Log(lo), math.Log(hi))) }

// chance is true with probability p.
func (s source) chance(p float64) bool { return s.Float64() < p }

// count draws an integer from lo to hi, both included.
func (s source) count(lo, hi int) int { return lo + s.IntN(hi-lo+1) }

// noiseSeed draws a seed for the place-based noise.
func (s source) noiseSeed() uint32 { return s.Uint32() }
