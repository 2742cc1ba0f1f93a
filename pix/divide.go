package pix

import "hidechart/hide"

// Divide divides a U16 picture by a smooth F32 field given in cells of cellPX
// pixels of the picture, from the same corner: bilinear between the cells'
// middles, straight on beyond the outermost ones. The field has one channel or the picture's, and
// every value above 0. Results are rounded and cut off at 65535. The caller closes
// the result. Error: Invalid for other kinds.
func Divide(im, field *Image, cellPX float64) (*Image, error) {
	if err := dividable(im, field, cellPX); err != nil {
		return nil, err
	}
	out := unset(im.Width(), im.Height(), U16, im.Channels())
	dst, width := out.Uint16s(), im.Width()*im.Channels()
	divided(im, field, cellPX, func(y int, row []uint16) { copy(dst[y*width:], row) })
	return out, nil
}

// DivideForEye is Divide and then EightBit.
func DivideForEye(im, field *Image, cellPX float64) (*Image, error) {
	if err := dividable(im, field, cellPX); err != nil {
		return nil, err
	}
	table := codedTable()
	out := unset(im.Width(), im.Height(), U8, im.Channels())
	dst, width := out.Bytes(), im.Width()*im.Channels()
	divided(im, field, cellPX, func(y int, row []uint16) {
		d := dst[y*width : (y+1)*width]
		for i, v := range row {
			d[i] = table[v]
		}
	})
	return out, nil
}

func dividable(im, field *Image, cellPX float64) error {
	if im.Depth() != U16 || field.Depth() != F32 || (field.Channels() != 1 && field.Channels() != im.Channels()) {
		return hide.Faultf(hide.Invalid, "divide: want 16 bits by float, with one channel or the same")
	}
	if field.mat.Empty() || !(cellPX > 0) {
		return hide.Faultf(hide.Invalid, "divide: the field is empty or its cells are")
	}
	return nil
}

// divided hands out the quotient row by row, from several goroutines; a row is valid until keep returns.
func divided(im, field *Image, cellPX float64, keep func(y int, row []uint16)) {
	src, f := im.Uint16s(), field.Float32s()
	w, ch, fw, fch := im.Width(), im.Channels(), field.Width(), field.Channels()
	columns := cells(w, fw, cellPX)
	rows := cells(im.Height(), field.Height(), cellPX)
	bands(im.Height(), func(from, end int) {
		line, row := make([]float32, fw*ch), make([]uint16, w*ch) // the field at this row, and the quotient
		for y := from; y < end; y++ {
			r := rows[y]
			for i := range line {
				j := i / ch * fch
				if fch > 1 {
					j = i
				}
				a, b := f[r.at*fw*fch+j], f[r.next*fw*fch+j]
				line[i] = a + r.share*(b-a)
			}
			divideRow(row, src[y*w*ch:(y+1)*w*ch], line, columns, ch)
			keep(y, row)
		}
	})
}

// divideRow divides a row of pixels by what lies between the cells of line.
func divideRow(dst, src []uint16, line []float32, columns []cell, ch int) {
	for x, c := range columns {
		from, to := src[x*ch:(x+1)*ch], dst[x*ch:(x+1)*ch]
		a, b := line[c.at*ch:(c.at+1)*ch], line[c.next*ch:(c.next+1)*ch]
		for k, v := range from {
			to[k] = uint16(min(float32(v)/(a[k]+c.share*(b[k]-a[k]))+0.5, 65535))
		}
	}
}

// cell says between which cells' middles a pixel lies.
type cell struct {
	at, next int
	share    float32
}

func cells(pixels, n int, size float64) []cell {
	out := make([]cell, pixels)
	for i := range out {
		p := (float64(i)+0.5)/size - 0.5
		at := min(max(int(p), 0), max(n-2, 0))
		// not more than a cell beyond: a field that does not cover the picture must not run away
		out[i] = cell{at: at, next: min(at+1, n-1), share: float32(min(max(p-float64(at), -1), 2))}
	}
	return out
}
