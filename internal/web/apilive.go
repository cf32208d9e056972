package web

import (
	"io"
	"net/http"
	"time"

	"wreath/internal/line"
	"wreath/internal/live"
	"wreath/internal/people"
)

type (
	// Following is how the linked instruments stand.
	Following struct {
		Instruments []Followed `json:"instruments"`
	}
	// Followed is how a linked instrument stands now.
	Followed struct {
		ID       string     `json:"id"`
		Address  string     `json:"address"`
		State    string     `json:"state" doc:"not-connected, connecting, waiting, silent, unread, overload, underload, fault, moving, settling, still or ended"`
		Since    time.Time  `json:"since" doc:"of the state"`
		Sentence string     `json:"sentence" doc:"the state in words"`
		Proof    string     `json:"proof" doc:"whether the instrument is known to stand behind its port: unbound, unproved or proved"`
		Origin   string     `json:"origin" doc:"real, simulated, playback or pseudo-terminal"`
		Text     string     `json:"text,omitempty" doc:"the latest number as it was sent"`
		Unit     string     `json:"unit,omitempty"`
		At       *time.Time `json:"at,omitempty" doc:"when it came"`
		Settled  bool       `json:"settled" doc:"it stands still by the program's own statistics"`
		Lines    uint64     `json:"lines" doc:"read since it was followed"`
		Unread   uint64     `json:"unread" doc:"lines that could not be read"`
	}
	// Pushed says how much was taken.
	Pushed struct {
		Bytes int `json:"bytes"`
	}
)

// maxPush is the most bytes that are taken at once.
const maxPush = 64 << 10

var liveEndpoints = []endpoint{
	{Method: "GET", Path: "/instruments", Summary: "How the linked instruments stand now", Response: Following{}, Action: people.SeeStations,
		do: func(s *Server, c *call) (any, error) {
			out := Following{Instruments: []Followed{}}
			if s.o.Live == nil {
				return out, nil
			}
			for _, snap := range s.o.Live.Snapshots() {
				out.Instruments = append(out.Instruments, followed(snap))
			}
			return out, nil
		}},
	{Method: "POST", Path: "/instruments/{id}/lines", Summary: "Hand over what an instrument said, byte by byte and with its line ends; it must be linked by push:name", Request: streamDocument{}, Response: Pushed{}, Action: people.TakeReading,
		do: func(s *Server, c *call) (any, error) {
			data, err := io.ReadAll(http.MaxBytesReader(c.w, c.r.Body, maxPush))
			if err != nil {
				return nil, err
			}
			return Pushed{len(data)}, s.pushLines(c.r, c.name("id"), data)
		}},
	{Method: "GET", Path: "/streams/{hash}", Summary: "What an instrument said before a reading, by the hash that the reading names", Response: streamDocument{}, Action: people.SeeRecords,
		do: func(s *Server, c *call) (any, error) {
			data, err := c.d.Stream(c.r.Context(), c.who, c.name("hash"))
			if err != nil {
				return nil, err
			}
			c.w.Header().Set("Content-Type", "application/octet-stream")
			_, err = c.w.Write(data)
			return written{}, err
		}},
}

func followed(snap live.Snapshot) Followed {
	f := Followed{ID: snap.ID, Address: snap.Address, State: snap.State.Key, Since: snap.State.Since, Sentence: snap.State.Sentence,
		Proof: snap.Proof.Key, Origin: string(snap.Origin), Lines: snap.Lines, Unread: snap.Mistakes.Count, Settled: snap.State.Key == live.Still}
	r := snap.Balance
	if r == nil {
		r = snap.Thermometer
	}
	if r != nil && r.Value.State == line.Reading {
		f.Text, f.Unit, f.At = r.Value.Text, r.Value.Unit, &r.At
	}
	return f
}
