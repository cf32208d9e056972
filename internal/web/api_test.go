package web

import (
	"testing"
	"time"

	"wreath/internal/people"
	"wreath/internal/record"
)

func TestWholeDeterminationOverHTTP(t *testing.T) {
	s := newBench(t)
	id := s.sheet(s.who("boss"))
	made := into[record.Record](s.client().call("POST", "/sheets/"+id+"/conclusion", nil).want(201))
	s.client().call("GET", "/determinations/"+made.Number, nil).want(200)
}

func TestFirstRunLeadsToTheBench(t *testing.T) {
	c := newFirstRun(t, "").client()
	if a := c.still().get("/").want(303); a.header.Get("Location") != "/first" {
		t.Errorf("goes to %s, want /first", a.header.Get("Location"))
	}
	if a := c.post("/first", "begin", "own", "interval", "0.1 mg", "liquid", "water", "arrangement", "hanging", "zone", "UTC").want(200); a.path != "/" {
		t.Errorf("ends at %s, want the bench", a.path)
	}
}

func TestTokenReadsAndExpires(t *testing.T) {
	s := newShop(t)
	number := s.recorded(s.who("measure"))
	program := s.program(people.Audit)
	program.call("GET", "/determinations/"+number, nil).want(200)
	s.clock.move(25 * time.Hour)
	program.call("GET", "/determinations/"+number, nil).want(401)
	for id := range team {
		s.signedIn(id).get("/settings").want(200)
	}
}
