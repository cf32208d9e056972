package line

// Checksum is a check over a line. It stands last in the line, in hexadecimal digits.
type Checksum struct {
	Kind   string `json:"kind" doc:"sum, negative-sum, xor, crc16-modbus, crc16-xmodem or crc16-ccitt"`
	Lower  bool   `json:"lower,omitempty" doc:"true when the hexadecimal digits are lower-case letters"`
	From   int    `json:"from,omitempty" doc:"first byte that counts, from 0"`
	Before string `json:"before,omitempty" doc:"text between the last byte that counts and the check"`
	Counts string `json:"counts,omitempty" doc:"bytes that count as well, after the others, and do not stand in the line, such as \\u0003 for ETX"`
}

// checkKind is a way to compute a check.
type checkKind struct {
	name   string
	digits int
	start  uint16
	add    func(sum uint16, b byte) uint16
}

// checkKinds are tried in this order. The CRCs are those of the catalogue of G. Cook, "Catalogue of
// parametrised CRC algorithms": CRC-16/MODBUS, CRC-16/XMODEM and CRC-16/IBM-3740 (often called CCITT).
var checkKinds = []checkKind{
	{"sum", 2, 0, func(s uint16, b byte) uint16 { return (s + uint16(b)) & 0xff }},
	{"negative-sum", 2, 0, func(s uint16, b byte) uint16 { return (s - uint16(b)) & 0xff }},
	{"xor", 2, 0, func(s uint16, b byte) uint16 { return s ^ uint16(b) }},
	{"crc16-modbus", 4, 0xffff, crcReflected},
	{"crc16-xmodem", 4, 0, crcPlain},
	{"crc16-ccitt", 4, 0xffff, crcPlain},
}

func crcReflected(sum uint16, b byte) uint16 {
	sum ^= uint16(b)
	for range 8 {
		if sum&1 != 0 {
			sum = sum>>1 ^ 0xa001
		} else {
			sum >>= 1
		}
	}
	return sum
}

func crcPlain(sum uint16, b byte) uint16 {
	sum ^= uint16(b) << 8
	for range 8 {
		if sum&0x8000 != 0 {
			sum = sum<<1 ^ 0x1021
		} else {
			sum <<= 1
		}
	}
	return sum
}

func checkNamed(name string) (checkKind, bool) {
	for _, k := range checkKinds {
		if k.name == name {
			return k, true
		}
	}
	return checkKind{}, false
}

// strip returns the line without its check, and whether the check is right.
func (c *Checksum) strip(line []byte) (body []byte, ok bool) {
	k, known := checkNamed(c.Kind)
	end := len(line) - k.digits - len(c.Before)
	if !known || end < c.From || end < 0 || string(line[end:end+len(c.Before)]) != c.Before {
		return nil, false
	}
	for _, b := range line[len(line)-k.digits:] {
		if !isDigit(b) && (c.Lower && (b < 'a' || b > 'f') || !c.Lower && (b < 'A' || b > 'F')) {
			return nil, false
		}
	}
	sum := k.start
	for _, b := range line[c.From:end] {
		sum = k.add(sum, b)
	}
	for i := range len(c.Counts) {
		sum = k.add(sum, c.Counts[i])
	}
	digits := "0123456789ABCDEF"
	if c.Lower {
		digits = "0123456789abcdef"
	}
	for i := range k.digits {
		if line[len(line)-1-i] != digits[sum>>(4*i)&15] {
			return nil, false
		}
	}
	return line[:end], true
}
