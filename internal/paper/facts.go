package paper

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"wreath/internal/people"
	"wreath/internal/record"
	"wreath/internal/station"
)

// Format is the number of the form in which facts are written.
const Format = 1

// Facts are everything that a report, a slip or a label of one record can say.
//
// What is written as JSON is the twin: it is fixed when a report is issued, and the log keeps its
// hash. What is not written, the fields at the end, belongs to one printing: the same report gives the
// same twin on every copy, and no personal data stand in it.
type Facts struct {
	Format int  `json:"format" doc:"form of this document"`
	Shop   Shop `json:"shop" doc:"who weighed and answers for it"`

	Report *Report `json:"report,omitempty" doc:"the report as it was issued; absent while none is"`

	Entry  int64          `json:"entry" doc:"entry of the log that holds the record"`
	Hash   string         `json:"hash" doc:"hash of that entry, in hexadecimal digits"`
	Record *record.Record `json:"record" doc:"the record in full, with every reading"`

	State       string       `json:"state" doc:"recorded, signed or superseded"`
	Signatures  []Signature  `json:"signatures,omitempty" doc:"in the order they were given"`
	Unsigned    []string     `json:"unsigned,omitempty" doc:"signatures that are still asked for, in words"`
	Received    *time.Time   `json:"received,omitempty" doc:"when the item came; absent where it was not entered"`
	Item        *Item        `json:"item,omitempty" doc:"the item as it was entered; absent where it was not"`
	Declared    []Declared   `json:"declared,omitempty" doc:"what was not measured here, and who says so"`
	Customer    Party        `json:"customer" doc:"whom the report is for; personal data stand on paper only"`
	Instruments []Instrument `json:"instruments,omitempty" doc:"what the readings were taken with, and what they are traced to"`
	Checkpoint  string       `json:"checkpoint,omitempty" doc:"short form of the first checkpoint of the log that covers the record; absent while none does"`

	Proof        string          `json:"-"` // text of the signed proof, for a QR code; "" without one
	Copy         int             `json:"-"` // 0 is the first print, n the n-th copy of it
	SupersededBy string          `json:"-"` // number of the record, or of the report, that took its place
	Person       *Person         `json:"-"` // the customer's data, where whoever prints may see them; nil otherwise
	Worth        json.RawMessage `json:"-"` // newest value (a value.Worth), where whoever prints may see prices
	Logo         *Picture        `json:"-"` // of the shop; nil without one
	Photo        *Picture        `json:"-"` // the newest of the item; nil without one
}

// Shop is who weighs, as printed on paper.
type Shop struct {
	ID       string `json:"id" doc:"short name, as its log is called"`
	Name     string `json:"name" doc:"as customers know it"`
	Address  string `json:"address,omitempty" doc:"postal address, on one line"`
	TimeZone string `json:"time_zone" doc:"of the IANA table; all times on paper are its"`
	Demo     bool   `json:"demo,omitempty" doc:"true when everything in this shop is invented"`
	Logo     string `json:"logo,omitempty" doc:"SHA-256 of its logo, in hexadecimal digits"`
}

// Report is a report as it was issued.
type Report struct {
	Number     string    `json:"number" doc:"its own number, never used twice"`
	Issued     time.Time `json:"issued" doc:"when, with the offset of the shop"`
	Person     string    `json:"person" doc:"id of who authorised it"`
	Name       string    `json:"name" doc:"printed name of who authorised it"`
	Function   []string  `json:"function,omitempty" doc:"roles at the desk"`
	Mark       string    `json:"mark,omitempty" doc:"said beside the name where nobody signed in"`
	Deviations string    `json:"deviations,omitempty" doc:"what was added to the method, left out or done otherwise; none unless said"`
	Opinion    string    `json:"opinion,omitempty" doc:"opinion of who authorised it, marked as such"`
	Amends     *Amends   `json:"amends,omitempty" doc:"the report that this one takes the place of"`
}

