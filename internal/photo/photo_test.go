package photo

import (
	"bytes"
	"compress/zlib"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"wreath/internal/strictjson"
)

var (
	red, green, blue, white = color.RGBA{200, 0, 0, 255}, color.RGBA{0, 180, 0, 255}, color.RGBA{0, 0, 200, 255}, color.RGBA{255, 255, 255, 255}
)

// quarters is a picture of four plain quarters: top left, top right, bottom left, bottom right.
func quarters(w, h int, tl, tr, bl, br color.RGBA) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := [2][2]color.RGBA{{tl, tr}, {bl, br}}[y*2/h][x*2/w]
			img.SetRGBA(x, y, c)
		}
	}
	return img
}

func asJPEG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asPNG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// exif is an Exif block with the orientation and a text where a place would stand.
func exif(order interface {
	binary.ByteOrder
	binary.AppendByteOrder
}, orientation int, place string) []byte {
	mark := "II*\x00"
	if order.String() == "BigEndian" {
		mark = "MM\x00*"
	}
	b := order.AppendUint32([]byte(mark), 8)
	b = order.AppendUint16(b, 2)
	entry := func(tag, kind uint16, count, value uint32) {
		b = order.AppendUint16(order.AppendUint16(b, tag), kind)
		b = order.AppendUint32(order.AppendUint32(b, count), value)
	}
	entry(0x010e, 2, uint32(len(place)), 8+2+24+4) // a description, stored behind
	at := len(b)
	entry(0x0112, 3, 1, 0)
	order.PutUint16(b[at+8:], uint16(orientation))
	b = order.AppendUint32(b, 0)
	return append(b, place...)
}

// withSegment puts a segment behind the first marker of a JPEG.
func withSegment(data []byte, marker byte, content []byte) []byte {
	out := []byte{0xff, 0xd8, 0xff, marker}
	out = binary.BigEndian.AppendUint16(out, uint16(2+len(content)))
	return append(append(out, content...), data[2:]...)
}

