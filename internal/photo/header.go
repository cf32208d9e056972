package photo

import "bytes"

// header is what is known of a picture before it is decoded.
type header struct {
	mediaType     string
	width, height int
	memory        int64 // bytes that decoding takes
	orientation   int   // 1 to 8, as in Exif
}

const pngSignature = "\x89PNG\r\n\x1a\n"

func readHeader(data []byte) (header, error) {
	switch {
	case len(data) == 0:
		return header{}, bad("Choose a picture.", "the picture is empty")
	case len(data) > MaxBytes:
		return header{}, bad("Send a smaller one.", "the picture has %.1f MB, at most %d MB are read", float64(len(data))/1e6, MaxBytes/1_000_000)
	case bytes.HasPrefix(data, []byte("\xff\xd8\xff")):
		return readJPEG(data)
	case bytes.HasPrefix(data, []byte(pngSignature)):
		return readPNG(data)
	}
	return header{}, bad("Send a JPEG or PNG. A telephone that writes another form can be set to JPEG in its camera's settings.",
		"the file is %s, not a JPEG or PNG picture", kind(data))
}

// kind names what people upload by mistake.
func kind(data []byte) string {
	text := bytes.ToLower(bytes.TrimSpace(data[:min(len(data), 512)]))
	has := func(at int, s string) bool { return len(data) >= at && bytes.HasPrefix(data[at:], []byte(s)) }
	switch {
	case has(0, "GIF8"):
		return "a GIF"
	case has(0, "RIFF") && has(8, "WEBP"):
		return "a WebP picture"
	case has(4, "ftyp"):
		return "a HEIC or AVIF picture, or a film"
	case has(0, "%PDF"):
		return "a PDF"
	case has(0, "II*\x00"), has(0, "MM\x00*"):
		return "a TIFF or raw picture"
	case has(0, "BM"):
		return "a bitmap"
	case has(0, "PK\x03\x04"):
		return "a ZIP archive"
	case bytes.HasPrefix(text, []byte("<")):
		return "SVG, HTML or other marked-up text"
	}
	return "of an unknown kind"
}

func (h header) withinLimits() error {
	pixels := int64(h.width) * int64(h.height)
	const smaller = "Send it scaled down; 2048 pixels are kept in any case."
	switch {
	case h.width < 1 || h.height < 1:
		return damaged("it has no pixels")
	case pixels > MaxPixels:
		return bad(smaller, "the picture has %d × %d pixels, that is more than %d million", h.width, h.height, MaxPixels/1_000_000)
	case h.width > MaxSide || h.height > MaxSide:
		return bad(smaller, "the picture has %d × %d pixels, at most %d are read on a side", h.width, h.height, MaxSide)
	case h.memory > MaxMemory:
		return bad("Send it scaled down, or saved as an ordinary JPEG that is not progressive.",
			"the picture of %d × %d pixels would take %d MB to read, at most %d MB are allowed", h.width, h.height, h.memory/1_000_000, MaxMemory/1_000_000)
	}
	return nil
}