// Amends says what an amended report changes of the one that it takes the place of (ISO/IEC
// 17025:2017, 7.8.8).
type Amends struct {
	Number  string           `json:"number" doc:"of the earlier report"`
	Issued  time.Time        `json:"issued" doc:"when that one was issued"`
	Record  string           `json:"record" doc:"number of the record that it was about"`
	Reason  string           `json:"reason" doc:"why it is amended"`
	Changes []station.Change `json:"changes" doc:"what differs, by place in the document"`
}

// Signature is a signature as every readable form shows it.
type Signature struct {
	Person   string         `json:"person" doc:"id"`
	Name     string         `json:"name" doc:"as printed, at the time of signing"`
	At       time.Time      `json:"at" doc:"with the offset of the place"`
	Meaning  people.Meaning `json:"meaning" doc:"measured, reviewed, approved, witnessed, released or refused"`
	Sentence string         `json:"sentence" doc:"what the person declared"`
	Mark     string         `json:"mark,omitempty" doc:"said beside the name where nobody signed in"`
}

// Item is the item as it was entered.
type Item struct {
	ID          string `json:"id" doc:"of the item"`
	Description string `json:"description" doc:"in words"`
	Marks       string `json:"marks,omitempty" doc:"stamps and marks as seen"`
	Condition   string `json:"condition,omitempty" doc:"how it arrived"`
	Barcode     string `json:"barcode,omitempty" doc:"of its tray or bag"`
	Place       string `json:"place,omitempty" doc:"where it lies"`
	Deal        string `json:"deal,omitempty" doc:"number of the deal by which it came"`
	Photo       string `json:"photo,omitempty" doc:"SHA-256 of its newest photo, in hexadecimal digits"`
	Caption     string `json:"caption,omitempty" doc:"of that photo"`
}

// Declared is something that was said of the item and not measured here.
type Declared struct {
	What string `json:"what" doc:"claim, mass on intake, stones set or another"`
	Text string `json:"text" doc:"what was said"`
	By   string `json:"by" doc:"who says so: customer, stamp, list, certificate"`
}

// Party is whom a report is for. One of its fields is set.
type Party struct {
	ID  string `json:"id,omitempty" doc:"the customer's mark in the register, which tells no name"`
	Why string `json:"why,omitempty" doc:"why none is named"`
}

// Person is a customer by name. Only paper shows it.
type Person struct{ Name, Address, Contact string }

// String and GoString keep personal data out of logs and messages.
func (p Person) String() string   { return "personal data (not shown)" }
func (p Person) GoString() string { return p.String() }

// Instrument is one that took part, and the certificate that counted when it was read.
type Instrument struct {
	ID          string `json:"id" doc:"mark of the instrument"`
	Version     int    `json:"version" doc:"of its file"`
	Kind        string `json:"kind" doc:"balance, thermometer, check piece or another"`
	Title       string `json:"title,omitempty" doc:"maker, type and serial number"`
	Certificate string `json:"certificate,omitempty" doc:"number of the certificate; absent where none counted"`
	Issuer      string `json:"issuer,omitempty" doc:"who calibrated it"`
	Calibrated  string `json:"calibrated,omitempty" doc:"day of the calibration"`
	Due         string `json:"due,omitempty" doc:"last day before the next one is overdue"`
}

// Picture is a picture that was cleaned before it was kept.
type Picture struct {
	MediaType string // image/jpeg or image/png
	Bytes     []byte
	Width     int // pixels
	Height    int // pixels
}

// Number is what the paper is called by: the report's number, or the record's where no report was
// issued.
func (f *Facts) Number() string {
	if f.Report != nil {
		return f.Report.Number
	}
	return f.Record.Number
}

// Twin writes the facts as JSON, as they go along in the report and as the log keeps their hash. The
// same facts always give the same bytes.
func (f *Facts) Twin() ([]byte, error) {
	data, err := json.Marshal(f)
	if err != nil {
		return nil, fmt.Errorf("write down the facts of %s: %w", f.Record.Number, err)
	}
	return data, nil
}

// TwinHash is the SHA-256 of the twin, in hexadecimal digits.
func (f *Facts) TwinHash() (string, error) {
	data, err := f.Twin()
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:]), nil
}

// Zone is the shop's time zone.
func (f *Facts) Zone() (*time.Location, error) { return time.LoadLocation(f.Shop.TimeZone) }
