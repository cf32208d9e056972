package web

import (
	"bytes"
	"io"
	"net/http"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/ledger"
	"wreath/internal/paper"
	"wreath/internal/people"
	"wreath/internal/proof"
	"wreath/internal/spool"
	"wreath/internal/tables"
)

type (
	// Proved is the signed proof of a record or a report.
	Proved struct {
		Text string `json:"text" doc:"as the QR code holds it"`
		Key  string `json:"key" doc:"the shop's public key that checks it"`
	}
	// PublicKeys are the keys with which the shop signed, oldest first.
	PublicKeys struct {
		Keys []desk.ShopKey `json:"keys"`
	}
	// Listed is a signed status list.
	Listed struct {
		Text string `json:"text"`
	}
	// IssuedReports are the reports of a record.
	IssuedReports struct {
		Reports []desk.Report `json:"reports"`
	}
	// Lacking is what a report would lack.
	Lacking struct {
		Missing []paper.Missing `json:"missing" doc:"what ISO/IEC 17025:2017 asks in 7.8.2.1 and nobody filled in; some of it can be given with the report"`
	}
	// ReportAsked is a report to be issued of a record.
	ReportAsked struct {
		Description string `json:"description,omitempty" doc:"of an item that was not entered, where the record does not say it"`
		Condition   string `json:"condition,omitempty" doc:"of an item whose condition nobody wrote down when it came"`
		Received    string `json:"received,omitempty" doc:"day on which an item came that was not entered, yyyy-mm-dd"`
		NoCustomer  string `json:"no_customer,omitempty" doc:"why the report names no customer"`
		Deviations  string `json:"deviations,omitempty" doc:"what was added to the method, left out or done otherwise"`
		Opinion     string `json:"opinion,omitempty" doc:"opinion of who issues, marked as such on paper"`
		Reason      string `json:"reason,omitempty" doc:"why an earlier report is amended"`
	}
	// ReportIssued is a report that was issued.
	ReportIssued struct {
		Number string        `json:"number"`
		Record string        `json:"record"`
		Twin   string        `json:"twin" doc:"SHA-256 of the facts that go along in it"`
		Amends *paper.Amends `json:"amends,omitempty"`
	}
	// PrinterList lists printers.
	PrinterList struct {
		Printers []spool.Printer `json:"printers"`
	}
	// JobList lists print jobs.
	JobList struct {
		Jobs []spool.Job `json:"jobs"`
	}
	// Prints are the prints of one paper.
	Prints struct {
		Came int         `json:"came" doc:"how many may have come out; the next one says COPY when it is more than none"`
		Jobs []spool.Job `json:"jobs"`
	}
	// AgainAsked prints the paper of an earlier job again.
	AgainAsked struct {
		Printer string `json:"printer,omitempty" doc:"another one than the first time"`
	}
	// MaybeReasoned is an act that may have a reason.
	MaybeReasoned struct {
		Reason string `json:"reason,omitempty"`
	}
	// ShopText is what papers say of the shop.
	ShopText struct {
		Name    string `json:"name,omitempty" doc:"as customers know it; left out it stays"`
		Address string `json:"address,omitempty" doc:"on one line; left out it stays"`
		Reason  string `json:"reason,omitempty"`
	}
	// RegisterAsked is the register with the customers by name.
	RegisterAsked struct {
		From   string `json:"from,omitempty" doc:"first day, yyyy-mm-dd"`
		Until  string `json:"until,omitempty" doc:"last day"`
		Format string `json:"format" doc:"csv, xlsx or jsonl"`
		Reason string `json:"reason" doc:"stands in the log beside every name that was looked at"`
	}
)

// Stand-ins for files, see openapi.go.
type (
	pdfDocument   struct{}
	textDocument  struct{}
	tableDocument struct{}
	listDocument  struct{}
	svgDocument   struct{}
	jwtDocument   struct{}
)

var paperParameters = []parameter{{"language", "en, de or es"}, {"second", "a second language"}}

