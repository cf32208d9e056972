package people

import (
	"fmt"
	"io"
	"slices"
	"text/tabwriter"
)

// Action is one act at the desk.
type Action string

// The actions. Their names are kept in the records and never change their meaning.
const (
	OpenDraft            Action = "open-draft"
	TakeReading          Action = "take-reading"
	WithdrawReading      Action = "withdraw-reading"
	ChangeDraft          Action = "change-draft"
	DropDraft            Action = "drop-draft"
	RecordDetermination  Action = "record-determination"
	SignAsMeasurer       Action = "sign-as-measurer"
	SignDetermination    Action = "sign-determination"
	ReviewDetermination  Action = "review-determination"
	WitnessDetermination Action = "witness-determination"
	RefuseDetermination  Action = "refuse-determination"
	CorrectDetermination Action = "correct-determination"

	SeeRecords     Action = "see-records"
	Search         Action = "search"
	PrintSlip      Action = "print-slip"
	IssueReport    Action = "issue-report"
	ExportEvidence Action = "export-evidence"

	RegisterItem Action = "register-item"
	AddPhoto     Action = "add-photo"
	MoveItem     Action = "move-item"
	HoldItem     Action = "hold-item"
	ReleaseItem  Action = "release-item"
	OverrideHold Action = "override-hold"

	RegisterDeal Action = "register-deal"

	EnterCustomer       Action = "enter-customer"
	SeePersonalData     Action = "see-personal-data"
	CorrectCustomer     Action = "correct-customer"
	DisclosePersonal    Action = "disclose-personal-data"
	EraseCustomer       Action = "erase-customer"
	KeepCustomerOnOrder Action = "keep-customer-on-order"

	SeeStations      Action = "see-stations"
	ManageStation    Action = "manage-station"
	ManageInstrument Action = "manage-instrument"
	CheckInstrument  Action = "check-instrument"
	TakeOutOfService Action = "take-out-of-service"
	ReturnToService  Action = "return-to-service"
	SeePrices        Action = "see-prices"
	SetPrice         Action = "set-price"
	SetTerms         Action = "set-terms"
	ValueItem        Action = "value-item"
	MakeLot          Action = "make-lot"
	SeeRules         Action = "see-rules"
	SetHouseRule     Action = "set-house-rule"
	SetRegisterRule  Action = "set-register-rule"
	SetFourEyes      Action = "set-four-eyes"
	SetTwoFactors    Action = "set-two-factors"
	ChangeKey        Action = "change-key"
	SetShop          Action = "set-shop"
	SeePeople        Action = "see-people"
	AddPerson        Action = "add-person"
	ChangeRoles      Action = "change-roles"
	EndPerson        Action = "end-person"
	ResetPassword    Action = "reset-password"
	RemovePasskey    Action = "remove-passkey"
	EnrolDevice      Action = "enrol-device"
	EndDevice        Action = "end-device"
	EndSession       Action = "end-session"
	IssueToken       Action = "issue-token"
	EndToken         Action = "end-token"
	OwnCredentials   Action = "own-credentials"
	ReadLedger       Action = "read-ledger"
	VerifyLedger     Action = "verify-ledger"
	SeeAccessLog     Action = "see-access-log"
	MakeCheckpoint   Action = "make-checkpoint"
	Backup           Action = "backup"
	Restore          Action = "restore"
	MoveStore        Action = "move-store"
	SeePrinters      Action = "see-printers"
	ManagePrinter    Action = "manage-printer"
)

// Kind says what an action does to the store.
type Kind string

// The kinds. The role audit has every action that reads and none that writes.
const (
	Reads         Kind = "reads"          // looks, and changes nothing
	ReadsPersonal Kind = "reads personal" // looks at personal data of customers
	Writes        Kind = "writes"         // adds to the records or changes how the desk works
	Own           Kind = "own"            // changes nothing but the person's own password, PIN and sessions
)

// Rule is one row of the table of actions.
type Rule struct {
	Action Action
	Kind   Kind
	Roles  []Role // any one of them is enough
	Does   string // in words, for the manual
}