func chunk(name string, content []byte) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(content)))
	out = append(append(out, name...), content...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

// withChunk puts a chunk behind the header of a PNG.
func withChunk(data []byte, name string, content []byte) []byte {
	const header = 8 + 25
	return append(append(bytes.Clone(data[:header]), chunk(name, content)...), data[header:]...)
}

func clean(t testing.TB, data []byte) Photo {
	t.Helper()
	p, err := Clean(data)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func decoded(t testing.TB, p Picture) image.Image {
	t.Helper()
	img, kind, err := image.Decode(bytes.NewReader(p.Bytes))
	if err != nil {
		t.Fatal(err)
	}
	if "image/"+kind != p.MediaType || img.Bounds().Size() != image.Pt(p.Width, p.Height) {
		t.Errorf("it says %s, %d × %d, and is %s, %v", p.MediaType, p.Width, p.Height, kind, img.Bounds())
	}
	if want := fmt.Sprintf("%x", sha256.Sum256(p.Bytes)); p.SHA256 != want {
		t.Errorf("SHA-256 %s, want %s", p.SHA256, want)
	}
	return img
}

func near(a, b color.Color) bool {
	r1, g1, b1, a1 := a.RGBA()
	r2, g2, b2, a2 := b.RGBA()
	for _, d := range []int{int(r1) - int(r2), int(g1) - int(g2), int(b1) - int(b2), int(a1) - int(a2)} {
		if max(d, -d) > 24<<8 {
			return false
		}
	}
	return true
}

// What each orientation means, from the description of tag 0x0112 in Exif (CIPA DC-008; from
// memory): on which side of the upright picture the first stored row and the first stored column lie.
var orientations = []struct{ row, column string }{
	1: {"top", "left"}, 2: {"top", "right"}, 3: {"bottom", "right"}, 4: {"bottom", "left"},
	5: {"left", "top"}, 6: {"right", "top"}, 7: {"right", "bottom"}, 8: {"left", "bottom"},
}

func TestAllOrientations(t *testing.T) {
	opposite := map[string]string{"top": "bottom", "bottom": "top", "left": "right", "right": "left"}
	for o := 1; o <= 8; o++ {
		row, column := orientations[o].row, orientations[o].column
		// The colours of the upright picture, by corner.
		corner := func(a, b string) color.RGBA {
			return map[[2]string]color.RGBA{{"top", "left"}: red, {"top", "right"}: green, {"bottom", "left"}: blue, {"bottom", "right"}: white}[order(a, b)]
		}
		w, h := 96, 64 // as stored
		stored := quarters(w, h, corner(row, column), corner(row, opposite[column]), corner(opposite[row], column), corner(opposite[row], opposite[column]))
		if o >= 5 {
			w, h = h, w
		}
		for name, in := range map[string][]byte{
			"little-endian JPEG": withSegment(asJPEG(t, stored), 0xe1, append([]byte("Exif\x00\x00"), exif(binary.LittleEndian, o, "x")...)),
			"big-endian JPEG":    withSegment(asJPEG(t, stored), 0xe1, append([]byte("Exif\x00\x00"), exif(binary.BigEndian, o, "x")...)),
			"PNG":                withChunk(asPNG(t, stored), "eXIf", exif(binary.BigEndian, o, "x")),
		} {
			p := clean(t, in)
			for _, pic := range []Picture{p.Picture, p.Thumbnail} {
				img := decoded(t, pic)
				if pic.Width != w || pic.Height != h {
					t.Errorf("orientation %d, %s: %d × %d, want %d × %d", o, name, pic.Width, pic.Height, w, h)
				}
				for at, want := range map[image.Point]color.RGBA{{w / 4, h / 4}: red, {w * 3 / 4, h / 4}: green, {w / 4, h * 3 / 4}: blue, {w * 3 / 4, h * 3 / 4}: white} {
					if got := img.At(at.X, at.Y); !near(got, want) {
						t.Errorf("orientation %d, %s, at %v: %v, want %v", o, name, at, got, want)
					}
				}
			}
		}
	}
}

// order puts top or bottom first.
func order(a, b string) [2]string {
	if a == "top" || a == "bottom" {
		return [2]string{a, b}
	}
	return [2]string{b, a}
}

func TestNothingButPixelsComesOut(t *testing.T) {
	const place = "47.3769 N 8.5417 E"
	img := quarters(60, 40, red, green, blue, white)
	hidden := []byte(place + "<script>alert(1)</script>PK\x03\x04")
	in := asJPEG(t, img)
	in = withSegment(in, 0xe1, append([]byte("http://ns.adobe.com/xap/1.0/\x00"), hidden...))
	in = withSegment(in, 0xe2, append([]byte("ICC_PROFILE\x00\x01\x01"), hidden...))
	in = withSegment(in, 0xed, hidden)
	in = withSegment(in, 0xfe, hidden)
	in = withSegment(in, 0xe1, append([]byte("Exif\x00\x00"), exif(binary.LittleEndian, 1, place)...))
	in = append(append(in, hidden...), asJPEG(t, img)...)

	pic := asPNG(t, img)
	pic = withChunk(pic, "eXIf", exif(binary.LittleEndian, 1, place))
	pic = withChunk(pic, "tEXt", append([]byte("Comment\x00"), hidden...))
	pic = withChunk(pic, "prVt", hidden)
	pic = append(pic, hidden...)

	for _, in := range [][]byte{in, pic} {
		if !bytes.Contains(in, []byte(place)) {
			t.Fatal("the upload does not hold the place")
		}
		p := clean(t, in)
		for _, out := range []Picture{p.Picture, p.Thumbnail} {
			decoded(t, out)
			for _, bad := range []string{place, "Exif", "eXIf", "script", "PK\x03\x04", "ICC", "adobe", "tEXt", "prVt"} {
				if bytes.Contains(out.Bytes, []byte(bad)) {
					t.Errorf("%s: %q came through", out.MediaType, bad)
				}
			}
			for _, part := range parts(t, out) {
				if !strings.Contains(" db c0 c4 da d9 IHDR IDAT IEND ", " "+part+" ") {
					t.Errorf("%s: it holds a part %s", out.MediaType, part)
				}
			}
		}
	}
}

// parts lists the markers of a JPEG or the chunks of a PNG to the very last byte.
func parts(t *testing.T, p Picture) (names []string) {
	t.Helper()
	if p.MediaType == "image/jpeg" {
		at := 2
		for {
			marker, after := nextMarker(p.Bytes, at)
			names = append(names, fmt.Sprintf("%02x", marker))
			if at = after; marker == 0 || marker == 0xd9 {
				break
			}
			at += int(binary.BigEndian.Uint16(p.Bytes[at:]))
		}
		if at != len(p.Bytes) {
			t.Errorf("%d bytes follow the end", len(p.Bytes)-at)
		}
		return names
	}
	for rest := p.Bytes[8:]; len(rest) > 0; {
		names = append(names, string(rest[4:8]))
		rest = rest[12+binary.BigEndian.Uint32(rest):]
	}
	return names
}

// ihdr is a PNG that only states a size.
func ihdr(w, h uint32, depth, colour, interlaced byte) []byte {
	b := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	return append([]byte(pngSignature), chunk("IHDR", append(b, depth, colour, 0, 0, interlaced))...)
}

// sof is a JPEG that only states a size.
func sof(marker byte, w, h uint16, components int, sampling byte) []byte {
	b := binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16([]byte{8}, h), w)
	b = append(b, byte(components))
	for i := range components {
		b = append(b, byte(i+1), sampling, 0)
	}
	return withSegment([]byte{0xff, 0xd8, 0xff, 0xd9}, marker, b)
}

func TestBombsAreRefusedFromTheHeader(t *testing.T) {
	var zeros bytes.Buffer
	z := zlib.NewWriter(&zeros)
	for range 64 {
		if _, err := z.Write(make([]byte, 1<<20)); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	body := func(b []byte) []byte {
		return append(append(b, chunk("IDAT", zeros.Bytes())...), chunk("IEND", nil)...)
	}
	for name, c := range map[string]struct {
		in   []byte
		want string
	}{
		"PNG of 2.5 gigapixels":     {body(ihdr(50_000, 50_000, 8, 6, 0)), "more than 50 million"},
		"largest PNG":               {body(ihdr(1<<31-1, 1<<31-1, 16, 6, 1)), "more than 50 million"},
		"PNG of one more":           {body(ihdr(10_000, 5_001, 1, 0, 0)), "more than 50 million"},
		"long PNG":                  {body(ihdr(1, 40_000, 1, 0, 0)), "at most 20000"},
		"deep interlaced PNG":       {body(ihdr(7_000, 7_000, 16, 6, 1)), "MB to read"},
		"JPEG of 4 gigapixels":      {sof(0xc0, 65_535, 65_535, 3, 0x11), "more than 50 million"},
		"progressive, full colour":  {sof(0xc2, 7_000, 7_000, 3, 0x11), "MB to read"},
		"ink colours, progressive":  {sof(0xc2, 6_000, 6_000, 4, 0x22), "MB to read"},
		"size out of range in PNG":  {body(ihdr(1<<31, 1, 8, 6, 0)), "size"},
		"no width":                  {body(ihdr(0, 10, 8, 6, 0)), "size"},
		"JPEG without height":       {sof(0xc0, 10, 0, 3, 0x11), "no pixels"},
		"JPEG without sampling":     {sof(0xc0, 10, 10, 3, 0), "size"},
		"JPEG with five components": {sof(0xc0, 10, 10, 5, 0x11), "size"},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		start := time.Now()
		_, err := Clean(c.in)
		took := time.Since(start)
		runtime.ReadMemStats(&after)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
		// No decoder takes less than a megabyte for any of these, and none is done in this time.
		if used := after.TotalAlloc - before.TotalAlloc; used > 1<<18 || took > time.Second {
			t.Errorf("%s: took %d bytes and %v", name, used, took)
		}
	}
}

func TestRefused(t *testing.T) {
	img := quarters(40, 30, red, green, blue, white)
	goodJPEG, goodPNG := asJPEG(t, img), asPNG(t, img)
	var animated bytes.Buffer
	frame := image.NewPaletted(image.Rect(0, 0, 4, 4), color.Palette{red, green})
	if err := gif.EncodeAll(&animated, &gif.GIF{Image: []*image.Paletted{frame, frame}, Delay: []int{1, 1}}); err != nil {
		t.Fatal(err)
	}
	flipped := bytes.Clone(goodPNG)
	flipped[len(flipped)-20] ^= 1
	passes := bytes.Clone(goodJPEG[:len(goodJPEG)-2])
	for range maxScans {
		passes = append(passes, 0xff, 0xda, 0, 2)
	}
	passes = append(passes, 0xff, 0xd9)
	frame0 := bytes.Index(goodJPEG, []byte{0xff, 0xc0})
	lossless := bytes.Clone(goodJPEG)
	lossless[frame0+1] = 0xc3
	deep := bytes.Clone(goodJPEG)
	deep[frame0+4] = 12
	two := bytes.Clone(goodJPEG[:frame0])
	two = append(append(two, goodJPEG[frame0:frame0+19]...), goodJPEG[frame0:]...)
	for _, c := range []struct {
		name, want string
		in         []byte
	}{
		{"nothing", "empty", nil},
		{"too many bytes", "at most 20 MB", append(bytes.Clone(goodJPEG), make([]byte, MaxBytes)...)},
		{"GIF", "a GIF", animated.Bytes()},
		{"animated PNG", "animated", withChunk(goodPNG, "acTL", make([]byte, 8))},
		{"WebP", "a WebP", []byte("RIFF\x10\x00\x00\x00WEBPVP8 ")},
		{"HEIC", "a HEIC", []byte("\x00\x00\x00\x18ftypheic")},
		{"PDF", "a PDF", []byte("%PDF-1.7")},
		{"SVG", "marked-up", []byte("\n <?xml version='1.0'?><svg/>")},
		{"TIFF", "a TIFF", []byte("II*\x00")},
		{"bitmap", "a bitmap", []byte("BM12")},
		{"archive", "a ZIP", []byte("PK\x03\x04")},
		{"text", "unknown kind", []byte("hello")},
		{"one byte", "unknown kind", []byte("\xff")},
		{"only a start", "too early", []byte("\xff\xd8\xff")},
		{"JPEG without a picture", "no picture", []byte("\xff\xd8\xff\xd9")},
		{"JPEG of a frame only", "no picture", sof(0xc0, 8, 8, 1, 0x11)},
		{"JPEG cut off", "damaged", goodJPEG[:len(goodJPEG)/2]},
		{"JPEG without its end", "too early", goodJPEG[:len(goodJPEG)-2]},
		{"JPEG of two sizes", "two sizes", two},
		{"JPEG in too many passes", "passes", passes},
		{"lossless JPEG", "rare kind", lossless},
		{"JPEG of 12 bits", "rare kind", deep},
		{"PNG cut off", "cut off", goodPNG[:len(goodPNG)-30]},
		{"PNG without its end", "too early", goodPNG[:len(goodPNG)-12]},
		{"PNG with a flipped bit", "damaged", flipped},
		{"PNG without pixels", "no picture", append(ihdr(4, 4, 8, 2, 0), chunk("IEND", nil)...)},
		{"PNG of two sizes", "once", withChunk(goodPNG, "IHDR", goodPNG[16:29])},
		{"PNG without a size", "first", append([]byte(pngSignature), chunk("IEND", nil)...)},
		{"PNG of a short header", "size", append([]byte(pngSignature), chunk("IHDR", make([]byte, 12))...)},
		{"PNG of 3 bits", "rare kind", append(append(ihdr(4, 4, 3, 2, 0), chunk("IDAT", nil)...), chunk("IEND", nil)...)},
	} {
		_, err := Clean(c.in)
		var field *strictjson.FieldError
		if !errors.As(err, &field) || field.Hint == "" {
			t.Errorf("%s: error %v, want a FieldError with a hint", c.name, err)
			continue
		}
		if !strings.Contains(field.Reason, c.want) {
			t.Errorf("%s: %q, want …%s…", c.name, field.Reason, c.want)
		}
	}
}

func TestSizes(t *testing.T) {
	for _, c := range []struct{ w, h, wantW, wantH, thumbW, thumbH int }{
		{1, 1, 1, 1, 1, 1},
		{320, 10, 320, 10, 320, 10},
		{2048, 1024, 2048, 1024, 320, 160},
		{4096, 2048, 2048, 1024, 320, 160},
		{3000, 4000, 1536, 2048, 240, 320},
		{5, 9000, 1, 2048, 1, 320},
	} {
		p := clean(t, asPNG(t, image.NewGray(image.Rect(0, 0, c.w, c.h))))
		if p.Width != c.wantW || p.Height != c.wantH || p.Thumbnail.Width != c.thumbW || p.Thumbnail.Height != c.thumbH {
			t.Errorf("%d × %d: got %d × %d and %d × %d, want %d × %d and %d × %d", c.w, c.h,
				p.Width, p.Height, p.Thumbnail.Width, p.Thumbnail.Height, c.wantW, c.wantH, c.thumbW, c.thumbH)
		}
	}
}

// Every kind of pixel that the decoders give comes through.
func TestKindsOfPixels(t *testing.T) {
	r := image.Rect(0, 0, 20, 20)
	paint := func(img interface {
		image.Image
		Set(x, y int, c color.Color)
	}) image.Image {
		for y := range 20 {
			for x := range 20 {
				img.Set(x, y, color.Gray{200})
			}
		}
		return img
	}
	for name, img := range map[string]image.Image{
		"grey": paint(image.NewGray(r)), "grey 16": paint(image.NewGray16(r)), "colour": paint(image.NewNRGBA(r)),
		"colour 16": paint(image.NewNRGBA64(r)), "palette": paint(image.NewPaletted(r, color.Palette{color.Black, color.Gray{200}})),
	} {
		if got := decoded(t, clean(t, asPNG(t, img)).Picture).At(10, 10); !near(got, color.Gray{200}) {
			t.Errorf("%s: %v", name, got)
		}
	}
	if got := decoded(t, clean(t, asJPEG(t, paint(image.NewGray(r)))).Picture).At(10, 10); !near(got, color.Gray{200}) {
		t.Errorf("grey JPEG: %v", got)
	}
	// Colours under full transparency are hidden data.
	clear := image.NewNRGBA(r)
	for i := range clear.Pix {
		clear.Pix[i] = byte(i)
		if i%4 == 3 {
			clear.Pix[i] = 0
		}
	}
	if got := decoded(t, clean(t, asPNG(t, clear)).Picture).At(7, 7); got != (color.NRGBA{}) {
		t.Errorf("under transparency: %v", got)
	}
}

// reduce gives the mean of each area, checked against a sum over the shares of all pixels.
func TestReduceIsTheMeanOfTheArea(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 40).Draw(t, "w"), rapid.IntRange(1, 40).Draw(t, "h")
		longest := rapid.IntRange(1, 45).Draw(t, "longest")
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		src := image.NewRGBA(image.Rect(0, 0, w, h))
		for i := range src.Pix {
			src.Pix[i] = byte(random.UintN(256))
		}
		// Seen through a window whose corner is not at zero.
		shifted := &image.RGBA{Pix: src.Pix, Stride: src.Stride, Rect: src.Rect.Add(image.Pt(3, -5))}
		dst := reduce(shifted, longest)
		dw, dh := dst.Rect.Dx(), dst.Rect.Dy()
		if max(dw, dh) != min(max(w, h), longest) {
			t.Fatalf("%d × %d becomes %d × %d, longest is %d", w, h, dw, dh, longest)
		}
		share := func(pixel, n, of, m int) float64 { // how much of pixel of m lies in n of of
			low, high := float64(pixel)/float64(m), float64(pixel+1)/float64(m)
			return max(0, min(high, float64(n+1)/float64(of))-max(low, float64(n)/float64(of))) * float64(of)
		}
		for y := range dh {
			for x := range dw {
				for c := range 4 {
					want := 0.0
					for sy := range h {
						for sx := range w {
							want += share(sy, y, dh, h) * share(sx, x, dw, w) * float64(src.Pix[src.PixOffset(sx, sy)+c])
						}
					}
					if got := float64(dst.Pix[dst.PixOffset(x, y)+c]); got < want-0.5001 || got > want+0.5001 {
						t.Fatalf("%d × %d to %d × %d at %d, %d: %v, want %v", w, h, dw, dh, x, y, got, want)
					}
				}
			}
		}
	})
}

