package web

import (
	"bytes"
	"image"
	"image/png"
	"strings"

	"wreath/internal/desk"
	"wreath/internal/spool"
)

// paper calls every endpoint of papers, printers, tables and lists.
func (k *contract) paper(number, deal string) {
	k.t.Helper()
	k.call("PUT", "/shop", doc{"address": "Lantern Lane 1 (invented)", "reason": "moved"}).want(200)
	k.refuses(422, "input", "PUT", "/shop", doc{"name": strings.Repeat("n", 201)})
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 40, 20))); err != nil {
		k.t.Fatal(err)
	}
	k.holds("logo", k.do("PUT", apiRoot+"/logo", &picture, "Content-Type", "image/png").want(200).body, "components", "schemas", "web.Done")
	k.good["PUT "+apiRoot+"/logo"] = true
	k.refuses(422, "input", "PUT", "/logo", doc{"no": "picture"})

	k.call("GET", "/papers/"+number+"/facts", nil).want(200)
	k.refuses(404, "missing", "GET", "/papers/D-999999/facts", nil)
	k.call("GET", "/determinations/"+number+"/reports/missing", nil).want(200)
	k.refuses(404, "missing", "GET", "/determinations/D-999999/reports/missing", nil)
	if p := k.refuses(422, "input", "POST", "/determinations/"+number+"/reports", doc{}); len(p.Faults) == 0 {
		k.t.Errorf("a report that lacks something is refused without saying what: %+v", p)
	}
	k.refuses(422, "input", "POST", "/determinations/"+number+"/reports", doc{"received": "yesterday"})
	k.call("POST", "/determinations/"+number+"/signatures", doc{"meaning": "approved", "password": password}).want(201)
	report := into[ReportIssued](k.call("POST", "/determinations/"+number+"/reports", doc{"condition": "worn (invented)", "received": "2026-11-26", "no_customer": "measured for the shop itself"}).want(201))
	amended := into[ReportIssued](k.call("POST", "/determinations/"+number+"/reports", doc{"condition": "worn, bent (invented)", "received": "2026-11-26", "no_customer": "measured for the shop itself", "reason": "the bend was overlooked"}).want(201))
	if amended.Amends == nil || amended.Amends.Number != report.Number || len(amended.Amends.Changes) == 0 {
		k.t.Errorf("the second report amends %+v", amended.Amends)
	}
	if listed := into[IssuedReports](k.call("GET", "/determinations/"+number+"/reports", nil).want(200)); len(listed.Reports) != 2 || listed.Reports[0].SupersededBy != amended.Number {
		k.t.Errorf("reports: %+v", listed)
	}
	k.refuses(404, "missing", "GET", "/determinations/D-999999/reports", nil)
	for path, begins := range map[string]string{
		"/papers/" + amended.Number + "/report.pdf?sheet=letter&language=de&second=en": "%PDF-", "/papers/" + number + "/slip.pdf?width=80": "%PDF-",
		"/papers/" + number + "/label.pdf?size=57x32&code=qr": "%PDF-", "/papers/" + number + "/slip.txt?language=es": "", "/papers/" + number + "/proof.svg": "<svg", "/papers/" + number + "/proof.jwt": "eyJ",
	} {
		if a := k.call("GET", path, nil).want(200); !strings.HasPrefix(a.body, begins) || !strings.HasPrefix(a.header.Get("Content-Disposition"), "attachment") {
			k.t.Errorf("%s begins with %.20q and comes as %q", path, a.body, a.header.Get("Content-Disposition"))
		}
	}
	for _, wrong := range []string{"report.pdf?sheet=a3", "slip.pdf?width=70", "slip.txt?language=xx", "label.pdf?size=5x5"} {
		k.refuses(422, "input", "GET", "/papers/"+number+"/"+wrong, nil)
	}
	k.refuses(404, "missing", "GET", "/papers/D-000001/report.pdf", nil)
	k.refuses(404, "missing", "GET", "/papers/D-999999/proof.svg", nil)
	k.refuses(404, "missing", "GET", "/papers/D-999999/proof.jwt", nil)
	if p := into[Proved](k.call("GET", "/papers/"+number+"/proof", nil).want(200)); !strings.HasPrefix(p.Text, "WREATH1:") || !strings.HasPrefix(p.Key, "wreath-log/") {
		k.t.Errorf("the proof is %+v", p)
	}
	k.refuses(404, "missing", "GET", "/papers/D-999999/proof", nil)
	k.call("GET", "/keys", nil).want(200)
	k.refuses(400, "input", "GET", "/keys?x=1", nil)
	if l := into[Listed](k.call("GET", "/status-list", nil).want(200)); !strings.HasPrefix(l.Text, "WREATHLIST1:") {
		k.t.Errorf("the status list is %.40q", l.Text)
	}
	k.refuses(400, "input", "GET", "/status-list?x=1", nil)

	printer := doc{"format": 1, "name": "counter", "version": 1, "address": "tcp://192.0.2.20:9100", "takes": "text", "columns": 32, "encoding": "utf-8"}
	k.call("PUT", "/printers/counter?reason=new", printer).want(200)
	k.refuses(422, "input", "PUT", "/printers/other", printer)
	k.call("GET", "/printers", nil).want(200)
	k.refuses(400, "input", "GET", "/printers?x=1", nil)
	job := into[spool.Job](k.call("POST", "/print-jobs", doc{"document": "slip", "subject": number, "printer": "counter"}).want(201))
	k.refuses(422, "input", "POST", "/print-jobs", doc{"document": "report", "subject": amended.Number, "printer": "counter"})
	k.call("GET", "/print-jobs/"+job.Number, nil).want(200)
	k.refuses(404, "missing", "GET", "/print-jobs/P-999999", nil)
	k.call("GET", "/print-jobs", nil).want(200)
	k.refuses(400, "input", "GET", "/print-jobs?x=1", nil)
	k.refuses(422, "input", "POST", "/print-jobs/"+job.Number+"/again", doc{})
	k.refuses(422, "input", "POST", "/printers/counter/end", doc{"reason": "given away"})
	k.call("POST", "/print-jobs/"+job.Number+"/drop", doc{"reason": "customer left"}).want(200)
	k.refuses(422, "input", "POST", "/print-jobs/"+job.Number+"/drop", doc{})
	again := into[spool.Job](k.call("POST", "/print-jobs/"+job.Number+"/again", doc{}).want(201))
	if again.Of != job.Number || again.Copy != 0 {
		k.t.Errorf("printed again: %+v, want the first print still", again)
	}
	if p := into[Prints](k.call("GET", "/prints/slip/"+number, nil).want(200)); p.Came != 0 || len(p.Jobs) != 2 {
		k.t.Errorf("prints: %+v", p)
	}
	k.refuses(404, "missing", "GET", "/prints/banknote/"+number, nil)
	k.call("POST", "/print-jobs/"+again.Number+"/drop", doc{}).want(200)
	k.call("POST", "/printers/counter/end", doc{"reason": "given away"}).want(200)

	for path, holds := range map[string]string{
		"/tables/day-book.csv?from=2026-01-01&metal=gold": number, "/tables/items.jsonl": "chain", "/tables/claims.csv": "chain", "/tables/register.csv?until=2026-12-31": deal, "/tables/day-book.xlsx": "PK",
		"/tables/history/B-1.csv": "B-77",
	} {
		if a := k.call("GET", path, nil).want(200); !strings.Contains(a.body, holds) || strings.Contains(a.body, "Quilla") {
			k.t.Errorf("%s does not hold %s, or names a customer: %.400s", path, holds, a.body)
		}
	}
	k.refuses(404, "missing", "GET", "/tables/people.csv", nil)
	k.refuses(404, "missing", "GET", "/tables/lot/l-none.csv", nil)
	k.refuses(422, "input", "GET", "/tables/register.csv?from=2026-12-31&until=2026-01-01", nil)
	if a := k.call("POST", "/tables/register", doc{"format": "csv", "reason": "asked by the authority (invented)"}).want(200); !strings.Contains(a.body, "Quilla") {
		k.t.Errorf("the register with the customers names none: %.400s", a.body)
	}
	k.refuses(422, "input", "POST", "/tables/register", doc{"format": "csv", "reason": ""})
	k.call("GET", "/evidence?from=2026-11-01&until=2026-11-30", nil).want(200)
	k.refuses(422, "input", "GET", "/evidence?from=soon", nil)

	const list = "serial,description,metal,fineness,mass,mass unit\r\nIN-1,bar (invented),gold,999.9,1000.0,g\r\n"
	send := func(path, text string) answer {
		return k.do("POST", apiRoot+path, strings.NewReader(text), "Content-Type", "text/csv")
	}
	a := send("/lists/trial?file=bars.csv", list).want(200)
	k.holds("trial", a.body, "components", "schemas", "desk.Trial")
	if trial := into[desk.Trial](a); trial.Mends() != 0 || len(trial.Items) != 1 || trial.File != "bars.csv" {
		k.t.Errorf("the trial of a list: %+v", trial)
	}
	k.refuses(422, "input", "POST", "/lists/trial", nil)
	k.holds("import", send("/lists?file=bars.csv", list).want(201).body, "components", "schemas", "desk.Imported")
	k.refuses(422, "input", "POST", "/lists", nil)
	if p := into[problem](send("/lists", strings.ReplaceAll(list, "gold", "unobtainium")).want(422)); len(p.Faults) == 0 {
		k.t.Errorf("a list with a metal that there is not: %+v, want its row named", p)
	}
	k.good["POST "+apiRoot+"/lists/trial"], k.good["POST "+apiRoot+"/lists"] = true, true
}