// Actions is the table of what may be done by whom. What is not in it, nobody may do.
var Actions = []Rule{
	{OpenDraft, Writes, []Role{Measure}, "begin a determination"},
	{TakeReading, Writes, []Role{Measure}, "take a reading from the balance or type one"},
	{WithdrawReading, Writes, []Role{Measure}, "withdraw a reading, with the reason; it stays visible"},
	{ChangeDraft, Writes, []Role{Measure}, "change what a draft says of item, claim, liquid or air"},
	{DropDraft, Writes, []Role{Measure}, "give up a draft, with the reason"},
	{RecordDetermination, Writes, []Role{Measure}, "conclude a draft: evaluate it and record the result for good"},
	{SignAsMeasurer, Writes, []Role{Measure}, "sign with the meaning measured"},
	{SignDetermination, Writes, []Role{Sign}, "sign with the meaning approved"},
	{ReviewDetermination, Writes, []Role{Sign}, "sign with the meaning reviewed"},
	{WitnessDetermination, Writes, []Role{Sign}, "sign as the second person, with the meaning witnessed"},
	{RefuseDetermination, Writes, []Role{Sign}, "sign with the meaning refused"},
	{CorrectDetermination, Writes, []Role{Sign}, "put a new record in place of a wrong one, which stays visible"},

	{SeeRecords, Reads, []Role{Measure, Sign, Instruments, Price, Audit}, "read determinations, items and their history, without personal data"},
	{Search, Reads, []Role{Measure, Sign, Instruments, Price, Audit}, "search the records, without personal data"},
	{PrintSlip, Reads, []Role{Measure, Sign, Price, Audit}, "print the slip, report or label of what was recorded"},
	{IssueReport, Writes, []Role{Sign}, "issue the report of a record under its own number, and authorise it"},
	{ExportEvidence, Reads, []Role{Sign, Audit}, "write a bundle that others can verify"},

	{RegisterItem, Writes, []Role{Measure, Price}, "enter an item in the register"},
	{AddPhoto, Writes, []Role{Measure, Price}, "add a photo to an item"},
	{MoveItem, Writes, []Role{Measure, Price}, "note where an item now lies and who has it"},
	{HoldItem, Writes, []Role{Measure, Sign, Price}, "put an item on hold, with the reason"},
	{ReleaseItem, Writes, []Role{Sign}, "end a hold that has run its time or whose reason is gone; the meaning is released"},
	{OverrideHold, Writes, []Role{Sign}, "end a hold early, with the reason"},

	{RegisterDeal, Writes, []Role{Price}, "enter a deal in the register, void it with the reason, or close it"},

	{EnterCustomer, Writes, []Role{Price}, "enter a customer's identity where the register asks for it"},
	{SeePersonalData, ReadsPersonal, []Role{Price}, "see a customer's identity; each look is logged"},
	{CorrectCustomer, Writes, []Role{Price}, "correct a customer's identity"},
	{DisclosePersonal, ReadsPersonal, []Role{Price}, "hand a customer's data to the customer, or to an authority that may ask"},
	{EraseCustomer, Writes, []Role{Administer}, "erase a customer's identity when the law says so"},
	{KeepCustomerOnOrder, Writes, []Role{Administer}, "stop an erasure because an authority orders it"},

	{SeeStations, Reads, []Role{Measure, Sign, Instruments, Audit}, "see stations, instruments, certificates and due dates"},
	{ManageStation, Writes, []Role{Instruments}, "set up or change a station"},
	{ManageInstrument, Writes, []Role{Instruments}, "enter an instrument, its certificate and due dates"},
	{CheckInstrument, Writes, []Role{Measure, Instruments}, "record a check with a check weight or check piece"},
	{TakeOutOfService, Writes, []Role{Measure, Sign, Instruments}, "take an instrument out of service; whoever sees the fault may"},
	{ReturnToService, Writes, []Role{Instruments}, "put an instrument back in service"},

	{SeePrices, Reads, []Role{Price, Audit}, "see prices, terms and values"},
	{SetPrice, Writes, []Role{Price}, "set the price of a metal"},
	{SetTerms, Writes, []Role{Price}, "set the terms of buying or lending"},
	{ValueItem, Writes, []Role{Price}, "put a value on an item"},
	{MakeLot, Writes, []Role{Price}, "put items together in a lot"},

	{SeeRules, Reads, []Role{Measure, Sign, Instruments, Price, Audit, Administer}, "see the house rules, register rules and the four-eyes rule"},
	{SetHouseRule, Writes, []Role{Administer}, "set a house rule: which findings follow from which measurement"},
	{SetRegisterRule, Writes, []Role{Administer}, "set the register rules: numbering, hold, retention"},
	{SetFourEyes, Writes, []Role{Administer}, "set when a second person must witness"},
	{SetTwoFactors, Writes, []Role{Administer}, "set whether signing in from other machines needs two factors"},
	{ChangeKey, Writes, []Role{Administer}, "give the shop another signing key"},

	{SetShop, Writes, []Role{Administer}, "change what papers say of the shop: name, address, logo"},

	{SeePeople, Reads, []Role{Audit, Administer}, "see people, roles, devices, sessions and tokens"},
	{AddPerson, Writes, []Role{Administer}, "add a person"},
	{ChangeRoles, Writes, []Role{Administer}, "change a person's roles"},
	{EndPerson, Writes, []Role{Administer}, "end a person who leaves: sessions, PINs and tokens end with them"},
	{ResetPassword, Writes, []Role{Administer}, "give a person a one-time code to set a new password"},
	{RemovePasskey, Writes, []Role{Administer}, "remove a passkey of a person who lost it"},
	{EnrolDevice, Writes, []Role{Administer}, "enrol a device at which PINs may be used"},
	{EndDevice, Writes, []Role{Administer}, "end a device that is lost or given away"},
	{EndSession, Writes, []Role{Administer}, "end another person's session"},
	{IssueToken, Writes, []Role{Administer}, "issue a token to a program"},
	{EndToken, Writes, []Role{Administer}, "end a token"},
	{OwnCredentials, Own, []Role{Measure, Sign, Instruments, Price, Audit, Administer}, "change one's own password, PIN and passkeys, see and end one's own sessions"},

	{ReadLedger, Reads, []Role{Sign, Audit}, "read the chained entries as they are stored"},
	{VerifyLedger, Reads, []Role{Sign, Audit, Administer}, "verify the chain, checkpoints and signatures"},
	{SeeAccessLog, Reads, []Role{Audit}, "see who looked at what, and every failed sign-in"},
	{MakeCheckpoint, Writes, []Role{Administer}, "sign a checkpoint of the chain"},
	{Backup, Writes, []Role{Administer}, "back up the store"},
	{Restore, Writes, []Role{Administer}, "restore the store from a backup"},
	{MoveStore, Writes, []Role{Administer}, "move the records to another database"},

	{SeePrinters, Reads, []Role{Measure, Sign, Instruments, Price, Audit, Administer}, "see printers, what waits for them, and what was printed how often"},
	{ManagePrinter, Writes, []Role{Administer}, "add a printer, remove one, print a test page"},
}

