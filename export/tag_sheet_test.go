package export

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hidechart/hide"
)

// blankTags are patterns of the family's size, black but for the border.
func blankTags(n int) []TagCells {
	tags := make([]TagCells, n)
	for i := range tags {
		tags[i].ID = i
		for range 10 {
			tags[i].Cells = append(tags[i].Cells, make([]bool, 10))
		}
	}
	return tags
}

// Whatever fits: every piece and its cut marks lie on the paper, the text keeps
// its room, pieces hold their tags and white borders, no tag is lost.
func TestTagLayoutStaysOnThePaper(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := TagSheet{Family: "tag36h11", Quiet: 1, Tags: blankTags(rapid.IntRange(1, 20).Draw(t, "tags")),
			Edge:  hide.MM(rapid.Float64Range(20, 240).Draw(t, "edge")),
			Paper: rapid.SampledFrom([]string{"A4", "A3"}).Draw(t, "paper"), Strip: rapid.Bool().Draw(t, "strip")}
		pages, err := s.layout()
		if err != nil {
			require.ErrorIs(t, err, hide.Invalid)
			return
		}
		size, err := s.size()
		require.NoError(t, err)
		id := 0
		for _, p := range pages {
			require.GreaterOrEqual(t, p.x, pageMargin-1e-9)
			require.GreaterOrEqual(t, p.y, pageMargin-1e-9)
			require.LessOrEqual(t, p.x+p.width, size.width-pageMargin+1e-9)
			require.LessOrEqual(t, p.y+p.height, size.height-pageMargin+1e-9)
			if s.Strip {
				require.GreaterOrEqual(t, size.width-pageMargin-(p.x+p.width+sideGap), sideColumn-1e-9)
			} else {
				require.GreaterOrEqual(t, p.y, pageMargin+footBand-1e-9)
			}
			for _, place := range p.tags {
				require.Equal(t, id, place.tag.ID)
				id++
				require.InDelta(t, p.x+s.quiet(), place.x, 1e-9)
				require.GreaterOrEqual(t, place.y-s.quiet()-labelBand, p.y-1e-9)
				require.LessOrEqual(t, place.y+float64(s.Edge)+s.quiet(), p.y+p.height+1e-9)
			}
		}
		require.Equal(t, len(s.Tags), id)
	})
}

// The error names an edge that does fit, and one millimetre more does not.
func TestTooLargeTagNamesTheLargest(t *testing.T) {
	for _, paper := range []string{"A4", "A3"} {
		for _, strip := range []bool{false, true} {
			s := TagSheet{Family: "tag36h11", Quiet: 1, Tags: blankTags(1), Edge: 400, Paper: paper, Strip: strip}
			_, err := s.layout()
			require.ErrorContains(t, err, "at most")
			var most float64
			text := err.Error()
			_, scanErr := fmt.Sscanf(text[len(text)-len("at most 100 mm"):], "at most %f mm", &most)
			require.NoError(t, scanErr, text)
			s.Edge = hide.MM(most + 1)
			_, err = s.layout()
			require.Error(t, err)
			if strip {
				continue // a strip is also bound by two tags of height
			}
			s.Edge = hide.MM(most)
			_, err = s.layout()
			require.NoError(t, err)
		}
	}
}

func TestInWords(t *testing.T) {
	for n, want := range map[int]string{0: "zero", 7: "seven", 13: "thirteen", 20: "twenty", 42: "forty-two", 100: "one hundred",
		586: "five hundred and eighty-six", 999: "nine hundred and ninety-nine", 1000: "", -1: ""} {
		require.Equal(t, want, inWords(n))
	}
	seen := map[string]bool{}
	for n := range 1000 {
		require.False(t, seen[inWords(n)])
		seen[inWords(n)] = true
	}
}
