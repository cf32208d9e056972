package main

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"
	"time"

	"wreath/internal/demo"
	"wreath/internal/desk"
	"wreath/internal/live"
	"wreath/internal/people"
	"wreath/internal/store"
	"wreath/internal/web"
)

type serveCmd struct {
	place
	Listen string   `default:"127.0.0.1:4917" help:"Address and port of the pages."`
	Host   []string `placeholder:"NAME" help:"Name under which the pages may be asked for, beside this machine itself; may be given more than once."`
	Cert   string   `placeholder:"FILE" help:"Certificate for encrypted connections, PEM."`
	Key    string   `placeholder:"FILE" help:"Its private key, PEM."`
	Local  bool     `name:"local-certificate" help:"Make a certificate for the names of --host and --listen, by an authority of this shop's own that is kept beside the signing key."`
	Plain  bool     `name:"insist-on-plain" help:"Serve other machines without encryption: passwords can be read on the way."`
	// Simulated lets a real shop look at invented instruments. What they say is refused as a reading all the same.
	Simulated bool `help:"Follow simulated instruments too in a shop that is no demonstration; what they say is shown and never recorded."`
}

func (serveCmd) Help() string {
	return `Examples:

  wreath serve
  wreath serve --listen 192.0.2.10:4917 --host bench.example --cert bench.pem --key bench-key.pem
  wreath serve --listen 192.0.2.10:4917 --host bench.example --local-certificate

The pages open on this machine only unless --listen says otherwise. At a first run they offer your own
station, or an invented shop to look around in.`
}

// Run serves the pages until it is interrupted.
func (c *serveCmd) Run(s *streams) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return c.serve(ctx, s)
}

// serve serves the pages until the context ends.
func (c *serveCmd) serve(ctx context.Context, s *streams) error {
	if err := c.resolve(); err != nil {
		return err
	}
	host, _, err := net.SplitHostPort(c.Listen)
	if err != nil {
		return wrong("Write address and port, such as 127.0.0.1:4917.", "--listen %s can't be read: %v", c.Listen, err)
	}
	ip := net.ParseIP(host)
	outside := host != "localhost" && (ip == nil || !ip.IsLoopback())
	encrypted := c.Cert != "" || c.Local
	switch {
	case (c.Cert == "") != (c.Key == ""):
		return wrong("Give both, or neither.", "--cert and --key belong together")
	case c.Cert != "" && c.Local:
		return wrong("Leave one of them out.", "--cert gives a certificate, --local-certificate makes one")
	case outside && !encrypted && !c.Plain:
		return wrong("Give --cert and --key, or --local-certificate; or, on a network that you trust wholly, --insist-on-plain.", "other machines would reach %s without encryption", c.Listen)
	}
	options := web.Options{Version: version, TLS: encrypted, Hosts: c.Host, Log: slog.New(slog.NewTextHandler(s.Err, nil))}
	if outside && host != "" && (ip == nil || !ip.IsUnspecified()) {
		options.Hosts = append(options.Hosts, host)
	}
	r, err := c.enter(ctx)
	var none *failure
	invented := &inventedInstruments{always: c.Simulated}
	printing := newPrintRoom(options.Log)
	options.Printing = printing.Spooler
	switch {
	case err == nil:
		defer r.Close()
		if err := r.UnlockKey(); err != nil {
			fmt.Fprintf(s.Err, "wreath: caution: %v\n", err)
		}
		options.Desk = r.Desk
		invented.use(r.Desk)
		printing.use(r.Desk)
	case errors.As(err, &none) && c.fresh():
		defer c.firstRun(ctx, &options, outside, invented, printing)()
	default:
		return err
	}
	defer printing.close()
	options.Live = live.NewHub(live.Options{Simulated: invented.open})
	defer options.Live.Close()
	options.Simulated, options.ShopBench = invented.open, invented.benchOfShop
	defer invented.close()
	server, err := web.New(options)
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", c.Listen)
	if err != nil {
		if errors.Is(err, syscall.EADDRINUSE) {
			return &failure{exitFailed, fmt.Sprintf("another program listens on %s already", c.Listen), "It may be this one, started before: open http://" + c.Listen + ". Or choose another port with --listen."}
		}
		return &failure{exitFailed, fmt.Sprintf("can't listen on %s: %v", c.Listen, err), "Choose another address with --listen."}
	}
	defer listener.Close()
	scheme := "http"
	if encrypted {
		scheme = "https"
		pair, err := c.certificate(s, options.Hosts)
		if err != nil {
			return err
		}
		listener = tls.NewListener(listener, &tls.Config{GetCertificate: pair, MinVersion: tls.VersionTLS13, NextProtos: []string{"h2", "http/1.1"}})
	}
	say(s, "Open %s://%s", scheme, listener.Addr())
	for _, name := range c.Host {
		_, port, _ := net.SplitHostPort(listener.Addr().String())
		say(s, "or   %s://%s", scheme, net.JoinHostPort(name, port))
	}
	if options.SetUpCode != "" {
		say(s, "The first person needs this code: %s", options.SetUpCode)
	}
	return server.Serve(ctx, listener)
}

