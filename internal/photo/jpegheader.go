package photo

import (
	"bytes"
	"encoding/binary"
)

// readJPEG walks over the segments without decoding any. Like most readers it forgives bytes
// between segments.
func readJPEG(data []byte) (header, error) {
	h := header{mediaType: "image/jpeg", orientation: 1}
	scans, noted := 0, false
	for at := 2; ; {
		marker, after := nextMarker(data, at)
		at = after
		switch {
		case marker == 0:
			return h, damaged("it ends too early")
		case marker == 0xd9: // end of the picture; what follows is not looked at
			if h.width == 0 || scans == 0 {
				return h, damaged("it holds no picture")
			}
			return h, nil
		}
		if len(data)-at < 2 {
			return h, damaged("it ends too early")
		}
		length := int(binary.BigEndian.Uint16(data[at:]))
		if length < 2 || length > len(data)-at {
			return h, damaged("a part of it is cut off")
		}
		segment := data[at+2 : at+length]
		at += length
		switch {
		case marker == 0xe1 && !noted && bytes.HasPrefix(segment, []byte("Exif\x00\x00")):
			h.orientation, noted = exifOrientation(segment[6:]), true
		case marker == 0xda:
			if scans++; scans > maxScans {
				return h, bad("Save it as an ordinary JPEG that is not progressive.", "the picture comes in more than %d passes", maxScans)
			}
		case marker == 0xc0 || marker == 0xc1 || marker == 0xc2:
			if h.width != 0 {
				return h, damaged("it states two sizes")
			}
			if err := h.frame(segment, marker == 0xc2); err != nil {
				return h, err
			}
			// Judge now: the rest of a forged file is not worth a look.
			if err := h.withinLimits(); err != nil {
				return h, err
			}
		case marker >= 0xc3 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc:
			return h, bad("Save it as an ordinary JPEG.", "the picture is a rare kind of JPEG (lossless or arithmetic)")
		}
	}
}

// nextMarker finds the next marker that carries a segment, or the end marker; 0 when there is none.
func nextMarker(data []byte, at int) (marker byte, after int) {
	for {
		i := bytes.IndexByte(data[at:], 0xff)
		if i < 0 || at+i+1 >= len(data) {
			return 0, len(data)
		}
		at += i + 1
		m := data[at]
		if m == 0xff {
			continue // fill byte
		}
		at++
		// Zero: a data byte 0xff. 0x01, 0xd0 to 0xd8: markers without a segment.
		if m > 0x01 && (m < 0xd0 || m > 0xd8) {
			return m, at
		}
	}
}

// frame reads size and memory from the start of a frame. T.81, B.2.2.
func (h *header) frame(segment []byte, progressive bool) error {
	if len(segment) < 6 || len(segment) != 6+3*int(segment[5]) || segment[5] < 1 || segment[5] > 4 {
		return damaged("its size cannot be read")
	}
	h.height = int(binary.BigEndian.Uint16(segment[1:]))
	h.width = int(binary.BigEndian.Uint16(segment[3:]))
	if h.width == 0 || h.height == 0 {
		return damaged("it has no pixels")
	}
	// Every component has h·v samples for each hmax·vmax pixels.
	var sum, across, down int64
	for c := 6; c < len(segment); c += 3 {
		x, y := int64(segment[c+1]>>4), int64(segment[c+1]&15)
		sum, across, down = sum+x*y, max(across, x), max(down, y)
	}
	if across == 0 || down == 0 {
		return damaged("its size cannot be read")
	}
	samples := int64(h.width) * int64(h.height) * sum / (across * down)
	h.memory = samples
	if progressive {
		h.memory += 4 * samples // the coefficients of all passes are kept, as 32-bit numbers
	}
	if segment[5] == 4 {
		h.memory += samples // ink colours are gathered in a second picture
	}
	return nil
}

// exifOrientation finds the tag in the first directory; what cannot be read counts as upright.
func exifOrientation(tiff []byte) int {
	if len(tiff) < 8 {
		return 1
	}
	var order binary.ByteOrder
	switch string(tiff[:4]) {
	case "II*\x00":
		order = binary.LittleEndian
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return 1
	}
	start := int64(order.Uint32(tiff[4:]))
	if start < 8 || start+2 > int64(len(tiff)) {
		return 1
	}
	entries := tiff[start+2:]
	for range order.Uint16(tiff[start:]) {
		if len(entries) < 12 {
			return 1
		}
		const orientation, short = 0x0112, 3
		if order.Uint16(entries) == orientation && order.Uint16(entries[2:]) == short && order.Uint32(entries[4:]) == 1 {
			if o := int(order.Uint16(entries[8:])); o >= 1 && o <= 8 {
				return o
			}
			return 1
		}
		entries = entries[12:]
	}
	return 1
}
