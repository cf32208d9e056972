package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"wreath/internal/desk"
	"wreath/internal/line"
	"wreath/internal/live"
	"wreath/internal/simulated"
	"wreath/internal/source"
	"wreath/internal/station"
	"wreath/internal/web"
)

// heard says how a command listens to an instrument.
type heard struct {
	Request *string       `placeholder:"TEXT" help:"What to send to get a line, where the instrument speaks only when it is asked; \\r, \\n, \\t and \\x1b are written so. Empty: it is not asked, whatever its pattern says."`
	Every   time.Duration `default:"500ms" placeholder:"TIME" help:"How often it is asked, such as 500ms."`
	Wait    time.Duration `default:"10s" placeholder:"TIME" help:"Give up when nothing was heard for so long at the start; 0 waits for ever."`
}

// asked is what is sent, and how often; nil where nothing was said of it, no bytes where it is not to be asked.
func (h *heard) asked() ([]byte, time.Duration, error) {
	if h.Request == nil {
		return nil, 0, nil
	}
	link := station.Link{Request: *h.Request}
	request, err := link.RequestBytes()
	switch {
	case err != nil:
		return nil, 0, err
	case len(request) == 0:
		return []byte{}, 0, nil
	case h.Every < source.ShortestEvery:
		return nil, 0, wrong("Ask at most every "+source.ShortestEvery.String()+".", "--every %s is too often", h.Every)
	}
	return request, h.Every, nil
}

// mostPattern bounds the file of a pattern, bytes.
const mostPattern = 64 << 10

// readPattern reads the document of a pattern and holds it against its own tests.
func readPattern(name string, in io.Reader) (*line.Pattern, error) {
	data, err := readUpTo(name, in, mostPattern)
	if err != nil {
		return nil, err
	}
	if len(data) > mostPattern {
		return nil, wrong("Give the document that wreath instrument learn wrote.", "%s is no pattern: it is larger than %d bytes", name, mostPattern)
	}
	return line.DecodePattern(data)
}

// isAddress tells an address from the name of an instrument.
func isAddress(text string) bool {
	kind, _, found := strings.Cut(text, ":")
	known := []source.Kind{source.Serial, source.TCP, source.Listen, source.File, source.Push, source.Wedge, source.Play, source.Simulated}
	return found && slices.Contains(known, source.Kind(strings.ToLower(kind))) || strings.Contains(text, "://")
}

// readAddress reads an address that a command itself can listen to.
func readAddress(text string) (source.Address, error) {
	a, err := source.ParseAddress(text)
	var bad *source.AddressError
	if errors.As(err, &bad) {
		return a, wrong(sentenceOf(bad.Hint), "%s", bad.Error())
	}
	if err == nil && (a.Kind == source.Push || a.Kind == source.Wedge) {
		return a, wrong("Look at it on the page of the instrument, while wreath serve runs.", "what comes by %s is heard by the served pages alone", a)
	}
	return a, err
}

// sentenceOf makes a sentence of a clause.
func sentenceOf(clause string) string {
	if clause == "" {
		return ""
	}
	return strings.ToUpper(clause[:1]) + clause[1:] + "."
}

// known finds how an instrument is listened to: by an address, or by the name of an instrument of the shop
// that is linked.
func (h *heard) known(p *place, target, pattern string, in io.Reader) (live.Config, error) {
	c := live.Config{ID: "instrument"}
	var err error
	if isAddress(target) {
		c.Address, err = readAddress(target)
	} else {
		err = p.work(func(ctx context.Context, r *room, who *desk.Who) error {
			i, err := instrumentOf(ctx, r, who, target)
			if err != nil {
				return err
			}
			if i.Link == nil {
				return wrong("Give its address, such as serial:///dev/ttyUSB0; wreath instrument learn ADDRESS --save "+target+" links it.", "%s is not linked", target)
			}
			if c, err = web.LiveConfig(i); err != nil {
				return linkFailure(err)
			}
			_, err = readAddress(i.Link.Address)
			return err
		})
	}
	if err != nil {
		return c, err
	}
	if pattern != "" {
		if c.Pattern, err = readPattern(pattern, in); err != nil {
			return c, err
		}
	}
	request, every, err := h.asked()
	if err != nil {
		return c, err
	}
	if request != nil {
		c.Request, c.Every = request, every
	}
	return c, nil
}

// linkFailure says what of a link that is stored can't be used.
func linkFailure(err error) error {
	var bad *source.AddressError
	if errors.As(err, &bad) {
		return wrong(sentenceOf(bad.Hint), "%s", bad.Error())
	}
	return err
}

// instrumentOf finds an instrument of the shop.
func instrumentOf(ctx context.Context, r *room, who *desk.Who, id string) (*station.Instrument, error) {
	all, err := r.Equipment(ctx, who)
	if err != nil {
		return nil, err
	}
	at := slices.IndexFunc(all.Instruments, func(i station.Instrument) bool { return i.ID == id })
	if at < 0 {
		return nil, notThere("wreath instrument list shows the instruments.", "there is no instrument %q", id)
	}
	return &all.Instruments[at], nil
}

// ear listens until it has heard enough, and knows when there is nothing to hear.
type ear struct {
	address source.Address
	wait    time.Duration
	cancel  context.CancelCauseFunc
	timer   *time.Timer

	mu        sync.Mutex
	connected bool
	heard     bool
}

