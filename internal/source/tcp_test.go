package source

import (
	"io"
	"net"
	"testing"
)

func TestDial(t *testing.T) {
	door, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer func() { door.Close() }()
	e := follow(t, open(t, "tcp://"+door.Addr().String(), Options{Request: []byte("hello"), Every: ShortestEvery}))
	for round := range 3 {
		c, err := door.Accept()
		if err != nil {
			t.Fatal(err)
		}
		if up := e.link(Connected); up.Identity != door.Addr().String() {
			t.Errorf("connected to %q", up.Identity)
		}
		question := make([]byte, 5)
		if _, err := io.ReadFull(c, question); err != nil || string(question) != "hello" {
			t.Errorf("asked %q, %v", question, err)
		}
		io.WriteString(c, "1.5 ")
		e.hears("1.5 ")
		if round == 2 {
			// Nobody is there any more.
			at := door.Addr().String()
			door.Close()
			c.Close()
			e.failure("")
			e.failure("call " + at)
			if door, err = net.Listen("tcp", at); err != nil {
				t.Fatal(err)
			}
			if c, err = door.Accept(); err != nil {
				t.Fatal(err)
			}
			e.link(Connected)
			io.WriteString(c, "back")
			e.hears("back")
		}
		c.Close()
		e.failure("")
	}
}

func TestListenHearsOne(t *testing.T) {
	e := follow(t, open(t, "listen://:0", Options{}))
	at := e.link(Connecting).Identity
	if host, _, err := net.SplitHostPort(at); err != nil || host != "127.0.0.1" {
		t.Fatalf("waits at %q, %v", at, err)
	}
	call := func() net.Conn {
		c, err := net.Dial("tcp", at)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	for range 3 {
		first := call()
		if up := e.link(Connected); up.Identity != "127.0.0.1" {
			t.Errorf("connected to %q", up.Identity)
		}
		second := call()
		told, err := io.ReadAll(second)
		if err != nil || string(told) != "another instrument is connected here; one speaks at a time\r\n" {
			t.Errorf("the second is told %q, %v", told, err)
		}
		io.WriteString(first, "12.5 g\r\n")
		e.hears("12.5 g\r\n")
		first.Close()
		e.failure("127.0.0.1 ended the connection")
	}
	// Ended by the program while somebody speaks.
	last := call()
	defer last.Close()
	e.link(Connected)
	e.cancel()
	e.link(Ended)
	if _, err := io.ReadAll(last); err != nil {
		t.Errorf("the last speaker sees %v", err)
	}
	if c, err := net.Dial("tcp", at); err == nil {
		c.Close()
		t.Error("somebody still waits to be called")
	}
}

func TestListenWhereTaken(t *testing.T) {
	door, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	e := follow(t, open(t, "listen://"+door.Addr().String(), Options{}))
	e.failure("choose another port")
	door.Close()
	for e.link(Connecting).Identity != door.Addr().String() {
	}
}