// certificate is where the server takes its certificate from.
func (c *serveCmd) certificate(s *streams, hosts []string) (func(*tls.ClientHelloInfo) (*tls.Certificate, error), error) {
	if !c.Local {
		pair, err := tls.LoadX509KeyPair(c.Cert, c.Key)
		if err != nil {
			return nil, wrong("Give a certificate and its key as PEM files.", "the certificate can't be used: %v", err)
		}
		return func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return &pair, nil }, nil
	}
	authority := &localAuthority{folder: c.Keys, hosts: hosts, now: time.Now}
	if _, err := authority.Certificate(nil); err != nil {
		return nil, err
	}
	say(s, "Each tablet has to trust the shop's own authority once: copy %s to it, and install it", authority.file(authorityFile))
	say(s, "as a certificate authority in its settings. It shows the fingerprint %s", authority.fingerprint())
	return authority.Certificate, nil
}

// fresh says that there is nothing yet where the store should be.
func (c *serveCmd) fresh() bool {
	if isPostgres(c.Store) {
		return true
	}
	_, err := os.Stat(c.Store)
	return errors.Is(err, fs.ErrNotExist)
}

// firstRun lets the pages make the shop, or an invented one to look around in. What it gives closes the
// store that was made.
func (c *serveCmd) firstRun(ctx context.Context, o *web.Options, outside bool, invented *inventedInstruments, printing *printRoom) func() {
	if outside {
		code, _, err := people.NewOneTimeCode(rand.Reader, people.ForSetup, "", time.Now())
		if err == nil {
			o.SetUpCode = code
		}
	}
	end := func() {}
	keep := func(r *room, err error) (*desk.Desk, error) {
		if err != nil {
			return nil, err
		}
		end = r.Close
		invented.use(r.Desk)
		printing.use(r.Desk)
		return r.Desk, nil
	}
	if !outside { // nobody signs in at the invented shop, so it is for this machine alone
		o.OpenDemo = func(context.Context) (*desk.Desk, error) { return keep(openDemo(ctx)) }
	}
	o.OpenOwn = func(_ context.Context, opening desk.Opening, password string) (*desk.Desk, error) {
		return keep(c.openOwn(ctx, opening, password))
	}
	return func() { end() }
}

// openDemo makes the invented shop anew, in a file of its own.
func openDemo(ctx context.Context) (*room, error) {
	folder, err := dataFolder()
	if err != nil {
		return nil, err
	}
	p := place{Store: filepath.Join(folder, "demo.wreath"), Shop: "invented"}
	p.Keys = p.Store + ".keys"
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, err
	}
	for _, end := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(p.Store + end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
	}
	st, err := openStore(ctx, p.Store, true)
	if err != nil {
		return nil, err
	}
	d, err := fillDemo(ctx, p, st)
	if err != nil {
		st.Close()
		return nil, err
	}
	return &room{d, st, p.Shop}, nil
}

func fillDemo(ctx context.Context, p place, st *store.Store) (*desk.Desk, error) {
	key, err := p.makeKey()
	if err != nil {
		return nil, err
	}
	o := p.options(st, key.Private, key.Public)
	zone, err := time.LoadLocation(localZone())
	if err != nil {
		zone = time.UTC
	}
	if err := demo.Fill(ctx, o, time.Now().In(zone)); err != nil {
		return nil, err
	}
	return desk.New(o)
}

func (c *serveCmd) openOwn(ctx context.Context, opening desk.Opening, password string) (*room, error) {
	p := c.place
	p.Shop = shortName(opening.Shop.Name)
	if opening.Shop.TimeZone == "" {
		opening.Shop.TimeZone = localZone()
	}
	if err := opening.Shop.Check(); err != nil {
		return nil, err
	}
	if !isPostgres(p.Store) {
		if err := os.MkdirAll(filepath.Dir(p.Store), 0o700); err != nil {
			return nil, err
		}
	}
	st, err := openStore(ctx, p.Store, true)
	if err != nil {
		return nil, err
	}
	key, err := p.makeKey()
	if err != nil {
		st.Close()
		return nil, err
	}
	d, err := desk.New(p.options(st, key.Private, key.Public))
	if err == nil {
		err = d.OpenShop(ctx, opening, password)
	}
	if err != nil {
		st.Close()
		return nil, err
	}
	return &room{d, st, p.Shop}, nil
}
