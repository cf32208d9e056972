package photo

import (
	"image"
	"image/draw"
)

// reduce scales a picture down until its longer side has at most longest pixels; a smaller one
// keeps its size. Every pixel is the mean of the area that it covers, in whole numbers, so the
// result is the same on every machine.
func reduce(src image.Image, longest int) *image.RGBA {
	b := src.Bounds()
	sw, sh := b.Dx(), b.Dy()
	dw, dh := sw, sh
	if long := max(sw, sh); long > longest {
		dw, dh = max(1, (sw*longest+long/2)/long), max(1, (sh*longest+long/2)/long)
	}
	dst := image.NewRGBA(image.Rect(0, 0, dw, dh))
	// Rows are turned into RGBA a few at a time: a whole copy of the upload would be large.
	strip := image.NewRGBA(image.Rect(0, 0, sw, 16))
	sum := make([]uint64, 4*dw)
	row := make([]uint64, 4*dw)
	out, filled := 0, 0 // the row being gathered, and how much of its sh parts
	for y := range sh {
		if y%16 == 0 {
			draw.Draw(strip, strip.Rect, src, image.Pt(b.Min.X, b.Min.Y+y), draw.Src)
		}
		reduceRow(row, strip.Pix[(y%16)*strip.Stride:][:4*sw], sw, dw)
		// In parts of 1/sh of a row of dst, each row of src covers dh.
		for left := dh; left > 0; {
			part := min(left, sh-filled)
			for i, v := range row {
				sum[i] += v * uint64(part)
			}
			left -= part
			if filled += part; filled == sh {
				whole := uint64(sw) * uint64(sh)
				for i, v := range sum {
					dst.Pix[out*dst.Stride+i] = uint8((v + whole/2) / whole)
				}
				clear(sum)
				out, filled = out+1, 0
			}
		}
	}
	return dst
}

// reduceRow sums a row of sw pixels into dw; each sum has the weight sw.
func reduceRow(row []uint64, pix []uint8, sw, dw int) {
	clear(row)
	x, filled := 0, 0
	for i := 0; i < len(pix); i += 4 {
		for left := dw; left > 0; {
			part := min(left, sw-filled)
			for c := range 4 {
				row[4*x+c] += uint64(pix[i+c]) * uint64(part)
			}
			left -= part
			if filled += part; filled == sw {
				x, filled = x+1, 0
			}
		}
	}
}

// upright turns and mirrors a picture so that it stands as its Exif orientation says.
func upright(src *image.RGBA, orientation int) *image.RGBA {
	if orientation <= 1 || orientation > 8 {
		return src
	}
	w, h := src.Rect.Dx(), src.Rect.Dy()
	dw, dh := w, h
	if orientation >= 5 {
		dw, dh = h, w
	}
	dst := image.NewRGBA(image.Rect(0, 0, dw, dh))
	for y := range dh {
		for x := range dw {
			var from image.Point
			switch orientation {
			case 2: // mirrored left to right
				from = image.Pt(w-1-x, y)
			case 3: // upside down
				from = image.Pt(w-1-x, h-1-y)
			case 4: // mirrored top to bottom
				from = image.Pt(x, h-1-y)
			case 5: // mirrored along the falling diagonal
				from = image.Pt(y, x)
			case 6: // to be turned clockwise
				from = image.Pt(y, h-1-x)
			case 7: // mirrored along the rising diagonal
				from = image.Pt(w-1-y, h-1-x)
			case 8: // to be turned counter-clockwise
				from = image.Pt(w-1-y, x)
			}
			copy(dst.Pix[dst.PixOffset(x, y):][:4], src.Pix[src.PixOffset(from.X, from.Y):][:4])
		}
	}
	return dst
}
