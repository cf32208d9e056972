package web

import (
	"strings"
	"testing"
)

// TestVerifyPageNeedsNobody asks for the page that checks proofs without signing in: it has the shop's public
// keys and its own script by its hash, and nothing of the records. As a file with the status list only who may
// hand out evidence gets it.
func TestVerifyPageNeedsNobody(t *testing.T) {
	s := newShop(t)
	number := s.recorded(s.who("boss"))
	must[string](t)(s.desk.Prove(t.Context(), s.who("boss").Who, number))
	a := s.client().still().get("/verify").want(200)
	policy := a.header.Get("Content-Security-Policy")
	for _, part := range []string{"default-src 'none'", "script-src 'sha256-", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'none'"} {
		if !strings.Contains(policy, part) {
			t.Errorf("the policy %q lacks %q", policy, part)
		}
	}
	if strings.Contains(policy, "unsafe") || strings.Contains(policy, "connect-src") {
		t.Errorf("the policy %q is open", policy)
	}
	if !strings.Contains(a.body, s.public) || !strings.Contains(a.body, "Invented Shop") {
		t.Error("the page holds neither the shop's public key nor its name")
	}
	a.hides(number, `"list":"WREATHLIST`, "Boss Invented")
	if a := s.client().still().get("/verify/file"); a.status != 303 {
		t.Errorf("the page with the status list is given to nobody: %d", a.status)
	}
	file := s.signedIn("audit").get("/verify/file").want(200)
	if !strings.Contains(file.body, `"list":"WREATHLIST`) || !strings.HasPrefix(file.header.Get("Content-Disposition"), "attachment") {
		t.Error("the file holds no status list, or is no download")
	}
	s.signedIn("measure").get("/verify/file").want(403)
	if a := newFirstRun(t, "ABCD-EFGH").client().still().get("/verify"); a.status != 303 {
		t.Errorf("before the first run: %d", a.status)
	}
}

// TestFilesNameNobody asks every table for the customer of a deal: only the register asked for with a reason
// names one.
func TestFilesNameNobody(t *testing.T) {
	s := newShop(t)
	k := s.signedIn("boss")
	item := into[struct{ ID string }](k.call("POST", "/items", doc{"description": "chain (invented)"}).want(201))
	customer := into[Named](k.call("POST", "/customers", doc{"name": "Quilla Invented"}).want(201))
	k.call("PUT", "/register-rules?reason=invented", parsed(t, `{"format": 1, "name": "Invented Town", "time_zone": "UTC", "editions": [{"edition": "first", "source": "invented", "valid_from": "2020-01-01",
 "numbering": {"pattern": "A-{year}-{number:4}", "restart": "yearly"}}]}`)).want(200)
	k.call("POST", "/deals", doc{"kind": "buy", "items": []string{item.ID}, "customer": customer.ID, "amount": "500", "currency": "EUR"}).want(201)
	for _, who := range []string{"boss", "price", "audit", "measure"} {
		c := s.signedIn(who)
		for _, name := range []string{"day-book.csv", "register.csv", "items.jsonl", "claims.csv"} {
			if a := c.get("/files/" + name); strings.Contains(a.body, "Quilla") {
				t.Errorf("%s names a customer to %s", name, who)
			}
		}
		if a := c.get("/items/" + item.ID); strings.Contains(a.body, "Quilla") {
			t.Errorf("the page of the item names a customer to %s", who)
		}
	}
	price := s.signedIn("price")
	price.post("/files/register", "format", "csv", "reason", "").want(422)
	if a := price.post("/files/register", "format", "csv", "reason", "asked by the authority (invented)").want(200); !strings.Contains(a.body, "Quilla") {
		t.Error("the register with the customers names none")
	}
	s.signedIn("audit").post("/files/register", "format", "csv", "reason", "curious").want(403)
	history := k.call("GET", "/history/"+customer.ID, nil).want(200).body
	if !strings.Contains(history, "customer-seen") || !strings.Contains(history, "asked by the authority") {
		t.Errorf("who looked, and why, does not stand in the log: %s", history)
	}
}
