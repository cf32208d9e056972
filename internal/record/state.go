package record

import "fmt"

// The states of a determination, in the order of its life.
const (
	StateDraft      = "draft"      // readings are being taken
	StateEvaluated  = "evaluated"  // there is an answer, not kept yet
	StateRecorded   = "recorded"   // it is kept, and nobody has signed
	StateSigned     = "signed"     // some or all have signed
	StateSuperseded = "superseded" // a correction took its place
)

// Facts are what is known of a determination; its state follows from them.
type Facts struct {
	Evaluated    bool   `json:"evaluated,omitempty" doc:"there is an answer to the readings as they stand"`
	Recorded     bool   `json:"recorded,omitempty" doc:"there is a record"`
	Signed       int    `json:"signed,omitempty" doc:"signatures given"`
	Asked        int    `json:"asked,omitempty" doc:"signatures asked for"`
	SupersededBy string `json:"superseded_by,omitempty" doc:"number of the record that took its place"`
}

// State is where a determination stands.
type State struct {
	Word     string `json:"word" doc:"draft, evaluated, recorded, signed or superseded"`
	Complete bool   `json:"complete,omitempty" doc:"signed: true when all signatures that are asked for are given"`
	Text     string `json:"text" doc:"in words"`
}

// State follows from the facts. A record that was superseded stays so, whoever signed it.
func (f Facts) State() State {
	switch {
	case f.SupersededBy != "":
		return State{Word: StateSuperseded, Text: "superseded by " + f.SupersededBy}
	case f.Recorded && f.Signed > 0:
		return State{Word: StateSigned, Complete: f.Signed >= f.Asked, Text: fmt.Sprintf("signed (%d of %d)", f.Signed, max(f.Signed, f.Asked))}
	case f.Recorded:
		return State{Word: StateRecorded, Text: "recorded, not signed"}
	case f.Evaluated:
		return State{Word: StateEvaluated, Text: "evaluated, not recorded"}
	}
	return State{Word: StateDraft, Text: "draft"}
}
