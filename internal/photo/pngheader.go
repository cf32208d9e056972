package photo

import "encoding/binary"

// readPNG walks over the chunks without unpacking any.
func readPNG(data []byte) (header, error) {
	h := header{mediaType: "image/png", orientation: 1}
	pixels := false
	for rest := data[len(pngSignature):]; ; {
		if len(rest) < 12 {
			return h, damaged("it ends too early")
		}
		length := int64(binary.BigEndian.Uint32(rest))
		if length > int64(len(rest)-12) {
			return h, damaged("a part of it is cut off")
		}
		name, chunk := string(rest[4:8]), rest[8:8+length]
		rest = rest[12+length:]
		if (name == "IHDR") != (h.width == 0) {
			return h, damaged("its size does not come first and once")
		}
		switch name {
		case "IHDR":
			if length != 13 {
				return h, damaged("its size cannot be read")
			}
			wide, high := binary.BigEndian.Uint32(chunk), binary.BigEndian.Uint32(chunk[4:])
			if wide == 0 || high == 0 || wide > 1<<31-1 || high > 1<<31-1 {
				return h, damaged("its size cannot be read")
			}
			h.width, h.height = int(wide), int(high)
			h.memory = pngMemory(int64(wide), int64(high), chunk[8], chunk[9], chunk[12] != 0)
			if err := h.withinLimits(); err != nil {
				return h, err
			}
		case "acTL":
			return h, bad("Send a single picture.", "the picture is animated")
		case "eXIf":
			h.orientation = exifOrientation(chunk)
		case "IDAT":
			pixels = true
		case "IEND": // what follows is not looked at
			if !pixels {
				return h, damaged("it holds no picture")
			}
			return h, nil
		}
	}
}

// pngMemory is the most that the decoder's picture takes; an interlaced one is gathered from a
// second. Sizes that overflow here have too many pixels anyway.
func pngMemory(wide, high int64, depth, colour byte, interlaced bool) int64 {
	perPixel := int64(4)
	switch {
	case colour == 3: // palette
		perPixel = 1
	case depth == 16:
		perPixel = 8
	}
	if interlaced {
		perPixel *= 2
	}
	return wide * high * perPixel
}
