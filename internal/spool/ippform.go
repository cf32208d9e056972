package spool

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// The part of the Internet Printing Protocol that is needed to hand over a job and to ask how it and its
// printer stand: the encoding of RFC 8010, section 3, and the codes of RFC 8011.

// Delimiters of groups of attributes (RFC 8010, section 3.5.1).
const (
	groupOperation = 0x01
	groupJob       = 0x02
	groupEnd       = 0x03
	groupPrinter   = 0x04
	// Everything below firstValue is a delimiter.
	firstValue = 0x10
)

// Syntaxes of values (RFC 8010, section 3.5.2).
const (
	tagInteger    = 0x21
	tagBoolean    = 0x22
	tagEnum       = 0x23
	tagBegin      = 0x34 // of a collection
	tagTextLang   = 0x35
	tagNameLang   = 0x36
	tagEnd        = 0x37
	tagText       = 0x41
	tagName       = 0x42
	tagKeyword    = 0x44
	tagURI        = 0x45
	tagCharset    = 0x47
	tagLanguage   = 0x48
	tagMediaType  = 0x49
	tagMemberName = 0x4a
)

// Operations (RFC 8011, section 5.4.15).
const (
	opPrintJob   = 0x0002
	opGetJob     = 0x0009
	opGetPrinter = 0x000b
)

// ippValue is one value of an attribute.
type ippValue struct {
	tag  byte
	data []byte
}

func (v ippValue) number() (int, bool) {
	if (v.tag == tagInteger || v.tag == tagEnum) && len(v.data) == 4 {
		return int(int32(binary.BigEndian.Uint32(v.data))), true
	}
	return 0, false
}

// text is a value that is written in letters.
func (v ippValue) text() (string, bool) {
	switch {
	case v.tag == tagTextLang || v.tag == tagNameLang: // two lengths, language and text (RFC 8010, section 3.9)
		data := v.data
		for range 2 {
			if len(data) < 2 || len(data) < 2+int(binary.BigEndian.Uint16(data)) {
				return "", false
			}
			n := 2 + int(binary.BigEndian.Uint16(data))
			if len(data) == n {
				return string(data[2:]), true
			}
			data = data[n:]
		}
		return "", false
	case v.tag >= 0x40 && v.tag <= 0x5f:
		return string(v.data), true
	}
	return "", false
}

type ippAttribute struct {
	name   string
	values []ippValue
}

type ippGroup struct {
	tag        byte
	attributes []ippAttribute
}

// ippMessage is a request or an answer without the document behind it.
type ippMessage struct {
	major, minor byte
	code         uint16 // operation of a request, status of an answer
	id           uint32
	groups       []ippGroup
}

// find gives the values of an attribute in the groups of one kind.
func (m *ippMessage) find(group byte, name string) []ippValue {
	for _, g := range m.groups {
		if g.tag != group {
			continue
		}
		for _, a := range g.attributes {
			if a.name == name {
				return a.values
			}
		}
	}
	return nil
}

func (m *ippMessage) number(group byte, name string) (int, bool) {
	if v := m.find(group, name); len(v) > 0 {
		return v[0].number()
	}
	return 0, false
}

func (m *ippMessage) texts(group byte, name string) (out []string) {
	for _, v := range m.find(group, name) {
		if s, ok := v.text(); ok {
			out = append(out, s)
		}
	}
	return out
}

// encode writes a message (RFC 8010, section 3.1).
func (m *ippMessage) encode() ([]byte, error) {
	out := []byte{m.major, m.minor}
	out = binary.BigEndian.AppendUint16(out, m.code)
	out = binary.BigEndian.AppendUint32(out, m.id)
	for _, g := range m.groups {
		out = append(out, g.tag)
		for _, a := range g.attributes {
			name := a.name
			for _, v := range a.values {
				if len(name) > 0x7fff || len(v.data) > 0x7fff {
					return nil, fmt.Errorf("the value of %s is too long for a print system", a.name)
				}
				out = append(out, v.tag)
				out = binary.BigEndian.AppendUint16(out, uint16(len(name)))
				out = append(out, name...)
				out = binary.BigEndian.AppendUint16(out, uint16(len(v.data)))
				out = append(out, v.data...)
				name = "" // a further value of the same attribute has no name
			}
		}
	}
	return append(out, groupEnd), nil
}

// errForm refuses bytes that are no message.
var errForm = errors.New("it doesn't speak the Internet Printing Protocol")

// decodeIPP reads a message and gives what stands behind it. Collections are skipped: nothing that is
// asked for has any.
func decodeIPP(data []byte) (*ippMessage, []byte, error) {
	if len(data) < 9 {
		return nil, nil, errForm
	}
	m := &ippMessage{major: data[0], minor: data[1], code: binary.BigEndian.Uint16(data[2:]), id: binary.BigEndian.Uint32(data[4:])}
	data = data[8:]
	field := func() ([]byte, bool) {
		if len(data) < 2 {
			return nil, false
		}
		n := int(binary.BigEndian.Uint16(data))
		if n > 0x7fff || len(data) < 2+n {
			return nil, false
		}
		f := data[2 : 2+n]
		data = data[2+n:]
		return f, true
	}
	depth := 0 // of collections
	for {
		if len(data) == 0 {
			return nil, nil, errForm
		}
		tag := data[0]
		data = data[1:]
		if tag == groupEnd {
			if depth != 0 {
				return nil, nil, errForm
			}
			return m, data, nil
		}
		if tag < firstValue {
			if tag == 0 || depth != 0 {
				return nil, nil, errForm
			}
			m.groups = append(m.groups, ippGroup{tag: tag})
			continue
		}
		name, ok := field()
		if !ok || len(m.groups) == 0 {
			return nil, nil, errForm
		}
		value, ok := field()
		if !ok {
			return nil, nil, errForm
		}
		switch {
		case tag == tagBegin:
			depth++
			continue
		case tag == tagEnd:
			if depth--; depth < 0 {
				return nil, nil, errForm
			}
			continue
		case depth > 0 || tag == tagMemberName:
			continue
		}
		g := &m.groups[len(m.groups)-1]
		v := ippValue{tag, append([]byte(nil), value...)}
		if len(name) > 0 {
			g.attributes = append(g.attributes, ippAttribute{name: string(name)})
		} else if len(g.attributes) == 0 {
			return nil, nil, errForm
		}
		last := &g.attributes[len(g.attributes)-1]
		last.values = append(last.values, v)
	}
}

func ippTexts(tag byte, name string, texts ...string) ippAttribute {
	a := ippAttribute{name: name}
	for _, t := range texts {
		a.values = append(a.values, ippValue{tag, []byte(t)})
	}
	return a
}

func ippNumber(tag byte, name string, n int) ippAttribute {
	return ippAttribute{name, []ippValue{{tag, binary.BigEndian.AppendUint32(nil, uint32(n))}}}
}