// May tells whether one of the roles may do the action. An unknown action nobody may do.
func May(roles []Role, a Action) bool {
	r, known := rule(a)
	return known && slices.ContainsFunc(roles, func(have Role) bool { return slices.Contains(r.Roles, have) })
}

func rule(a Action) (Rule, bool) {
	i := slices.IndexFunc(Actions, func(r Rule) bool { return r.Action == a })
	if i < 0 {
		return Rule{}, false
	}
	return Actions[i], true
}

// Refused says why an action is not allowed, and Hint who can help.
type Refused struct {
	Action Action
	Name   string // of the person, as printed
	Reason string
	Hint   string
}

func (e *Refused) Error() string {
	return fmt.Sprintf("%s may not %s: %s", e.Name, e.Action, e.Reason)
}

// WriteMatrix prints the table of actions for the manual, one line per action.
func WriteMatrix(w io.Writer) error {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprint(tw, "action")
	for _, r := range Roles {
		fmt.Fprint(tw, "\t", r)
	}
	fmt.Fprintln(tw, "\tdoes")
	for _, row := range Actions {
		fmt.Fprint(tw, row.Action)
		for _, r := range Roles {
			if May([]Role{r}, row.Action) {
				fmt.Fprint(tw, "\tyes")
			} else {
				fmt.Fprint(tw, "\t-")
			}
		}
		fmt.Fprintln(tw, "\t"+row.Does)
	}
	return tw.Flush()
}
