package web

import (
	"context"
	"encoding/json"
	"net/http"
	"time"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/station"
	"wreath/internal/value"
)

type (
	// Versions are all versions of a document.
	Versions struct {
		Versions []desk.Version `json:"versions"`
	}
	// Priced is a list of prices.
	Priced struct {
		Prices []value.Price `json:"prices"`
	}
	// AllTerms is a list of terms.
	AllTerms struct {
		Terms []value.Terms `json:"terms"`
	}
	// Newcomer is a person who is added.
	Newcomer struct {
		ID    string        `json:"id" doc:"short, lower case; what is typed to sign in"`
		Name  string        `json:"name" doc:"as printed beside signatures"`
		Roles []people.Role `json:"roles"`
	}
	// Reroled is the roles of a person, changed.
	Reroled struct {
		Roles  []people.Role `json:"roles"`
		Reason string        `json:"reason,omitempty"`
	}
	// Shown is a secret that is shown once.
	Shown struct {
		ID     string `json:"id,omitempty"`
		Secret string `json:"secret" doc:"shown once; empty when the same act was sent again"`
	}
	// NewDevice is a device that is enrolled.
	NewDevice struct {
		Name   string `json:"name" doc:"of the counter"`
		Shared bool   `json:"shared" doc:"several people use it: sessions lock early"`
	}
	// NewToken is a token that is issued.
	NewToken struct {
		Name    string        `json:"name" doc:"what it is for"`
		Roles   []people.Role `json:"roles" doc:"of the roles of who issues it; never sign or administer"`
		Expires time.Time     `json:"expires" doc:"within a year"`
	}
	// Staff is who and what is let in; without the hashes of their secrets.
	Staff struct {
		People  []people.Person `json:"people"`
		Devices []DeviceRow     `json:"devices"`
		Tokens  []TokenRow      `json:"tokens"`
	}
	// DeviceRow is an enrolled device.
	DeviceRow struct {
		ID         string     `json:"id"`
		Name       string     `json:"name"`
		Shared     bool       `json:"shared"`
		Enrolled   time.Time  `json:"enrolled"`
		EnrolledBy string     `json:"enrolled_by"`
		Ended      *time.Time `json:"ended,omitempty"`
	}
	// TokenRow is a token.
	TokenRow struct {
		ID      string        `json:"id"`
		Name    string        `json:"name"`
		Owner   string        `json:"owner"`
		Roles   []people.Role `json:"roles"`
		Made    time.Time     `json:"made"`
		Expires time.Time     `json:"expires"`
		Ended   *time.Time    `json:"ended,omitempty"`
	}
	// Rules are the rules on the second person.
	Rules struct {
		Rules []people.FourEyes `json:"rules"`
	}
)

// why is the reason for a document that is set.
var why = []parameter{{"reason", "in a few words"}}

// reasonedAct is an act on something named in the path that needs nothing but a reason.
func reasonedAct(in string, do func(d *desk.Desk, ctx context.Context, by desk.By, id, reason string) error) func(*Server, *call) (any, error) {
	return func(s *Server, c *call) (any, error) {
		asked, err := body[Reasoned](c)
		if err != nil {
			return nil, err
		}
		return done(do(c.d, c.r.Context(), c.by(), c.name(in), asked.Reason))
	}
}