// errEnough ends listening in order.
var errEnough = errors.New("enough was heard")

// listen runs a source, a feed or what else hands its events to a sink, until somebody presses Ctrl-C, most
// time has passed (0 for ever), it ends, or nothing can be heard.
func listen(a source.Address, wait, most time.Duration, run func(ctx context.Context, e *ear) error) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if most > 0 {
		var end context.CancelFunc
		ctx, end = context.WithTimeoutCause(ctx, most, errEnough)
		defer end()
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	e := &ear{address: a, wait: wait, cancel: cancel}
	if wait > 0 && a.Kind != source.Play {
		e.timer = time.AfterFunc(wait, e.nothing)
		defer e.timer.Stop()
	}
	err := run(ctx, e)
	var why *failure
	if errors.As(context.Cause(ctx), &why) {
		return why
	}
	return hearFailure(a, err)
}

// nothing ends listening because nothing came.
func (e *ear) nothing() {
	e.mu.Lock()
	defer e.mu.Unlock()
	switch {
	case e.heard:
	case e.address.Kind == source.Listen && !e.connected:
		e.cancel(&failure{exitLater, "nobody called " + e.address.Where + " within " + e.wait.String(), "Set this computer's address and the port in the instrument's menu, and look whether it is switched on."})
	default:
		e.cancel(&failure{exitLater, "nothing was heard from " + e.address.String() + " within " + e.wait.String(),
			"Press print on the instrument; look at the cable and the settings (speed, data, parity, stop). One that speaks only when it is asked needs --request."})
	}
}

// enough ends listening in order.
func (e *ear) enough() { e.cancel(errEnough) }

// sink watches over the link and hands events on.
func (e *ear) sink(next source.Sink) source.Sink {
	return func(event source.Event) {
		e.mu.Lock()
		switch {
		case event.Kind == source.Heard:
			e.heard = true
		case event.Kind == source.LinkChanged && event.Link == source.Connected:
			e.connected = true
		case event.Kind == source.LinkChanged && event.Err != nil && !e.connected && event.Link != source.Ended && e.address.Kind != source.Play:
			e.cancel(hearFailure(e.address, event.Err)) // a link that was up is tried again and again
		}
		e.mu.Unlock()
		next(event)
	}
}

// hearFailure says why nothing can be heard.
func hearFailure(a source.Address, err error) error {
	var recording *source.RecordingError
	var known *failure
	switch {
	case err == nil, errors.Is(err, context.Canceled):
		return nil
	case errors.As(err, &known):
		return known
	case errors.As(err, &recording):
		return wrong("Give a recording that wreath instrument record wrote; what was cut or changed by hand can't be played.", "%s: %s", a.Where, recording.Error())
	case errors.Is(err, fs.ErrNotExist) && a.Kind == source.Serial:
		return &failure{exitMissing, "there is no port " + a.Where, "Plug the cable in, or name another port: wreath instrument list --ports shows those that are here."}
	case errors.Is(err, fs.ErrNotExist), a.Kind == source.File && strings.Contains(err.Error(), "is not there"):
		return &failure{exitMissing, "there is no file " + a.Where, "Check the name; a memory stick must be plugged in."}
	case errors.Is(err, fs.ErrPermission):
		return &failure{exitRefused, "this user may not open " + a.Where, "On Linux add the user to the group of the port, mostly dialout, and log in again."}
	case a.Kind == source.Serial && strings.Contains(err.Error(), "another program holds"):
		return &failure{exitLater, "another program holds the port " + a.Where, "End that program; it may be wreath serve, which follows the instruments that are linked."}
	case errors.Is(err, syscall.EADDRINUSE):
		return &failure{exitLater, "another program listens on " + a.Where + " already", "End that program, or take another port."}
	case a.Kind == source.TCP:
		return &failure{exitLater, "nobody answers at " + a.Where + ": " + err.Error(), "Check host and port, and that the instrument is switched on."}
	}
	return &failure{exitFailed, err.Error(), lineHint(a)}
}

// invented are the simulated stations of this command line; what they say enters no record.
var invented simulated.Stations

// isBanner is true of a line by which a simulated instrument says what it is.
func isBanner(line []byte) bool { return bytes.Contains(line, []byte(simulated.Banner)) }

// openLine makes the source of an address.
func openLine(c live.Config) (source.Source, error) {
	src, err := source.Open(c.Address, source.Options{Request: c.Request, Every: c.Every, Silent: 10 * time.Second, Simulated: invented.Open})
	if err != nil {
		return nil, wrong(lineHint(c.Address), "%v", err)
	}
	return src, nil
}

// lineHint says how an address of the kind is written.
func lineHint(a source.Address) string {
	if a.Kind == source.Simulated {
		return "Write simulated:coin, or with settings simulated:coin?seed=3&speed=4&format=comma&fault=bubble."
	}
	return "Check the address: " + a.String() + "."
}

// recordingAddress is the address that plays a file.
func recordingAddress(file, speed string) (source.Address, error) {
	whole, err := filepath.Abs(file)
	if err != nil {
		return source.Address{}, err
	}
	if _, err := os.Stat(whole); err != nil {
		return source.Address{}, openFailure(file, err)
	}
	a := source.Address{Kind: source.Play, Where: filepath.ToSlash(whole), Pace: 1}
	return readAddress(a.String() + "?speed=" + speed)
}
