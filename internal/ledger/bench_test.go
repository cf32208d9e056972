package ledger

import (
	"bytes"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
)

// BenchmarkCheck follows a log of 10,000 entries.
func BenchmarkCheck(b *testing.B) {
	l := newLog(b, "demo", 10_000)
	var size int64
	for _, raw := range l.raws {
		size += int64(len(raw))
	}
	b.SetBytes(size)
	for b.Loop() {
		if err := follow(NewChecker("demo"), l.raws); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(l.raws)*b.N)/b.Elapsed().Seconds(), "entries/s")
}

// BenchmarkProve makes and checks the proof of one entry of 100,000.
func BenchmarkProve(b *testing.B) {
	l := newLog(b, "demo", 100_000)
	cp := l.checkpoint()
	for i := 0; b.Loop(); i++ {
		seq := int64(i) * 7919 % cp.Size
		proof, err := tlog.ProveRecord(cp.Size, seq, l)
		if err != nil {
			b.Fatal(err)
		}
		if err := tlog.CheckRecord(proof, cp.Size, cp.Root, seq, l.hashes[tlog.StoredHashIndex(0, seq)]); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDecode(b *testing.B) {
	raw, err := Entry{Head: Head{Shop: "demo", Time: start, Kind: "weighed"}, Body: append(append([]byte(`{"a":"`), bytes.Repeat([]byte("x"), 12_000)...), `"}`...)}.Encode()
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(raw)))
	for b.Loop() {
		if _, err := Decode(raw); err != nil {
			b.Fatal(err)
		}
	}
}
