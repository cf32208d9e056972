package paper

import (
	"bytes"
	"fmt"
	"image"
	_ "image/jpeg" // kinds of pictures that are kept
	_ "image/png"
)

// PictureOf reads kind and size of a picture that was cleaned before it was kept.
func PictureOf(data []byte) (*Picture, error) {
	c, kind, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("the kept picture can't be read: %w", err)
	}
	return &Picture{MediaType: "image/" + kind, Bytes: data, Width: c.Width, Height: c.Height}, nil
}