var paperEndpoints = []endpoint{
	{Method: "GET", Path: "/papers/{number}/facts", Summary: "Everything that the papers of a record or a report say; as it goes along in the report", Response: paper.Facts{}, Action: people.PrintSlip,
		do: func(s *Server, c *call) (any, error) {
			f, err := c.d.Paper(c.r.Context(), c.who, c.name("number"))
			return f, err
		}},
	{Method: "GET", Path: "/papers/{number}/report.pdf", Summary: "A report that was issued, as PDF", Response: pdfDocument{}, Action: people.PrintSlip, Query: append([]parameter{{"sheet", "a4 or letter"}}, paperParameters...), do: paperOf("report.pdf")},
	{Method: "GET", Path: "/papers/{number}/slip.pdf", Summary: "The slip of a record, as PDF", Response: pdfDocument{}, Action: people.PrintSlip, Query: append([]parameter{{"width", "58 or 80 mm"}}, paperParameters...), do: paperOf("slip.pdf")},
	{Method: "GET", Path: "/papers/{number}/slip.txt", Summary: "The slip of a record, as text for a printer that takes letters", Response: textDocument{}, Action: people.PrintSlip, Query: append([]parameter{{"width", "58 or 80 mm"}}, paperParameters...), do: paperOf("slip.txt")},
	{Method: "GET", Path: "/papers/{number}/label.pdf", Summary: "The label of a record's bag, as PDF", Response: pdfDocument{}, Action: people.PrintSlip,
		Query: []parameter{{"size", "width and height in mm, such as 57x32"}, {"code", "code128 or qr; as fits unless given"}, {"sheet", "a4 or letter; one label a page unless given"}, {"language", "en, de or es"}}, do: paperOf("label.pdf")},
	{Method: "GET", Path: "/papers/{number}/proof", Summary: "The signed proof of a record or a report", Response: Proved{}, Action: people.PrintSlip, do: proofOf},
	{Method: "GET", Path: "/papers/{number}/proof.svg", Summary: "The proof as a QR code", Response: svgDocument{}, Action: people.PrintSlip, do: paperOf("proof.svg")},
	{Method: "GET", Path: "/papers/{number}/proof.jwt", Summary: "The proof as a W3C Verifiable Credential", Response: jwtDocument{}, Action: people.PrintSlip, do: paperOf("proof.jwt")},
	{Method: "GET", Path: "/keys", Summary: "The shop's public keys, oldest first", Response: PublicKeys{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			keys, err := c.d.Keys(c.r.Context())
			return PublicKeys{orEmpty(keys)}, err
		}},
	{Method: "GET", Path: "/status-list", Summary: "The signed list of records and reports that no longer stand", Response: Listed{}, Action: people.ExportEvidence,
		do: func(s *Server, c *call) (any, error) {
			text, err := c.d.StatusList(c.r.Context(), c.who)
			return Listed{text}, err
		}},

	{Method: "GET", Path: "/determinations/{name}/reports", Summary: "The reports that were issued of a record, oldest first", Response: IssuedReports{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			reports, err := c.d.Reports(c.r.Context(), c.who, c.name("name"))
			return IssuedReports{orEmpty(reports)}, err
		}},
	{Method: "GET", Path: "/determinations/{name}/reports/missing", Summary: "What a report of a record would lack", Response: Lacking{}, Action: people.IssueReport,
		do: func(s *Server, c *call) (any, error) {
			f, err := c.d.Paper(c.r.Context(), c.who, c.name("name"))
			if err != nil {
				return nil, err
			}
			out := Lacking{[]paper.Missing{}}
			for _, l := range lacks(f) {
				out.Missing = append(out.Missing, l.Missing)
			}
			return out, nil
		}},
	{Method: "POST", Path: "/determinations/{name}/reports", Summary: "Issue the report of a record, or one that amends it, under a number of its own", Request: ReportAsked{}, Response: ReportIssued{}, Status: http.StatusCreated, Keyed: true, Seen: true, Action: people.IssueReport,
		do: issueByProgram},

	{Method: "GET", Path: "/printers", Summary: "The printers", Response: PrinterList{}, Action: people.SeePrinters,
		do: func(s *Server, c *call) (any, error) {
			printers, err := c.d.Printers(c.r.Context(), c.who)
			return PrinterList{orEmpty(printers)}, err
		}},
	{Method: "PUT", Path: "/printers/{name}", Summary: "Write down a printer, or its next version", Request: spool.Printer{}, Response: spool.Printer{}, Keyed: true, Seen: true, Action: people.ManagePrinter, Query: []parameter{{"reason", ""}},
		do: func(s *Server, c *call) (any, error) {
			data, err := c.raw()
			if err != nil {
				return nil, err
			}
			p, err := spool.DecodePrinter(data)
			if err != nil {
				return nil, err
			}
			if p.Name != c.name("name") {
				return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The document is of the printer " + p.Name + ".", Hint: "Send it to the address of that printer.", Field: "name"}
			}
			by, err := c.seenBy()
			if err != nil {
				return nil, err
			}
			set, err := c.d.SetPrinter(c.r.Context(), by, *p, c.r.URL.Query().Get("reason"))
			s.wakePrinting()
			return set, err
		}},
	{Method: "POST", Path: "/printers/{name}/end", Summary: "Take a printer out of use", Request: Reasoned{}, Response: Done{}, Keyed: true, Action: people.ManagePrinter, do: reasonedAct("name", (*desk.Desk).RemovePrinter)},
	{Method: "GET", Path: "/print-jobs", Summary: "The queue: what waits, is being printed, failed or broke off", Response: JobList{}, Action: people.SeePrinters,
		do: func(s *Server, c *call) (any, error) {
			jobs, err := c.d.PrintQueue(c.r.Context(), c.who)
			return JobList{orEmpty(jobs)}, err
		}},
	{Method: "POST", Path: "/print-jobs", Summary: "Print a report, a slip, a label or a test page", Request: desk.PrintAsk{}, Response: spool.Job{}, Status: http.StatusCreated, Keyed: true, Action: people.PrintSlip, Or: people.ManagePrinter,
		do: func(s *Server, c *call) (any, error) {
			ask, err := body[desk.PrintAsk](c)
			if err != nil {
				return nil, err
			}
			job, err := c.d.AskPrint(c.r.Context(), c.by(), ask)
			return s.askedJob(c, job, err)
		}},
	{Method: "GET", Path: "/print-jobs/{number}", Summary: "One job, whatever became of it", Response: spool.Job{}, Action: people.SeePrinters,
		do: func(s *Server, c *call) (any, error) {
			return c.d.PrintJob(c.r.Context(), c.who, c.name("number"))
		}},
	{Method: "POST", Path: "/print-jobs/{number}/again", Summary: "Print the paper of an earlier job again; what may have come out makes it a COPY", Request: AgainAsked{}, Response: spool.Job{}, Status: http.StatusCreated, Keyed: true, Action: people.PrintSlip, Or: people.ManagePrinter,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[AgainAsked](c)
			if err != nil {
				return nil, err
			}
			job, err := c.d.PrintAgain(c.r.Context(), c.by(), c.name("number"), asked.Printer)
			return s.askedJob(c, job, err)
		}},
	{Method: "POST", Path: "/print-jobs/{number}/drop", Summary: "Take a job out of the queue", Request: MaybeReasoned{}, Response: Done{}, Keyed: true, Action: people.PrintSlip, Or: people.ManagePrinter,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[MaybeReasoned](c)
			if err != nil {
				return nil, err
			}
			return done(c.d.DropPrint(c.r.Context(), c.by(), c.name("number"), asked.Reason))
		}},
	{Method: "GET", Path: "/prints/{document}/{subject}", Summary: "How often a paper was printed: a report, slip or label by what it is of", Response: Prints{}, Action: people.SeePrinters,
		do: func(s *Server, c *call) (any, error) {
			document := c.name("document")
			if _, known := documentWords[document]; !known {
				return nil, &problem{Type: "missing", Status: http.StatusNotFound, Title: "There is no paper " + document + ".", Hint: "Papers are " + strings.Join(spool.Documents, ", ") + "."}
			}
			came, jobs, err := c.d.Prints(c.r.Context(), c.who, document, c.name("subject"))
			return Prints{came, orEmpty(jobs)}, err
		}},

	{Method: "PUT", Path: "/shop", Summary: "Change what papers say of the shop", Request: ShopText{}, Response: desk.Shop{}, Keyed: true, Action: people.SetShop,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[ShopText](c)
			if err != nil {
				return nil, err
			}
			if err := c.d.SetShop(c.r.Context(), c.by(), asked.Name, asked.Address, asked.Reason); err != nil {
				return nil, err
			}
			return c.d.AboutShop(c.r.Context())
		}},
	{Method: "PUT", Path: "/logo", Summary: "Put a logo at the head of the papers, JPEG or PNG; an empty body takes it away", Request: pictureDocument{}, Response: Done{}, Keyed: true, Action: people.SetShop,
		do: func(s *Server, c *call) (any, error) {
			data, err := io.ReadAll(c.r.Body)
			if err != nil {
				return nil, err
			}
			return done(c.d.SetLogo(c.r.Context(), c.by(), data))
		}},

	{Method: "GET", Path: "/tables/{file}", Summary: "The day book, the register without customers, items or claims as a table: day-book.csv, register.xlsx, items.jsonl, claims.csv", Response: tableDocument{}, Action: people.SeeRecords,
		Query: append([]parameter{{"from", "first day, yyyy-mm-dd"}, {"until", "last day"}}, searchParameters...), do: tableByProgram},
	{Method: "GET", Path: "/tables/{kind}/{file}", Summary: "A lot, or the history of an instrument or a station, as a table: lot/NAME.csv, history/NAME.xlsx", Response: tableDocument{}, Action: people.SeeRecords, do: tableByProgram},
	{Method: "POST", Path: "/tables/register", Summary: "The register with the customers by name; who looked, and why, stands in the log", Request: RegisterAsked{}, Response: tableDocument{}, Action: people.SeePersonalData, do: registerByProgram},
	{Method: "GET", Path: "/evidence", Summary: "A bundle of everything that entered the log in a period, which can be verified without the log", Response: ledger.Bundle{}, Action: people.ExportEvidence,
		Query: []parameter{{"from", "first day, yyyy-mm-dd"}, {"until", "last day"}},
		do: func(s *Server, c *call) (any, error) {
			from, until, err := s.period(c.r)
			if err != nil {
				return nil, err
			}
			bundle, _, err := c.d.EvidenceOf(c.r.Context(), c.who, from, until)
			return bundle, err
		}},
	{Method: "POST", Path: "/lists/trial", Summary: "Say what an import of a list of items would come to; nothing is entered", Request: listDocument{}, Response: desk.Trial{}, Action: people.RegisterItem, Query: []parameter{{"file", "name of the file, as people know it"}},
		do: func(s *Server, c *call) (any, error) {
			list, err := listSent(c)
			if err != nil {
				return nil, err
			}
			return c.d.TryImport(c.r.Context(), c.who, list)
		}},
	{Method: "POST", Path: "/lists", Summary: "Enter all items of a list, or none: CSV, a workbook or JSON Lines", Request: listDocument{}, Response: desk.Imported{}, Status: http.StatusCreated, Keyed: true, Action: people.RegisterItem, Query: []parameter{{"file", "name of the file, as people know it"}},
		do: func(s *Server, c *call) (any, error) {
			list, err := listSent(c)
			if err != nil {
				return nil, err
			}
			made, err := c.d.ImportItems(c.r.Context(), c.by(), list)
			s.hub.tell("bench")
			return made, err
		}},
}

