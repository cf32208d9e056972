package web

import (
	"net/http"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/register"
	"wreath/internal/vault"
)

type (
	// DealText is a deal that is entered.
	DealText struct {
		Kind     string   `json:"kind" doc:"buy, sell, exchange, pledge, consign or measure-only"`
		Items    []string `json:"items"`
		Customer string   `json:"customer,omitempty"`
		Amount   string   `json:"amount,omitempty" doc:"decimal"`
		Currency string   `json:"currency,omitempty"`
		Cash     string   `json:"cash,omitempty" doc:"the part paid in cash, a decimal"`
		Note     string   `json:"note,omitempty"`
	}
	// Deals is a part of the register, and what a register without gaps does not have.
	Deals struct {
		Deals  []desk.Deal `json:"deals"`
		Faults []Fault     `json:"faults" doc:"of the whole register"`
		Next   string      `json:"next,omitempty" doc:"address of the rest; absent at the end"`
	}
	// Fault is something that a register without gaps does not have.
	Fault struct {
		Kind   register.FaultKind `json:"kind" doc:"missing, twice, unreadable, outside or void reason"`
		Number string             `json:"number" doc:"the number, or the first of several that are missing"`
		Last   string             `json:"last,omitempty" doc:"the last one that is missing"`
		Count  int64              `json:"count" doc:"how many numbers are concerned"`
	}
	// Asked is what the rules ask of a customer.
	Asked struct {
		Fields  []string `json:"fields" doc:"empty when nothing is asked"`
		Because []string `json:"because" doc:"the rules that ask"`
		Unclear []string `json:"unclear" doc:"rules that could not be judged; a person decides whether they ask"`
	}
	// Named is the name of what was made.
	Named struct {
		ID string `json:"id"`
	}
	// Disclosed says who gets a customer's data.
	Disclosed struct {
		To     string   `json:"to" doc:"the customer, or an authority that may ask"`
		Keeper string   `json:"keeper" doc:"the business that keeps the data, and how to reach it"`
		Rights []string `json:"rights,omitempty" doc:"what the customer may ask for, and where to complain"`
	}
)

func (t DealText) deal() desk.Deal {
	return desk.Deal{Kind: t.Kind, Items: t.Items, Customer: t.Customer, Amount: t.Amount, Currency: t.Currency, Cash: t.Cash, Note: t.Note}
}

