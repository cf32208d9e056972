package determination

import (
	"wreath/internal/strictjson"
)

// MaxDocument is the largest draft that is read, in bytes.
const MaxDocument = 1 << 20

// Decode reads one draft from JSON. An *InputError names the field at fault, the reason, and
// the way out.
func Decode(data []byte) (*Draft, error) {
	d := &Draft{}
	if err := DecodeInto(data, d); err != nil {
		return nil, err
	}
	return d, nil
}

// DecodeInto reads a draft over one that already holds common fields.
func DecodeInto(data []byte, d *Draft) error {
	if len(data) > MaxDocument {
		return bad("", "Give one determination per document; for many use wreath batch.", "the document is larger than %d bytes", MaxDocument)
	}
	return strictjson.Unmarshal(data, d)
}