// searchParameters are those of a search in the day book, beside the days.
var searchParameters = []parameter{{"text", "words, each may be cut short"}, {"number", ""}, {"barcode", ""}, {"item", ""}, {"person", ""}, {"station", ""}, {"finding", "met, not met or undecided"},
	{"state", "recorded, signed or superseded"}, {"metal", ""}, {"density_low", "g/cm³"}, {"density_high", "g/cm³"}}

// paperOf hands out a paper as a file.
func paperOf(file string) func(*Server, *call) (any, error) {
	return func(s *Server, c *call) (any, error) {
		as, err := wantedBy(c.r)
		if err != nil {
			return nil, err
		}
		var out bytes.Buffer
		name, kind, err := s.writePaper(c.r, c.who, &out, c.name("number"), file, as)
		if err != nil {
			return nil, err
		}
		attach(c.w, name, kind)
		c.w.Write(out.Bytes())
		return written{}, nil
	}
}

func proofOf(s *Server, c *call) (any, error) {
	text, err := c.d.Prove(c.r.Context(), c.who, c.name("number"))
	if err != nil {
		return nil, err
	}
	keys, lines, err := s.proofKeys(c.r)
	if err != nil {
		return nil, err
	}
	opened, err := proof.Open(text, keys...)
	if err != nil {
		return nil, err
	}
	for i, key := range keys {
		if key.Mark == opened.Key.Mark {
			return Proved{text, lines[i]}, nil
		}
	}
	return Proved{Text: text}, nil
}

