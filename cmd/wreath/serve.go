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

	"wreath/internal/desk"
	"wreath/internal/people"
	"wreath/internal/web"
)

type serveCmd struct {
	place
	Listen string   `default:"127.0.0.1:4917" help:"Address and port of the pages."`
	Host   []string `placeholder:"NAME" help:"Name under which the pages may be asked for, beside this machine itself; may be given more than once."`
	Cert   string   `placeholder:"FILE" help:"Certificate for encrypted connections, PEM."`
	Key    string   `placeholder:"FILE" help:"Its private key, PEM."`
	Plain  bool     `name:"insist-on-plain" help:"Serve other machines without encryption: passwords can be read on the way."`
}

func (serveCmd) Help() string {
	return `Examples:

  wreath serve
  wreath serve --listen 192.0.2.10:4917 --host bench.example --cert bench.pem --key bench-key.pem

The pages open on this machine only unless --listen says otherwise. At a first run they offer your own
station, or an invented shop to look around in.`
}

// Run serves the pages until it is interrupted.
func (c *serveCmd) Run(s *streams) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := c.resolve(); err != nil {
		return err
	}
	host, _, err := net.SplitHostPort(c.Listen)
	if err != nil {
		return wrong("Write address and port, such as 127.0.0.1:4917.", "--listen %s can't be read: %v", c.Listen, err)
	}
	ip := net.ParseIP(host)
	outside := host != "localhost" && (ip == nil || !ip.IsLoopback())
	if (c.Cert == "") != (c.Key == "") {
		return wrong("Give both, or neither.", "--cert and --key belong together")
	}
	if outside && c.Cert == "" && !c.Plain {
		return wrong("Give --cert and --key; or, on a network that you trust wholly, --insist-on-plain.", "other machines would reach %s without encryption", c.Listen)
	}
	options := web.Options{Version: version, TLS: c.Cert != "", Hosts: c.Host, Log: slog.New(slog.NewTextHandler(s.Err, nil))}
	if outside && ip != nil && !ip.IsUnspecified() {
		options.Hosts = append(options.Hosts, host)
	}
	r, err := c.enter(ctx)
	var none *failure
	switch {
	case err == nil:
		defer r.Close()
		options.Desk = r.Desk
	case errors.As(err, &none) && c.fresh():
		c.firstRun(ctx, s, &options, outside)
	default:
		return err
	}
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
	scheme := "http"
	if c.Cert != "" {
		scheme = "https"
		pair, err := tls.LoadX509KeyPair(c.Cert, c.Key)
		if err != nil {
			return wrong("Give a certificate and its key as PEM files.", "the certificate can't be used: %v", err)
		}
		listener = tls.NewListener(listener, &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS13, NextProtos: []string{"h2", "http/1.1"}})
	}
	say(s, "Open %s://%s", scheme, listener.Addr())
	if options.SetUpCode != "" {
		say(s, "The first person needs this code: %s", options.SetUpCode)
	}
	return server.Serve(ctx, listener)
}

// fresh says that there is nothing yet where the store should be.
func (c *serveCmd) fresh() bool {
	if isPostgres(c.Store) {
		return true
	}
	_, err := os.Stat(c.Store)
	return errors.Is(err, fs.ErrNotExist)
}

// firstRun lets the pages make the shop.
func (c *serveCmd) firstRun(ctx context.Context, s *streams, o *web.Options, outside bool) {
	if outside {
		code, _, err := people.NewOneTimeCode(rand.Reader, people.ForSetup, "", time.Now())
		if err == nil {
			o.SetUpCode = code
		}
	}
	o.OpenOwn = func(_ context.Context, opening desk.Opening, password string) (*desk.Desk, error) {
		return c.openOwn(ctx, opening, password)
	}
}

func (c *serveCmd) openOwn(ctx context.Context, opening desk.Opening, password string) (*desk.Desk, error) {
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
	private, public, err := makeKey(p.Keys, p.Shop)
	if err != nil {
		st.Close()
		return nil, err
	}
	d, err := desk.New(p.options(st, private, public))
	if err == nil {
		err = d.OpenShop(ctx, opening, password)
	}
	if err != nil {
		st.Close()
		return nil, err
	}
	return d, nil
}
