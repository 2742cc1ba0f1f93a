package scene

import (
	"bytes"
	"context"
	"image"
	"image/jpeg"
	"math"

	"hidechart/hide"
)

// sensor is how the camera turns light into numbers.
type sensor struct {
	blur    [blurReach + 1]float32 // half of the point spread, centre first
	far     []float32              // the same instead of blur where it reaches farther
	well    float64                // electrons of a full pixel
	read    float64                // electrons of read noise
	quality int                    // of the JPEG
	grey    bool
	shake   int // pixels by which the camera moves along the rows during the exposure
	seed    uint64
	code    []uint8 // linear light, 16 bit, to sRGB
}

// blurReach is the reach of the blur in pixels: three times the largest sigma.
const blurReach = 3

// kernel is the half of the point spread in use.
func (n *sensor) kernel() []float32 {
	if n.far != nil {
		return n.far
	}
	return n.blur[:]
}

func (n *sensor) reach() int { return len(n.kernel()) - 1 }

// blurred fills half a point spread: a Gaussian of sigma pixels whose whole
// sums to 1.
func blurred(half []float32, sigma float64) {
	sum := float32(0)
	for i := range half {
		half[i] = float32(bell(float64(i) / sigma))
		sum += half[i] * float32(min(i, 1)+1)
	}
	for i := range half {
		half[i] /= sum
	}
}

// drawSensor invents a camera's blur, noise and compression.
func drawSensor(s source, spec Spec) sensor {
	n := sensor{well: s.log(9000, 40000), read: s.in(2, 8), quality: s.count(88, 97), grey: spec.Grey, seed: s.Uint64()}
	sigma := s.in(.45, .95)
	if spec.Phone {
		n.well, n.quality, sigma = s.log(2500, 9000), s.count(82, 92), s.in(.5, 1.0)
	}
	blurred(n.blur[:], sigma)
	if spec.BlurPX > 0 {
		n.far = make([]float32, max(blurReach, int(math.Ceil(3*spec.BlurPX)))+1)
		blurred(n.far, spec.BlurPX)
	}
	n.code = make([]uint8, 65536)
	for i := range n.code {
		n.code[i] = uint8(255*encode(float64(i)/65535) + .5)
	}
	return n
}

// encode is the sRGB transfer function (IEC 61966-2-1).
func encode(v float64) float64 {
	if v <= .0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - .055
}

// quantiles are 4096 values of a standard normal, in equal shares of
// probability, for noise by look-up (12 bits a draw).
func quantiles() []float32 {
	out := make([]float32, 4096)
	for i := range out {
		p := (float64(i) + .5) / 4096
		out[i] = float32(math.Sqrt2 * math.Erfinv(2*p-1))
	}
	return out
}

// photograph renders one light and returns the JPEG.
func (st *stage) photograph(ctx context.Context, g lighting, n sensor) ([]byte, error) {
	lg, err := newLensGrid(ctx, st.cam, &g, st.leather.thick)
	if err != nil {
		return nil, err
	}
	w, h := st.cam.width, st.cam.height
	im := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
	n.seed = splitMix(n.seed ^ uint64(len(g.light)) ^ uint64(g.light[len(g.light)-1])<<8)
	normal := quantiles()
	const rows = 64 // of a band: even, and its blur's margin is a tenth of it
	err = bands(ctx, (h+rows-1)/rows, func(i int) {
		y0, y1 := i*rows, min((i+1)*rows, h)
		lin := st.expose(g, lg, y0-n.reach(), y1+n.reach())
		n.smear(lin, w)
		n.develop(lin, im, y0, y1, normal)
	})
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	opts := &jpeg.Options{Quality: n.quality}
	if n.grey {
		err = jpeg.Encode(&out, &image.Gray{Pix: im.Y, Stride: im.YStride, Rect: im.Rect}, opts)
	} else {
		err = jpeg.Encode(&out, im, opts)
	}
	if err != nil {
		return nil, hide.Wrapf(hide.Internal, err, "scene: encode %s", g.light)
	}
	return out.Bytes(), nil
}

// develop blurs linear light, adds noise, codes and stores rows y0 to y1.
func (n *sensor) develop(lin []float32, im *image.YCbCr, y0, y1 int, normal []float32) {
	w := im.Rect.Dx()
	flat := make([]float32, w*3)
	wide := make([]float32, w*3)
	rgb := [2][]uint8{make([]uint8, w*3), make([]uint8, w*3)}
	for y := y0; y < y1; y++ {
		n.column(lin, flat, y-y0, w)
		n.line(flat, wide, w)
		n.noisy(wide, rgb[y&1], uint64(y)*uint64(w), normal)
		if y&1 == 1 {
			store(im, y-1, rgb)
		}
	}
}

// column blurs along the columns into out.
func (n *sensor) column(lin, out []float32, row, w int) {
	half, reach := n.kernel(), n.reach()
	for k := -reach; k <= reach; k++ {
		b := half[max(k, -k)]
		src := lin[(row+reach+k)*w*3:][:w*3]
		if k == -reach {
			for i, v := range src {
				out[i] = b * v
			}
			continue
		}
		for i, v := range src {
			out[i] += b * v
		}
	}
}

// line blurs along the row.
func (n *sensor) line(in, out []float32, w int) {
	last := w*3 - 1
	half := n.kernel()
	for i := range out {
		sum := half[0] * in[i]
		for k := 1; k < len(half); k++ {
			l, r := i-3*k, i+3*k
			if l < 0 {
				l = i % 3
			}
			if r > last {
				r = last - 2 + i%3
			}
			sum += half[k] * (in[l] + in[r])
		}
		out[i] = sum
	}
}

// noisy adds shot and read noise and codes to sRGB. The random bits are a
// function of the pixel.
func (n *sensor) noisy(in []float32, out []uint8, base uint64, normal []float32) {
	perE := float32(1 / n.well)
	read2 := float32(n.read*n.read) * perE * perE
	for x := range len(in) / 3 {
		bits := splitMix(n.seed + base + uint64(x))
		for c := range 3 {
			v := max(in[3*x+c], 0)
			v += normal[bits&4095] * float32(math.Sqrt(float64(v*perE+read2)))
			bits >>= 12
			out[3*x+c] = n.code[int(min(max(v, 0), 1)*65535+.5)]
		}
	}
}

// store converts two rows to full-range YCbCr (JFIF, ITU-T T.871) with one
// chroma pair per four pixels.
func store(im *image.YCbCr, y int, rgb [2][]uint8) {
	for x := 0; x+1 < im.Rect.Dx(); x += 2 {
		var cb, cr float32
		for dy := range 2 {
			for dx := range 2 {
				i := 3 * (x + dx)
				r, g, b := float32(rgb[dy][i]), float32(rgb[dy][i+1]), float32(rgb[dy][i+2])
				im.Y[(y+dy)*im.YStride+x+dx] = uint8(.299*r + .587*g + .114*b + .5)
				cb += -.168736*r - .331264*g + .5*b
				cr += .5*r - .418688*g - .081312*b
			}
		}
		at := (y/2)*im.CStride + x/2
		im.Cb[at] = uint8(min(max(cb/4+128.5, 0), 255))
		im.Cr[at] = uint8(min(max(cr/4+128.5, 0), 255))
	}
}
