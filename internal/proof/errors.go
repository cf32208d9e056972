package proof

// Error says why a proof, a status list or a key is not to be believed.
type Error struct {
	Kind         Kind
	Reason, Hint string
}

func (e *Error) Error() string { return e.Reason }

// Kind tells errors apart.
type Kind string

// The kinds of errors.
const (
	NoProof    Kind = "no proof"    // the text is something else
	NoKey      Kind = "no key"      // what is given as a public key is none
	Damaged    Kind = "damaged"     // it can't be read: letters are missing or wrong
	UnknownKey Kind = "unknown key" // none of the keys that are trusted signed it
	OtherShop  Kind = "other shop"  // it is of a shop that none of the keys belongs to
	Forged     Kind = "forged"      // the signature does not hold: something was changed
	Contradict Kind = "contradicts" // the shop signed two different logs
	Newer      Kind = "newer"       // a newer program may read it
)
