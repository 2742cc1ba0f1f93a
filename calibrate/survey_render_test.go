package calibrate

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"hidechart/hide"
	"hidechart/pix"
)

// rendered is a JPEG of the rig's tags on a grey table: pixels are means of 6 × 6
// rays in linear light, blurred, coded as sRGB (IEC 61966-2-1), with noise, at
// quality 92.
func rendered(t *testing.T, v View, rig Rig, rnd *rand.Rand) []byte {
	t.Helper()
	w, h := v.Camera.Width, v.Camera.Height
	light := make([]float64, w*h)
	for i := range light {
		light[i] = 0.25
	}
	for _, id := range rig.IDs() {
		drawTag(t, v, rig, id, light)
	}
	light = softened(light, w, h)
	im := image.NewGray(image.Rect(0, 0, w, h))
	for i, l := range light {
		c := 12.92 * l
		if l > 0.0031308 {
			c = 1.055*math.Pow(l, 1/2.4) - 0.055
		}
		c = math.Round(255*c + 1.2*rnd.NormFloat64())
		im.SetGray(i%w, i/w, color.Gray{Y: uint8(min(max(c, 0), 255))})
	}
	return encoded(t, im)
}

func encoded(t *testing.T, im image.Image) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, im, &jpeg.Options{Quality: 92}))
	return out.Bytes()
}

func stdDecoded(t *testing.T, data []byte) image.Image {
	t.Helper()
	im, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	return im
}

// drawTag paints one sheet where the photograph shows it.
func drawTag(t *testing.T, v View, rig Rig, id int, light []float64) {
	t.Helper()
	pattern, err := TagPattern(id)
	require.NoError(t, err)
	w, h := v.Camera.Width, v.Camera.Height
	c, reach := rig.Centres[id], rig.TagEdge
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), 0.0, 0.0
	for _, d := range [4][2]hide.MM{{-reach, -reach}, {reach, -reach}, {reach, reach}, {-reach, reach}} {
		p := v.Project(c.X+d[0], c.Y+d[1], 0)
		x0, y0, x1, y1 = min(x0, float64(p.X)), min(y0, float64(p.Y)), max(x1, float64(p.X)), max(y1, float64(p.Y))
	}
	sin, cos := math.Sincos(rig.TurnsDeg[id] * math.Pi / 180)
	cell := float64(rig.TagEdge) / TagCells
	const rays = 6
	for y := max(int(y0), 0); y <= min(int(y1), h-1); y++ {
		for x := max(int(x0), 0); x <= min(int(x1), w-1); x++ {
			at := v.Ground(pix.Point{X: hide.PX(x), Y: hide.PX(y)}, 0)
			right := v.Ground(pix.Point{X: hide.PX(x) + 1, Y: hide.PX(y)}, 0)
			down := v.Ground(pix.Point{X: hide.PX(x), Y: hide.PX(y) + 1}, 0)
			sum := 0.0
			for i := range rays * rays {
				// each row of rays shifted against the last: a square grid would round
				// edges along it to sixths of a pixel
				a := hide.MM((float64(i%rays)+(float64(i/rays)+0.5)/rays)/rays - 0.5)
				b := hide.MM((float64(i/rays)+(float64(i%rays)+0.5)/rays)/rays - 0.5)
				dx := float64(at.X + a*(right.X-at.X) + b*(down.X-at.X) - c.X)
				dy := float64(at.Y + a*(right.Y-at.Y) + b*(down.Y-at.Y) - c.Y)
				col := int(math.Floor((dx*cos+dy*sin)/cell)) + TagCells/2 + QuietCells
				row := TagCells/2 + QuietCells - 1 - int(math.Floor((-dx*sin+dy*cos)/cell))
				switch {
				case col < 0 || row < 0 || row >= len(pattern) || col >= len(pattern):
					sum += 0.25
				case pattern[row][col]:
					sum += 0.8
				default:
					sum += 0.04
				}
			}
			light[y*w+x] = sum / (rays * rays)
		}
	}
}

// softened is a Gaussian of 0.7 px.
func softened(in []float64, w, h int) []float64 {
	k := [5]float64{}
	total := 0.0
	for i := range k {
		d := float64(i - 2)
		k[i] = math.Exp(-d * d / 2 / 0.49)
		total += k[i]
	}
	pass := func(in []float64, step, n, stride, lines int) []float64 {
		out := make([]float64, len(in))
		for l := range lines {
			for i := range n {
				for j, f := range k {
					out[l*stride+i*step] += f / total * in[l*stride+min(max(i+j-2, 0), n-1)*step]
				}
			}
		}
		return out
	}
	return pass(pass(in, 1, w, w, h), w, h, 1, w)
}

// On JPEG photographs of 1,800 × 1,200 px of a table of 3.3 m, through decoding and
// tag finding, tag centres come within 0.3 mm.
func TestSurveyRendered(t *testing.T) {
	if testing.Short() {
		t.Skip("six renders")
	}
	rnd := newRand(21)
	rig := surveyRig(16, rnd)
	var photos []SurveyPhoto
	var size image.Point
	for i, v := range around(6, rnd) {
		v.Camera = v.Camera.scaled(1800, 1200)
		photo, s := seenInJPEG(t, string(rune('a'+i)), rendered(t, v, rig, rnd))
		photos, size = append(photos, photo), s
	}
	p := DefaultSurveyParams(100)
	p.Known = []KnownLength{{A: 0, B: 9, Length: rig.Centres[0].Distance(rig.Centres[9]), U: 0.1}}
	s, err := SurveyTags(photos, size, nil, p)
	require.NoError(t, err)
	require.Len(t, s.Tags, 16)
	off := worst(offRigid(s, rig.Centres))
	t.Logf("worst %.3f mm, stated u %.3f mm, residuals %.3f px, edge %.3f ± %.3f", off, s.Rig.CentreU, s.RMSPX, s.Rig.TagEdge, s.EdgeU)
	require.Less(t, off, 0.3)
}

func seenInJPEG(t *testing.T, name string, data []byte) (SurveyPhoto, image.Point) {
	t.Helper()
	sc := pix.NewScope()
	defer sc.Close()
	im, err := pix.Decode(data, pix.DefaultLimits())
	require.NoError(t, err)
	linear, err := pix.Linear(sc.Keep(im))
	require.NoError(t, err)
	grey, err := pix.Grey(sc.Keep(linear))
	require.NoError(t, err)
	sc.Keep(grey)
	seen, err := FindSurveyTags(name, grey)
	require.NoError(t, err)
	return SurveyPhoto{Name: name, Seen: seen}, grey.Bounds().Size()
}
