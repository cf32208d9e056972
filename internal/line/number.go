package line

// number reads the number that a part describes from the start of a text. It returns the place of
// its digits and how many bytes the part takes up.
func number(part *Part, rest []byte) (f found, used int, ok bool) {
	if part.Width == 0 {
		return freeNumber(part, rest)
	}
	if len(rest) < part.Width {
		return f, 0, false
	}
	field := rest[:part.Width]
	from, to, bare := 0, len(field), true
	if part.Sign == "first" || part.Sign == "after" {
		at := 0
		if part.Sign == "after" {
			if part.Align == "left" {
				to -= trailing(field)
			}
			at = to - 1
		}
		if at < 0 {
			return f, 0, false
		}
		negative, signed := signAt(part, field[at])
		switch {
		case signed && at == 0:
			from = 1
		case signed:
			to--
		case part.Plus != "" && part.Align != "left":
			return f, 0, false
		}
		f.negative, bare = negative, !signed || field[at] == ' '
	}
	if part.Align == "left" {
		to -= trailing(field[from:to])
	} else {
		from += blanks(field[from:to])
	}
	if part.Sign == "beside" && from < to {
		// A column that is full may have no room for the space that stands for a plus.
		if c := field[from]; c == '-' || c == '+' && part.Plus == "+" {
			f.negative, bare = c == '-', false
			from++
			n := blanks(field[from:to])
			if n != part.Gap {
				return f, 0, false
			}
			from += n
		} else if part.Plus == " " && c == ' ' {
			from++ // left-aligned: the place of the sign
		}
	}
	n, fits := plain(part, field[from:to])
	if !fits || n != to-from || part.Plus == "+" && bare && !allZero(field[from:to]) {
		return f, 0, false
	}
	f.from, f.to = from, to
	return f, part.Width, true
}

// trailing counts the spaces at the end.
func trailing(s []byte) int {
	n := 0
	for n < len(s) && s[len(s)-1-n] == ' ' {
		n++
	}
	return n
}

// signAt says whether a byte stands for a sign and whether it is a minus.
func signAt(part *Part, c byte) (negative, ok bool) {
	switch {
	case c == '-':
		return true, true
	case c == '+' && part.Plus == "+", c == ' ' && part.Plus == " ":
		return false, true
	case c == ' ' && part.Plus == "+": // of a zero; whether it is one is looked at afterwards
		return false, true
	}
	return false, false
}

// freeNumber reads a number that no spaces fill.
func freeNumber(part *Part, rest []byte) (f found, used int, ok bool) {
	at := 0
	bare := part.Sign == ""
	if part.Sign == "beside" || part.Sign == "first" {
		if at == len(rest) {
			return f, 0, false
		}
		negative, signed := signAt(part, rest[0])
		switch {
		case signed:
			f.negative, bare = negative, rest[0] == ' '
			at++
			n := blanks(rest[at:])
			if n != part.Gap {
				return f, 0, false
			}
			at += n
		case part.Plus != "":
			return f, 0, false
		}
	}
	n, fits := plain(part, rest[at:])
	if !fits {
		return f, 0, false
	}
	f.from, f.to = at, at+n
	at += n
	if at < len(rest) && isDigit(rest[at]) ||
		at+1 < len(rest) && (rest[at] == '.' || rest[at] == ',') && isDigit(rest[at+1]) {
		return f, 0, false // the number goes on
	}
	if part.Sign == "after" {
		bare = true
		negative, signed := false, false
		if at+part.Gap < len(rest) && blanks(rest[at:at+part.Gap]) == part.Gap {
			negative, signed = signAt(part, rest[at+part.Gap])
		}
		switch {
		case signed:
			f.negative, bare = negative, rest[at+part.Gap] == ' '
			at += part.Gap + 1
		case part.Plus != "":
			return f, 0, false
		}
	}
	if part.Plus == "+" && bare && !allZero(rest[f.from:f.to]) {
		return f, 0, false
	}
	return f, at, true
}

// plain reads digits with their decimal mark and returns how many bytes they are.
func plain(part *Part, s []byte) (n int, ok bool) {
	for n < len(s) && isDigit(s[n]) {
		n++
	}
	switch {
	case n == 0 || n > part.Whole,
		n > 1 && s[0] == '0' && !part.Zeros,
		part.Zeros && part.Width == 0 && n != part.Whole:
		return 0, false
	case part.Decimals == 0:
		return n, true
	}
	mark := byte('.')
	if part.Comma {
		mark = ','
	}
	if n+part.Decimals >= len(s) || s[n] != mark {
		return 0, false
	}
	for _, c := range s[n+1 : n+1+part.Decimals] {
		if !isDigit(c) {
			return 0, false
		}
	}
	return n + 1 + part.Decimals, true
}

func allZero(digits []byte) bool {
	for _, c := range digits {
		if c >= '1' && c <= '9' {
			return false
		}
	}
	return true
}