func issueByProgram(s *Server, c *call) (any, error) {
	asked, err := body[ReportAsked](c)
	if err != nil {
		return nil, err
	}
	by, err := c.seenBy()
	if err != nil {
		return nil, err
	}
	issue := desk.Issue{Record: c.name("name"), Description: asked.Description, Condition: asked.Condition, NoCustomer: asked.NoCustomer, Deviations: asked.Deviations, Opinion: asked.Opinion, Reason: asked.Reason}
	if asked.Received != "" {
		day, err := s.dayOf(c.r, "received", asked.Received)
		if err != nil {
			return nil, err
		}
		issue.Received = &day
	}
	f, err := c.d.IssueReport(c.r.Context(), by, issue)
	if err != nil {
		return nil, err
	}
	c.w.Header().Set("Location", apiRoot+"/papers/"+f.Report.Number+"/report.pdf")
	s.hub.tell(f.Record.Number)
	twin, err := f.TwinHash()
	return ReportIssued{f.Report.Number, f.Record.Number, twin, f.Report.Amends}, err
}

// askedJob tells where a new job is, and lets it be printed at once.
func (s *Server) askedJob(c *call, job spool.Job, err error) (any, error) {
	if err != nil {
		return nil, err
	}
	c.w.Header().Set("Location", apiRoot+"/print-jobs/"+job.Number)
	s.wakePrinting()
	return job, nil
}

