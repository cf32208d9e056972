package web

import (
	"context"
	"net/http"
	"time"

	"wreath/internal/desk"
	"wreath/internal/people"
)

type (
	// Sealed is a checkpoint.
	Sealed struct {
		Signed string `json:"signed" doc:"the signed note"`
		Short  string `json:"short" doc:"as printed on paper"`
		Size   int64  `json:"size" doc:"number of entries that it covers"`
	}
	// Checkpoints are those that are kept.
	Checkpoints struct {
		Checkpoints []desk.KeptCheckpoint `json:"checkpoints"`
		Next        string                `json:"next,omitempty" doc:"address of the rest; absent at the end"`
	}
	// Verified is what a verification found; a broken log is a problem of the kind broken.
	Verified struct {
		Shop        string    `json:"shop"`
		Entries     int64     `json:"entries"`
		Root        string    `json:"root" doc:"of the tree over all entries, as text"`
		Checkpoints int       `json:"checkpoints"`
		Attachments int       `json:"attachments"`
		ClockSet    []int64   `json:"clock_set" doc:"entries at which the clock had been set back"`
		Last        time.Time `json:"last" doc:"of the newest entry"`
	}
)

var logEndpoints = []endpoint{
	{Method: "GET", Path: "/log", Summary: "The whole log, the bytes of each entry on a line of its own", Response: linesDocument{}, Action: people.ReadLedger,
		do: exportLog},
	{Method: "GET", Path: "/log/verification", Summary: "Go through the whole log: size, tree, checkpoints and attachments", Response: Verified{}, Action: people.VerifyLedger,
		do: func(s *Server, c *call) (any, error) {
			r, err := c.d.Verify(c.r.Context(), nil, nil, nil, nil)
			return Verified{r.Shop, r.Entries, r.Root.String(), r.Checkpoints, r.Attachments, orEmpty(r.ClockSet), r.Last}, err
		}},
	{Method: "GET", Path: "/checkpoints", Summary: "The checkpoints that are kept, oldest first", Response: Checkpoints{}, Action: people.SeeRecords, Query: parts,
		do: func(s *Server, c *call) (any, error) {
			all, err := c.d.Checkpoints(c.r.Context(), c.who)
			if err != nil {
				return nil, err
			}
			part, next, err := partOf(c, all)
			return Checkpoints{part, next}, err
		}},
	{Method: "POST", Path: "/checkpoints", Summary: "Sign a checkpoint of the log", Response: Sealed{}, Status: http.StatusCreated, Action: people.MakeCheckpoint,
		do: func(s *Server, c *call) (any, error) {
			signed, cp, err := c.d.Checkpoint(c.r.Context(), c.who, "asked for over HTTP")
			if err != nil {
				return nil, err
			}
			return Sealed{signed, cp.Short().String(), cp.Size}, nil
		}},
}

// exportLog writes the log as it is read. Once it began, all that can be done about an error is to break
// off, so that nobody takes the part for the whole.
func exportLog(s *Server, c *call) (any, error) {
	out := &begun{w: c.w}
	_, err := c.d.Export(c.r.Context(), c.who, out)
	if err != nil && out.yes {
		if c.r.Context().Err() != context.Canceled {
			s.o.Log.Error("export of the log broke off", "error", err)
		}
		panic(http.ErrAbortHandler)
	}
	return written{}, err
}

// begun is a log on its way out.
type begun struct {
	w   http.ResponseWriter
	yes bool
}

func (b *begun) Write(p []byte) (int, error) {
	if !b.yes {
		b.yes = true
		h := b.w.Header()
		h.Set("Content-Type", "application/jsonl")
		h.Set("Content-Disposition", `attachment; filename="log.jsonl"`)
	}
	return b.w.Write(p)
}