var equipmentEndpoints = []endpoint{
	{Method: "GET", Path: "/equipment", Summary: "Stations and instruments, and how their papers stand", Response: desk.Equipment{}, Action: people.SeeStations,
		do: func(s *Server, c *call) (any, error) { return c.d.Equipment(c.r.Context(), c.who) }},
	{Method: "GET", Path: "/equipment/{id}/versions", Summary: "All versions of a station or instrument, oldest first", Response: Versions{}, Action: people.SeeStations,
		do: func(s *Server, c *call) (any, error) {
			v, err := c.d.Versions(c.r.Context(), c.who, c.name("id"))
			return Versions{orEmpty(v)}, err
		}},
	{Method: "PUT", Path: "/stations/{id}", Summary: "Set up a station, or its next version", Request: station.Station{}, Response: station.Ref{}, Keyed: true, Seen: true, Action: people.ManageStation, Query: why,
		do: func(s *Server, c *call) (any, error) {
			by, data, err := named(c)
			if err != nil {
				return nil, err
			}
			doc, err := station.DecodeStation(data)
			if err != nil {
				return nil, err
			}
			if err := sameName(c, doc.ID); err != nil {
				return nil, err
			}
			return c.d.SetStation(c.r.Context(), by, *doc, c.r.URL.Query().Get("reason"))
		}},
	{Method: "PUT", Path: "/instruments/{id}", Summary: "Write down an instrument, or its next version", Request: station.Instrument{}, Response: station.Ref{}, Keyed: true, Seen: true, Action: people.ManageInstrument, Query: why,
		do: func(s *Server, c *call) (any, error) {
			by, data, err := named(c)
			if err != nil {
				return nil, err
			}
			doc, err := station.DecodeInstrument(data)
			if err != nil {
				return nil, err
			}
			if err := sameName(c, doc.ID); err != nil {
				return nil, err
			}
			if doc.Link != nil {
				if _, err := LiveConfig(doc); err != nil {
					return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The link can't be used: " + err.Error() + ".", Hint: "Look at its address and its pattern.", Field: "link"}
				}
			}
			ref, err := c.d.SetInstrument(c.r.Context(), by, *doc, c.r.URL.Query().Get("reason"))
			s.relink(c.r.Context())
			return ref, err
		}},
	{Method: "POST", Path: "/instruments/{id}/out-of-service", Summary: "Take it out of service", Request: Reasoned{}, Response: station.Ref{}, Keyed: true, Action: people.TakeOutOfService,
		do: onInstrument((*desk.Desk).TakeOutOfService)},
	{Method: "POST", Path: "/instruments/{id}/in-service", Summary: "Return it to service", Request: Reasoned{}, Response: station.Ref{}, Keyed: true, Action: people.ReturnToService,
		do: onInstrument((*desk.Desk).ReturnToService)},
}

func onInstrument(do func(d *desk.Desk, ctx context.Context, by desk.By, id, reason string) (station.Ref, error)) func(*Server, *call) (any, error) {
	return func(s *Server, c *call) (any, error) {
		asked, err := body[Reasoned](c)
		if err != nil {
			return nil, err
		}
		return do(c.d, c.r.Context(), c.by(), c.name("id"), asked.Reason)
	}
}

// named reads a document that is set under a name.
func named(c *call) (desk.By, json.RawMessage, error) {
	by, err := c.seenBy()
	if err != nil {
		return by, nil, err
	}
	data, err := c.raw()
	return by, data, err
}

// sameName asks that document and path name the same thing.
func sameName(c *call, id string) error {
	if id != c.name("id") {
		return &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The document is of " + id + ", the address of " + c.name("id") + ".", Hint: "Name the same thing in both.", Field: "id"}
	}
	return nil
}

var moneyEndpoints = []endpoint{
	{Method: "GET", Path: "/prices", Summary: "The newest prices", Response: Priced{}, Action: people.SeePrices,
		do: func(s *Server, c *call) (any, error) {
			prices, err := c.d.Prices(c.r.Context(), c.who)
			return Priced{orEmpty(prices)}, err
		}},
	{Method: "POST", Path: "/prices", Summary: "Enter prices, all or none", Request: Priced{}, Response: Priced{}, Status: http.StatusCreated, Keyed: true, Action: people.SetPrice,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[Priced](c)
			if err != nil {
				return nil, err
			}
			if err := c.d.SetPrices(c.r.Context(), c.by(), asked.Prices); err != nil {
				return nil, err
			}
			prices, err := c.d.Prices(c.r.Context(), c.who)
			return Priced{orEmpty(prices)}, err
		}},
	{Method: "GET", Path: "/terms", Summary: "The terms of the house", Response: AllTerms{}, Action: people.SeePrices,
		do: func(s *Server, c *call) (any, error) {
			terms, err := c.d.TermsOf(c.r.Context(), c.who)
			return AllTerms{orEmpty(terms)}, err
		}},
	{Method: "PUT", Path: "/terms/{key}", Summary: "Set terms, or their next version", Request: value.Terms{}, Response: value.Terms{}, Keyed: true, Action: people.SetTerms, Query: why,
		do: func(s *Server, c *call) (any, error) {
			by, data, err := named(c)
			if err != nil {
				return nil, err
			}
			terms, err := value.DecodeTerms(data)
			if err != nil {
				return nil, err
			}
			if terms.Key != c.name("key") {
				return nil, &problem{Type: "input", Status: http.StatusUnprocessableEntity, Title: "The document is of " + terms.Key + ", the address of " + c.name("key") + ".", Hint: "Name the same terms in both.", Field: "key"}
			}
			return c.d.SetTerms(c.r.Context(), by, *terms, c.r.URL.Query().Get("reason"))
		}},
}