// tableByProgram writes a table.
func tableByProgram(s *Server, c *call) (any, error) {
	return written{}, s.writeTable(c.w, c.r, c.who, c.name("kind"), c.name("file"), "")
}

func registerByProgram(s *Server, c *call) (any, error) {
	asked, err := body[RegisterAsked](c)
	if err != nil {
		return nil, err
	}
	format, known := tables.FormatOf("register." + asked.Format)
	if !known {
		return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "There is no form of file " + asked.Format + ".", Hint: "Give csv, xlsx or jsonl.", Field: "format"}
	}
	if strings.TrimSpace(asked.Reason) == "" {
		return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "Customers are named in the register only for a reason.", Hint: "Say why: it stands in the log beside every name that was looked at.", Field: "reason"}
	}
	from, until, err := s.periodOf(c.r, asked.From, asked.Until)
	if err != nil {
		return nil, err
	}
	t, err := c.d.RegisterTable(c.r.Context(), c.who, from, until, asked.Reason)
	if err != nil {
		return nil, err
	}
	return written{}, s.sendTable(c.r.Context(), c.w, format, t)
}

// listSent reads a list that was sent as it is.
func listSent(c *call) (desk.ListFile, error) {
	data, err := io.ReadAll(http.MaxBytesReader(c.w, c.r.Body, desk.MaxListBytes))
	if err != nil {
		return desk.ListFile{}, err
	}
	if len(data) == 0 {
		return desk.ListFile{}, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "No list was sent.", Hint: "Send the file as it is: CSV, a workbook (XLSX) or JSON Lines."}
	}
	name := c.r.URL.Query().Get("file")
	if name == "" {
		name = "list"
	}
	return desk.ListFile{Name: name, Data: data}, nil
}