// A cleaned picture passes again, and keeps its size.
func TestCleanAgain(t *testing.T) {
	for _, in := range [][]byte{asJPEG(t, quarters(3000, 2001, red, green, blue, white)), asPNG(t, quarters(70, 51, red, green, blue, white))} {
		once := clean(t, in)
		twice := clean(t, once.Bytes)
		if once.Width != twice.Width || once.Height != twice.Height || once.MediaType != twice.MediaType {
			t.Errorf("%d × %d becomes %d × %d", once.Width, once.Height, twice.Width, twice.Height)
		}
		if again := clean(t, in); again.SHA256 != once.SHA256 {
			t.Error("the same upload gives other bytes")
		}
	}
}

func TestOrientationThatCannotBeRead(t *testing.T) {
	good := exif(binary.LittleEndian, 6, "x")
	change := func(at int, b byte) []byte {
		c := bytes.Clone(good)
		c[at] = b
		return c
	}
	if got := exifOrientation(good); got != 6 {
		t.Fatalf("orientation %d, want 6", got)
	}
	for name, tiff := range map[string][]byte{
		"empty": nil, "other mark": change(0, 'X'), "start before": change(4, 3), "start far behind": change(7, 0xff),
		"other type": change(8+2+12+2, 4), "orientation 9": change(8+2+12+8, 9), "orientation 0": change(8+2+12+8, 0), "cut off": good[:30],
	} {
		if got := exifOrientation(tiff); got != 1 {
			t.Errorf("%s: orientation %d, want 1", name, got)
		}
	}
}

