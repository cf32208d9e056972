//go:build linux

package crashtest

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
)

// line stands between clients and a server, and cuts each connection after a random number of bytes
// in one of the directions.
type line struct {
	listener net.Listener
	socket   string
	cuts     atomic.Int64

	mu     sync.Mutex
	random *rand.Rand
}

func newLine(t *testing.T, socket string, seed uint64) *line {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l := &line{listener: listener, socket: socket, random: rand.New(rand.NewPCG(seed, 2))}
	t.Cleanup(func() { listener.Close() })
	go func() {
		for {
			client, err := listener.Accept()
			if err != nil {
				return
			}
			go l.join(client)
		}
	}()
	return l
}

// address turns the address of a database on the server into one through the line.
func (l *line) address(direct string) string {
	_, database, _ := strings.Cut(direct, "dbname=")
	return fmt.Sprintf("host=127.0.0.1 port=%d user=postgres sslmode=disable dbname=%s", l.listener.Addr().(*net.TCPAddr).Port, database)
}

// join carries bytes until it is time to cut. Short lives are as likely as long ones.
func (l *line) join(client net.Conn) {
	server, err := net.Dial("unix", l.socket)
	if err != nil {
		client.Close()
		return
	}
	l.mu.Lock()
	bytes := int64(math.Exp(l.random.Float64() * math.Log(100_000)))
	up := l.random.IntN(2) == 0
	l.mu.Unlock()
	limit := func(isHit bool) int64 {
		if isHit {
			return bytes
		}
		return math.MaxInt64
	}
	carry := func(to, from net.Conn, most int64) {
		if n, _ := io.CopyN(to, from, most); n == most {
			l.cuts.Add(1)
		}
		to.Close()
		from.Close()
	}
	go carry(server, client, limit(up))
	carry(client, server, limit(!up))
}
