//go:build linux

package faultfs

import (
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
)

// Image is what a disk holds: the bytes of each file by its path.
type Image map[string][]byte

// sector is the least that a disk writes as a whole, in bytes.
const sector = 512

// Loss says what becomes of the steps that no sync had brought to the disk when the power went.
type Loss int

const (
	DropAll  Loss = iota // none of them reached the disk
	DropSome             // some did, in any order
	TearSome             // and of some writes only some sectors did
)

// AfterPowerLoss computes what a disk that was empty before the first step may hold when the power
// goes right after the last one.
//
// A sync brings what was written to that file to the disk, and not the file's name: names made or
// deleted in a folder are there for certain only after the folder was synced. That is less than
// most file systems give.
func AfterPowerLoss(steps []Step, loss Loss, random *rand.Rand) Image {
	d := disk{seen: map[string]*inode{}, names: map[string]*inode{}}
	for _, s := range steps {
		d.do(s)
	}
	return d.fail(loss, random)
}

// inode is a file without its name.
type inode struct {
	safe    []byte
	pending []Step
}

// naming is a name that was given or, without an inode, taken away.
type naming struct {
	path string
	to   *inode
}

type disk struct {
	seen    map[string]*inode // as the running program sees the names
	names   map[string]*inode // as they are on the disk
	pending []naming
}

func (d *disk) do(s Step) {
	switch s.Kind {
	case Create:
		d.name(s.Path, &inode{})
	case Delete:
		d.name(s.Path, nil)
	case Write, Truncate:
		f := d.seen[s.Path]
		f.pending = append(f.pending, s)
	case Sync:
		f := d.seen[s.Path]
		for _, p := range f.pending {
			f.safe = apply(f.safe, p)
		}
		f.pending = nil
	case SyncFolder:
		d.pending = slices.DeleteFunc(d.pending, func(n naming) bool {
			if filepath.Dir(n.path) != s.Path {
				return false
			}
			d.settle(n)
			return true
		})
	}
}

func (d *disk) name(path string, to *inode) {
	n := naming{path, to}
	d.pending = append(d.pending, n)
	if to == nil {
		delete(d.seen, path)
	} else {
		d.seen[path] = to
	}
}

func (d *disk) settle(n naming) {
	if n.to == nil {
		delete(d.names, n.path)
	} else {
		d.names[n.path] = n.to
	}
}

func (d *disk) fail(loss Loss, random *rand.Rand) Image {
	if loss != DropAll {
		for _, n := range d.pending {
			if random.IntN(2) == 0 {
				d.settle(n)
			}
		}
	}
	out := Image{}
	for _, path := range slices.Sorted(maps.Keys(d.names)) {
		out[path] = d.names[path].survive(loss, random)
	}
	return out
}

// survive lets some of the pending steps reach the disk.
func (f *inode) survive(loss Loss, random *rand.Rand) []byte {
	data := slices.Clone(f.safe)
	if loss == DropAll {
		return data
	}
	share := random.Float64()
	for _, i := range random.Perm(len(f.pending)) {
		s := f.pending[i]
		switch {
		case random.Float64() >= share:
		case loss == TearSome && s.Kind == Write:
			for _, piece := range sectors(s) {
				if random.Float64() < share {
					data = apply(data, piece)
				}
			}
		default:
			data = apply(data, s)
		}
	}
	return data
}

// sectors cuts a write where the sectors of the disk begin.
func sectors(s Step) (out []Step) {
	for len(s.Data) > 0 {
		n := min(int(sector-s.Offset%sector), len(s.Data))
		out = append(out, Step{Kind: Write, Path: s.Path, Offset: s.Offset, Data: s.Data[:n]})
		s.Offset, s.Data = s.Offset+int64(n), s.Data[n:]
	}
	return out
}

// apply does one step to the bytes of a file.
func apply(data []byte, s Step) []byte {
	end := s.Size
	if s.Kind == Write {
		end = s.Offset + int64(len(s.Data))
	}
	if grow := end - int64(len(data)); grow > 0 {
		data = append(data, make([]byte, grow)...)
	}
	if s.Kind == Truncate {
		return data[:end]
	}
	copy(data[s.Offset:], s.Data)
	return data
}