// FuzzClean: no upload crashes, every refusal has a hint, and what comes out is within its limits
// and holds nothing but pixels.
func FuzzClean(f *testing.F) {
	img := quarters(24, 16, red, green, blue, white)
	f.Add(asJPEG(f, img))
	f.Add(asPNG(f, img))
	f.Add(withSegment(asJPEG(f, img), 0xe1, append([]byte("Exif\x00\x00"), exif(binary.BigEndian, 7, "x")...)))
	f.Add(withChunk(asPNG(f, img), "eXIf", exif(binary.LittleEndian, 5, "x")))
	f.Add(sof(0xc2, 8, 8, 3, 0x22))
	f.Add(ihdr(9, 9, 16, 4, 1))
	f.Fuzz(func(t *testing.T, data []byte) {
		if h, err := readHeader(data); err == nil && h.width*h.height > 1<<20 {
			return // large ones would only slow the search
		}
		p, err := Clean(data)
		if err != nil {
			var field *strictjson.FieldError
			if !errors.As(err, &field) || field.Hint == "" {
				t.Fatalf("error %v has no hint", err)
			}
			return
		}
		if max(p.Width, p.Height) > Longest || max(p.Thumbnail.Width, p.Thumbnail.Height) > Thumbnail {
			t.Fatalf("%d × %d is too large", p.Width, p.Height)
		}
		decoded(t, p.Picture)
		decoded(t, p.Thumbnail)
	})
}

func BenchmarkClean(b *testing.B) {
	img := image.NewYCbCr(image.Rect(0, 0, 4000, 3000), image.YCbCrSubsampleRatio420)
	random := rand.New(rand.NewPCG(1, 2))
	for i := range img.Y {
		img.Y[i] = byte(random.UintN(64))
	}
	in := asJPEG(b, img)
	b.ReportAllocs()
	for b.Loop() {
		clean(b, in)
	}
}