var dealEndpoints = []endpoint{
	{Method: "GET", Path: "/deals", Summary: "The register, in the order of its entries", Response: Deals{}, Action: people.SeePrices, Query: parts,
		do: func(s *Server, c *call) (any, error) {
			all, faults, err := c.d.Book(c.r.Context(), c.who)
			if err != nil {
				return nil, err
			}
			part, next, err := partOf(c, all)
			rows := []Fault{}
			for _, f := range faults {
				rows = append(rows, Fault{f.Kind, f.Number, f.Last, f.Count})
			}
			return Deals{part, rows, next}, err
		}},
	{Method: "POST", Path: "/deals", Summary: "Enter a deal in the register", Request: DealText{}, Response: desk.Deal{}, Status: http.StatusCreated, Keyed: true, Action: people.RegisterDeal,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[DealText](c)
			if err != nil {
				return nil, err
			}
			return c.d.Register(c.r.Context(), c.by(), asked.deal())
		}},
	{Method: "POST", Path: "/deals/asked", Summary: "What the rules will ask of the customer of a deal; nothing is entered", Request: DealText{}, Response: Asked{}, Action: people.SeePrices,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[DealText](c)
			if err != nil {
				return nil, err
			}
			rules, err := c.d.AskedOf(c.r.Context(), c.who, asked.deal())
			return Asked{orEmpty(rules.Fields), reasonTexts(rules.Because), reasonTexts(rules.Unclear)}, err
		}},
	{Method: "POST", Path: "/deals/{number}/void", Summary: "It came to nothing; its number stays used", Request: Reasoned{}, Response: Done{}, Keyed: true, Action: people.RegisterDeal,
		do: reasonedAct("number", (*desk.Desk).VoidDeal)},
	{Method: "POST", Path: "/deals/{number}/close", Summary: "It is over: redeemed, taken back, settled", Request: Reasoned{}, Response: Done{}, Keyed: true, Action: people.RegisterDeal,
		do: reasonedAct("number", (*desk.Desk).CloseDeal)},
	{Method: "GET", Path: "/register-rules", Summary: "The rules by which the register is kept", Response: register.Rules{}, Action: people.SeeRules,
		do: func(s *Server, c *call) (any, error) { return c.d.RegisterRules(c.r.Context(), c.who) }},
	{Method: "PUT", Path: "/register-rules", Summary: "Set them; earlier ones stay in the log", Request: register.Rules{}, Response: register.Rules{}, Keyed: true, Action: people.SetRegisterRule, Query: why,
		do: func(s *Server, c *call) (any, error) {
			data, err := c.raw()
			if err != nil {
				return nil, err
			}
			rules, err := register.Decode(data)
			if err != nil {
				return nil, err
			}
			return rules, c.d.SetRegisterRules(c.r.Context(), c.by(), rules, c.r.URL.Query().Get("reason"))
		}},

	{Method: "POST", Path: "/customers", Summary: "Keep a customer's data, sealed; the log knows the name that comes back", Request: vault.Person{}, Response: Named{}, Status: http.StatusCreated, Keyed: true, Action: people.EnterCustomer,
		do: func(s *Server, c *call) (any, error) {
			p, err := customer(c)
			if err != nil {
				return nil, err
			}
			id, err := c.d.EnterCustomer(c.r.Context(), c.by(), p)
			return Named{id}, err
		}},
	{Method: "PUT", Path: "/customers/{id}", Summary: "Correct a customer's data", Request: vault.Person{}, Response: Done{}, Keyed: true, Action: people.CorrectCustomer,
		do: func(s *Server, c *call) (any, error) {
			p, err := customer(c)
			if err != nil {
				return nil, err
			}
			return done(c.d.CorrectCustomer(c.r.Context(), c.by(), c.name("id"), p))
		}},
	{Method: "POST", Path: "/customers/{id}/views", Summary: "Look at a customer's data; who looked, and why, stands in the log", Request: Reasoned{}, Response: vault.Person{}, Action: people.SeePersonalData,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[Reasoned](c)
			if err != nil {
				return nil, err
			}
			return c.d.SeeCustomer(c.r.Context(), c.by(), c.name("id"), asked.Reason)
		}},
	{Method: "POST", Path: "/customers/{id}/disclosures", Summary: "Everything that is kept of a customer, for that customer or who may ask", Request: Disclosed{}, Response: vault.Access{}, Action: people.DisclosePersonal,
		do: func(s *Server, c *call) (any, error) {
			asked, err := body[Disclosed](c)
			if err != nil {
				return nil, err
			}
			return c.d.DiscloseCustomer(c.r.Context(), c.by(), c.name("id"), asked.To, vault.AccessFacts{Keeper: asked.Keeper, Rights: asked.Rights})
		}},
	{Method: "POST", Path: "/customers/{id}/erasure", Summary: "Erase a customer's data for good, where nothing asks to keep them", Request: Reasoned{}, Response: Done{}, Keyed: true, Action: people.EraseCustomer,
		do: reasonedAct("id", (*desk.Desk).EraseCustomer)},
}

func customer(c *call) (vault.Person, error) {
	data, err := c.raw()
	if err != nil {
		return vault.Person{}, err
	}
	return vault.Decode(data)
}

func reasonTexts(reasons []register.Reason) []string {
	texts := []string{}
	for _, r := range reasons {
		texts = append(texts, r.Text)
	}
	return texts
}
