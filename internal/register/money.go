package register

import (
	"math/big"
	"strings"
)

// Money is an amount in one currency.
type Money struct {
	Amount   string `json:"amount" doc:"decimal number in quotes: \"3000\" or \"3000.00\""`
	Currency string `json:"currency" doc:"three capital letters, as in ISO 4217"`
}

// String is the amount as written, with its currency.
func (m Money) String() string { return m.Amount + " " + m.Currency }

// parseAmount reads a decimal number exactly. It takes neither sign, exponent nor grouping.
func parseAmount(path, text string) (*big.Rat, error) {
	const hint = "Write it with digits and at most one point, without grouping: 1250.50."
	whole, part, point := strings.Cut(text, ".")
	digits := func(s string) bool { return strings.Trim(s, "0123456789") == "" }
	switch {
	case strings.HasPrefix(text, "-"):
		return nil, bad(path, "Amounts here are zero or more.", "%q is negative", text)
	case whole == "" || !digits(whole) || !digits(part) || point && part == "":
		return nil, bad(path, hint, "%q is not an amount", text)
	case len(whole) > 15 || len(part) > 6:
		return nil, bad(path, "Check the digits.", "%q has too many digits for an amount", text)
	}
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		return nil, bad(path, hint, "%q is not an amount", text)
	}
	return r, nil
}

func checkCurrency(path, code string) error {
	if len(code) != 3 || strings.Trim(code, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		return bad(path, "Use the three capital letters of ISO 4217, such as EUR.", "%q is not a currency", code)
	}
	return nil
}

// show writes a sum with the digits that it needs, at least two behind the point.
func show(r *big.Rat, currency string) string {
	text := r.FloatString(6)
	for strings.HasSuffix(text, "0") && len(text)-strings.IndexByte(text, '.') > 3 {
		text = text[:len(text)-1]
	}
	return text + " " + currency
}
