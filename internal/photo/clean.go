package photo

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"

	"wreath/internal/strictjson"
)

// Limits of an upload.
const (
	MaxBytes  = 20_000_000  // of the file
	MaxPixels = 50_000_000  // width times height
	MaxSide   = 20_000      // pixels
	MaxMemory = 400_000_000 // bytes that decoding may take
	maxScans  = 64          // passes of a progressive JPEG; usual are 10
)

// Size of what comes out, in pixels of the longer side.
const (
	Longest   = 2048
	Thumbnail = 320
)

// Picture is one picture that this package wrote.
type Picture struct {
	MediaType string // "image/jpeg" or "image/png"
	Bytes     []byte
	SHA256    string // of Bytes, in hexadecimal digits
	Width     int    // pixels
	Height    int    // pixels
}

// Photo is a cleaned upload and its small copy.
type Photo struct {
	Picture
	Thumbnail Picture
}

// Clean makes an upload safe. A *strictjson.FieldError without a path says why it is refused and
// what to send instead.
func Clean(upload []byte) (Photo, error) {
	h, err := readHeader(upload)
	if err != nil {
		return Photo{}, err
	}
	if err := h.withinLimits(); err != nil {
		return Photo{}, err
	}
	decode, config := jpeg.Decode, jpeg.DecodeConfig
	if h.mediaType == "image/png" {
		decode, config = png.Decode, png.DecodeConfig
	}
	// The decoder must see the size that was judged; anything else is a forgery.
	c, err := config(bytes.NewReader(upload))
	if err != nil {
		return Photo{}, unreadable(err)
	}
	if c.Width != h.width || c.Height != h.height {
		return Photo{}, damaged("it states two sizes")
	}
	img, err := decode(bytes.NewReader(upload))
	if err != nil {
		return Photo{}, unreadable(err)
	}
	large := reduce(img, Longest)
	large = upright(large, h.orientation)

	var p Photo
	if p.Picture, err = write(h.mediaType, large); err != nil {
		return Photo{}, err
	}
	p.Thumbnail, err = write(h.mediaType, reduce(large, Thumbnail))
	return p, err
}

func write(mediaType string, img *image.RGBA) (Picture, error) {
	var out bytes.Buffer
	var err error
	if mediaType == "image/png" {
		err = png.Encode(&out, img)
	} else {
		err = jpeg.Encode(&out, img, &jpeg.Options{Quality: 88})
	}
	if err != nil {
		return Picture{}, fmt.Errorf("write the picture: %w", err)
	}
	sum := sha256.Sum256(out.Bytes())
	size := img.Bounds().Size()
	return Picture{mediaType, out.Bytes(), hex.EncodeToString(sum[:]), size.X, size.Y}, nil
}

func bad(hint, reason string, args ...any) error {
	return &strictjson.FieldError{Reason: fmt.Sprintf(reason, args...), Hint: hint}
}

func unreadable(err error) error {
	var ofJPEG jpeg.UnsupportedError
	var ofPNG png.UnsupportedError
	if errors.As(err, &ofJPEG) || errors.As(err, &ofPNG) {
		return bad("Save it as an ordinary JPEG or PNG.", "the picture is of a rare kind: %v", err)
	}
	return damaged(err.Error())
}

func damaged(why string) error {
	return bad("Take or export the picture again; was the upload cut off?", "the picture is damaged: %s", why)
}
