package web

import (
	"io"
	"net/http"

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/register"
)

type (
	// ItemText is what is written down of an item.
	ItemText struct {
		Description string `json:"description" doc:"what it is, in words"`
		Marks       string `json:"marks,omitempty" doc:"stamps and marks as seen"`
		Condition   string `json:"condition,omitempty" doc:"how it arrived"`
		Claim       string `json:"claim,omitempty" doc:"what it is said to be"`
		ClaimBy     string `json:"claim_by,omitempty" doc:"who says so: stamp, seller, list, certificate"`
		Barcode     string `json:"barcode,omitempty" doc:"of its tray or bag"`
		PartOf      string `json:"part_of,omitempty" doc:"the lot or item that it belongs to"`
		Place       string `json:"place,omitempty" doc:"where it lies"`
	}
	// ItemChange is another text, with the reason.
	ItemChange struct {
		ItemText
		Reason string `json:"reason,omitempty"`
	}
	// ItemMove says where an item went.
	ItemMove struct {
		Place    string    `json:"place,omitempty" doc:"where it lies now"`
		Gone     string    `json:"gone,omitempty" doc:"how it left: sold, melted, altered or returned"`
		Reason   string    `json:"reason,omitempty"`
		Override *Override `json:"override,omitempty" doc:"of a hold by a rule; two people stand for it"`
	}
	// Override is how a hold is broken.
	Override struct {
		Ground   string `json:"ground" doc:"the law or decision that allows it, in words"`
		Second   string `json:"second" doc:"short name of the second person"`
		Password string `json:"password" doc:"of the second person"`
	}
	// ItemHold is an order of an authority.
	ItemHold struct {
		Authority string `json:"authority"`
		Reference string `json:"reference" doc:"the authority's own"`
	}
	// ItemRelease is the end of an order.
	ItemRelease struct {
		Order     string `json:"order" doc:"reference of the order that is lifted"`
		Reference string `json:"reference" doc:"by which the authority lifted it"`
	}
)

func (t ItemText) item(id string) desk.Item {
	return desk.Item{ID: id, Description: t.Description, Marks: t.Marks, Condition: t.Condition, Claim: t.Claim, ClaimBy: t.ClaimBy, Barcode: t.Barcode, PartOf: t.PartOf, Place: t.Place}
}

var itemEndpoints = []endpoint{
	{Method: "POST", Path: "/items", Summary: "Write down an item", Request: ItemText{}, Response: desk.Item{}, Status: http.StatusCreated, Keyed: true, Action: people.RegisterItem,
		do: func(s *Server, c *call) (any, error) {
			text, err := body[ItemText](c)
			if err != nil {
				return nil, err
			}
			item, err := c.d.EnterItem(c.r.Context(), c.by(), text.item(""))
			if err == nil {
				c.w.Header().Set("Location", apiRoot+"/items/"+item.ID)
			}
			return item, err
		}},
	{Method: "GET", Path: "/items/{name}", Summary: "An item with its determinations, by name or barcode", Response: desk.ItemSheet{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			item, err := c.d.ItemBy(c.r.Context(), c.who, c.name("name"))
			if err == nil {
				c.tag(item.Seen)
			}
			return item, err
		}},
	{Method: "PUT", Path: "/items/{name}", Summary: "Write it down anew; the earlier text stays in the log", Request: ItemChange{}, Response: desk.Item{}, Keyed: true, Seen: true, Action: people.RegisterItem,
		do: onItem(func(c *call, by desk.By, id string) (desk.Item, error) {
			asked, err := body[ItemChange](c)
			if err != nil {
				return desk.Item{}, err
			}
			return c.d.ChangeItem(c.r.Context(), by, asked.item(id), asked.Reason)
		})},
	{Method: "POST", Path: "/items/{name}/move", Summary: "Say where it lies now, or how it left", Request: ItemMove{}, Response: desk.Item{}, Keyed: true, Seen: true, Action: people.MoveItem, Or: people.OverrideHold,
		do: onItemIn(func(s *Server, c *call, by desk.By, id string) (desk.Item, error) {
			asked, err := body[ItemMove](c)
			if err != nil {
				return desk.Item{}, err
			}
			var override *register.Override
			if o := asked.Override; o != nil {
				if by.Second, err = c.d.Second(c.r.Context(), o.Second, o.Password, s.place(c.r)); err != nil {
					return desk.Item{}, err
				}
				override = &register.Override{Ground: o.Ground, People: []string{c.who.Person().ID, o.Second}}
			}
			return c.d.MoveItem(c.r.Context(), by, id, asked.Place, asked.Gone, asked.Reason, override)
		})},
	{Method: "POST", Path: "/items/{name}/holds", Summary: "Note that an authority holds it", Request: ItemHold{}, Response: desk.Item{}, Status: http.StatusCreated, Keyed: true, Seen: true, Action: people.HoldItem,
		do: onItem(func(c *call, by desk.By, id string) (desk.Item, error) {
			asked, err := body[ItemHold](c)
			if err != nil {
				return desk.Item{}, err
			}
			return c.d.HoldItem(c.r.Context(), by, id, register.Order{Authority: asked.Authority, Reference: asked.Reference})
		})},
	{Method: "POST", Path: "/items/{name}/releases", Summary: "Note that the authority lifted its hold", Request: ItemRelease{}, Response: desk.Item{}, Status: http.StatusCreated, Keyed: true, Seen: true, Action: people.ReleaseItem,
		do: onItem(func(c *call, by desk.By, id string) (desk.Item, error) {
			asked, err := body[ItemRelease](c)
			if err != nil {
				return desk.Item{}, err
			}
			return c.d.ReleaseItem(c.r.Context(), by, id, asked.Order, asked.Reference)
		})},
	{Method: "POST", Path: "/items/{name}/photos", Summary: "Add a photo, JPEG or PNG; it is written anew without what else was in the file", Request: pictureDocument{}, Response: desk.Item{}, Status: http.StatusCreated, Keyed: true, Action: people.AddPhoto,
		Query: []parameter{{"caption", ""}},
		do: onItem(func(c *call, by desk.By, id string) (desk.Item, error) {
			data, err := io.ReadAll(c.r.Body)
			if err != nil {
				return desk.Item{}, err
			}
			return c.d.AddPhoto(c.r.Context(), by, id, data, c.r.URL.Query().Get("caption"))
		})},
	{Method: "GET", Path: "/pictures/{hash}", Summary: "A photo, by its hash", Response: pictureDocument{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			data, err := c.d.Picture(c.r.Context(), c.who, c.name("hash"))
			if err != nil {
				return nil, err
			}
			h := c.w.Header()
			h.Set("Content-Type", "image/jpeg")
			h.Set("Content-Security-Policy", "default-src 'none'; sandbox")
			h.Set("Content-Disposition", "inline")
			c.w.Write(data)
			return written{}, nil
		}},
}

// onItem is an act on an item, which may be named by its barcode.
func onItem(do func(c *call, by desk.By, id string) (desk.Item, error)) func(*Server, *call) (any, error) {
	return onItemIn(func(_ *Server, c *call, by desk.By, id string) (desk.Item, error) { return do(c, by, id) })
}

func onItemIn(do func(s *Server, c *call, by desk.By, id string) (desk.Item, error)) func(*Server, *call) (any, error) {
	return func(s *Server, c *call) (any, error) {
		by, err := c.seenBy()
		if err != nil {
			return nil, err
		}
		id := c.name("name")
		if item, err := c.d.ItemBy(c.r.Context(), c.who, id); err == nil {
			id = item.Item.ID
		}
		return do(s, c, by, id)
	}
}
