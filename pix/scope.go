package pix

// Scope closes temporary pictures together:
//
//	sc := pix.NewScope()
//	defer sc.Close()
//	blurred := sc.Keep(...)
type Scope struct{ kept []*Image }

// NewScope returns an empty scope.
func NewScope() *Scope { return &Scope{} }

// Keep hands the picture to the scope, which closes it.
func (s *Scope) Keep(im *Image) *Image {
	s.kept = append(s.kept, im)
	return im
}

// Detach takes the picture out again; the caller closes it.
func (s *Scope) Detach(im *Image) *Image {
	for i, k := range s.kept {
		if k == im {
			s.kept = append(s.kept[:i], s.kept[i+1:]...)
			break
		}
	}
	return im
}

// Close closes what is still kept, last first.
func (s *Scope) Close() {
	for i := len(s.kept) - 1; i >= 0; i-- {
		s.kept[i].Close()
	}
	s.kept = nil
}