var peopleEndpoints = []endpoint{
	{Method: "GET", Path: "/staff", Summary: "People, devices and tokens", Response: Staff{}, Action: people.SeePeople,
		do: func(s *Server, c *call) (any, error) {
			all, err := c.d.Staff(c.r.Context(), c.who)
			if err != nil {
				return nil, err
			}
			out := Staff{People: orEmpty(all.People), Devices: []DeviceRow{}, Tokens: []TokenRow{}}
			for _, d := range all.Devices {
				out.Devices = append(out.Devices, DeviceRow{d.ID, d.Name, d.Shared, d.Enrolled, d.EnrolledBy, d.Ended})
			}
			for _, t := range all.Tokens {
				out.Tokens = append(out.Tokens, TokenRow{t.ID, t.Name, t.Owner, orEmpty(t.Roles), t.Made, t.Expires, t.Ended})
			}
			return out, nil
		}},
	{Method: "POST", Path: "/people", Summary: "Add a person, who gets a one-time code", Request: Newcomer{}, Response: Shown{}, Status: http.StatusCreated, Keyed: true, Action: people.AddPerson,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[Newcomer](c)
			if err != nil {
				return nil, err
			}
			code, err := c.d.AddPerson(c.r.Context(), c.by(), people.Person{ID: asked.ID, Name: asked.Name, Roles: asked.Roles})
			return Shown{asked.ID, code}, err
		}},
	{Method: "PUT", Path: "/people/{id}/roles", Summary: "Change the roles of a person, whose sessions end", Request: Reroled{}, Response: Done{}, Keyed: true, Action: people.ChangeRoles,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[Reroled](c)
			if err != nil {
				return nil, err
			}
			return done(c.d.ChangePerson(c.r.Context(), c.by(), c.name("id"), func(p people.Person) people.Person { return p.WithRoles(asked.Roles) }, asked.Reason))
		}},
	{Method: "POST", Path: "/people/{id}/end", Summary: "For somebody who leaves", Request: Reasoned{}, Response: Done{}, Keyed: true, Action: people.EndPerson,
		do: reasonedAct("id", (*desk.Desk).EndPerson)},
	{Method: "POST", Path: "/people/{id}/code", Summary: "Give a person a one-time code to set a new password", Response: Shown{}, Status: http.StatusCreated, Action: people.ResetPassword,
		do: func(s *Server, c *call) (any, error) {
			code, err := c.d.ResetPassword(c.r.Context(), c.by(), c.name("id"))
			return Shown{c.name("id"), code}, err
		}},
	{Method: "POST", Path: "/devices", Summary: "Enrol a device; its secret is shown once", Request: NewDevice{}, Response: Shown{}, Status: http.StatusCreated, Action: people.EnrolDevice,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[NewDevice](c)
			if err != nil {
				return nil, err
			}
			secret, device, err := c.d.EnrolDevice(c.r.Context(), c.by(), asked.Name, asked.Shared)
			return Shown{device.ID, secret}, err
		}},
	{Method: "POST", Path: "/devices/{id}/end", Summary: "For a device that is lost or given away", Request: Reasoned{}, Response: Done{}, Keyed: true, Action: people.EndDevice,
		do: reasonedAct("id", (*desk.Desk).EndDevice)},
	{Method: "POST", Path: "/tokens", Summary: "Issue a token; its secret is shown once", Request: NewToken{}, Response: Shown{}, Status: http.StatusCreated, Action: people.IssueToken,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[NewToken](c)
			if err != nil {
				return nil, err
			}
			secret, token, err := c.d.IssueToken(c.r.Context(), c.by(), asked.Name, asked.Roles, asked.Expires)
			return Shown{token.ID, secret}, err
		}},
	{Method: "POST", Path: "/tokens/{id}/end", Summary: "End a token", Request: Reasoned{}, Response: Done{}, Keyed: true, Action: people.EndToken,
		do: reasonedAct("id", (*desk.Desk).EndToken)},
	{Method: "GET", Path: "/second-person", Summary: "The rules on the second person, in the order in which they were set", Response: Rules{}, Action: people.SeeRules,
		do: func(s *Server, c *call) (any, error) {
			rules, err := c.d.FourEyes(c.r.Context(), c.who)
			return Rules{orEmpty(rules)}, err
		}},
	{Method: "POST", Path: "/second-person", Summary: "Set from a day on when a second person must witness", Request: people.FourEyes{}, Response: people.FourEyes{}, Status: http.StatusCreated, Keyed: true, Action: people.SetFourEyes,
		do: func(s *Server, c *call) (any, error) {
			data, err := c.raw()
			if err != nil {
				return nil, err
			}
			rule, err := people.ReadFourEyes(data)
			if err != nil {
				return nil, err
			}
			return rule, c.d.SetFourEyes(c.r.Context(), c.by(), rule)
		}},
}
