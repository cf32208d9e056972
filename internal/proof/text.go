package proof

import "strings"

// prefix marks the text of a proof, and says which layout the text has.
const prefix = "WREATH1:"

// grouped is how a text begins that a slip shows in groups of five letters.
const grouped = "WREAT H"

// Text is a proof as the QR code holds it: only characters of its alphanumeric mode.
func Text(message []byte) string { return prefix + base45(message) }

// ParseText gives the message in the text of a proof. Space around it and line breaks inside, which a
// scanner or a mail adds, are passed over; so is a shift key that was stuck. What was typed from a slip in
// groups of five, with _ for a space, is read too. Otherwise there is one text for each message. It says
// nothing about the signature.
func ParseText(text string) ([]byte, error) {
	text = strings.TrimSpace(text)
	if strings.HasPrefix(strings.ToUpper(text), grouped) {
		text = strings.ReplaceAll(strings.Join(strings.Fields(text), ""), "_", " ")
	}
	text = strings.NewReplacer("\r", "", "\n", "").Replace(text)
	if strings.HasPrefix(text, strings.ToLower(prefix)) && text == strings.ToLower(text) {
		text = strings.ToUpper(text)
	}
	if !strings.HasPrefix(text, "WREATH") {
		return nil, &Error{NoProof, "this is no proof of a record", "The text begins with " + prefix + " Scan the code again, or copy it whole."}
	}
	rest, ours := strings.CutPrefix(text, prefix)
	if !ours {
		if version := strings.TrimLeft(strings.TrimPrefix(text, "WREATH"), "0123456789"); strings.HasPrefix(version, ":") {
			return nil, &Error{Newer, "this proof has a form that is not known here", "A newer program may read it."}
		}
		return nil, &Error{Damaged, "the first letters of the proof are not as they should be", "A scanner that types must be set to the keyboard layout of this machine; a colon follows " + strings.TrimSuffix(prefix, ":") + "."}
	}
	message, at := fromBase45(rest)
	if at >= 0 {
		return nil, &Error{Damaged, "the proof is damaged: " + place(rest, at), damagedHint}
	}
	if len(message) == 0 || len(message) > MaxSize {
		return nil, &Error{Damaged, "the proof is damaged: it is too short or too long", damagedHint}
	}
	return message, nil
}

const damagedHint = "Scan the code again, or copy the text whole. What was typed by hand may have a wrong letter."

func place(text string, at int) string {
	if at >= len(text) {
		return "its end is missing"
	}
	return "something is wrong at the letters \"" + text[at:min(at+3, len(text))] + "\""
}

// alphabet is that of RFC 9285, section 4.2, which is that of a QR code's alphanumeric mode.
const alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"

// base45 writes bytes as RFC 9285 says.
func base45(data []byte) string {
	var b strings.Builder
	b.Grow(len(data)*3/2 + 2)
	for ; len(data) >= 2; data = data[2:] {
		n := int(data[0])<<8 | int(data[1])
		b.WriteByte(alphabet[n%45])
		b.WriteByte(alphabet[n/45%45])
		b.WriteByte(alphabet[n/2025])
	}
	if len(data) == 1 {
		b.WriteByte(alphabet[data[0]%45])
		b.WriteByte(alphabet[data[0]/45])
	}
	return b.String()
}

// values are those of the letters of the alphabet, and 45 for every other byte.
var values = func() (v [256]int) {
	for i := range v {
		v[i] = len(alphabet)
	}
	for i := range len(alphabet) {
		v[alphabet[i]] = i
	}
	return v
}()

// fromBase45 reads what base45 writes. At is the place of the first letters that are wrong, or -1.
func fromBase45(text string) (data []byte, at int) {
	data = make([]byte, 0, len(text)/3*2+1)
	for i := 0; i < len(text); i += 3 {
		group := text[i:min(i+3, len(text))]
		if len(group) == 1 {
			return nil, len(text)
		}
		n, weight := 0, 1
		for j := range len(group) {
			v := values[group[j]]
			if v == len(alphabet) {
				return nil, i
			}
			n += v * weight
			weight *= 45
		}
		switch {
		case len(group) == 3 && n <= 0xffff:
			data = append(data, byte(n>>8), byte(n))
		case len(group) == 2 && n <= 0xff:
			data = append(data, byte(n))
		default:
			return nil, i
		}
	}
	return data, -1
}
