//go:build linux

package faultfs

import (
	"fmt"
	"path/filepath"
	"sync"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// Kind says what a step does.
type Kind string

const (
	Create     Kind = "create"      // a file that was not there
	Read       Kind = "read"        // never recorded, but can fail
	Write      Kind = "write"       // Data at Offset
	Truncate   Kind = "truncate"    // to Size bytes
	Sync       Kind = "sync"        // what was written to the file is on the disk
	SyncFolder Kind = "sync folder" // and so are the names in its folder
	Delete     Kind = "delete"
	Mark       Kind = "mark" // a remark of the test, in Path
)

// Step is one thing that was done to a file.
type Step struct {
	Kind   Kind
	Path   string
	Offset int64
	Data   []byte
	Size   int64
}

// Options of a layer.
type Options struct {
	// Before is called before a step is done. A result other than 0 is given to SQLite as the
	// outcome, and the step is not done; of a write, the first half is.
	Before func(Step) (code int32)
	Record bool // keep the steps for Take
	NoSync bool // don't ask the disk itself to sync: nothing is lost while the system runs
}

// Layer is registered with SQLite under its name and stays so until the process ends.
type Layer struct {
	options Options
	base    uintptr // the system's own layer

	mu      sync.Mutex
	steps   []Step
	open    map[uintptr]*file
	methods map[uintptr]uintptr // ours, by the methods that they stand before
	keep    []any               // what only C memory points to
}

type file struct {
	path       string
	syncFolder bool // with the next sync, as SQLite does after it made a log or journal
	real       *sqlite3.Tsqlite3_io_methods
}

// at sees the memory at an address of the translated C program.
func at[T any](address uintptr) *T { return *(**T)(unsafe.Pointer(&address)) }

// call turns the address of a translated C function into a Go function.
func call[F any](address uintptr) F {
	return *(*F)(unsafe.Pointer(&address))
}

// address is the reverse of call. The function must be kept alive by the caller.
func address[F any](f *F) uintptr { return *(*uintptr)(unsafe.Pointer(f)) }

type (
	openFunc     = func(tls *libc.TLS, vfs, name, file uintptr, flags int32, outFlags uintptr) int32
	deleteFunc   = func(tls *libc.TLS, vfs, name uintptr, syncFolder int32) int32
	closeFunc    = func(tls *libc.TLS, file uintptr) int32
	transferFunc = func(tls *libc.TLS, file, buffer uintptr, n int32, offset int64) int32
	truncateFunc = func(tls *libc.TLS, file uintptr, size int64) int32
	syncFunc     = func(tls *libc.TLS, file uintptr, flags int32) int32
)

// New registers a layer. Each name can be used once in a process.
func New(name string, o Options) (*Layer, error) {
	tls := libc.NewTLS()
	defer tls.Close()
	l := &Layer{options: o, open: map[uintptr]*file{}, methods: map[uintptr]uintptr{}}
	l.base = sqlite3.Xsqlite3_vfs_find(tls, 0)
	if l.base == 0 {
		return nil, fmt.Errorf("SQLite has no file layer of its own")
	}
	cname, err := libc.CString(name)
	if err != nil {
		return nil, err
	}
	ours := libc.Xmalloc(tls, libc.Tsize_t(unsafe.Sizeof(sqlite3.Tsqlite3_vfs{})))
	if ours == 0 {
		return nil, fmt.Errorf("no memory for the file layer %s", name)
	}
	v := at[sqlite3.Tsqlite3_vfs](ours)
	*v = *at[sqlite3.Tsqlite3_vfs](l.base)
	v.FpNext, v.FzName = 0, cname
	open, remove := openFunc(l.openFile), deleteFunc(l.deleteFile)
	l.keep = append(l.keep, &open, &remove)
	v.FxOpen, v.FxDelete = address(&open), address(&remove)
	if code := sqlite3.Xsqlite3_vfs_register(tls, ours, 0); code != sqlite3.SQLITE_OK {
		return nil, fmt.Errorf("register the file layer %s: code %d", name, code)
	}
	registered.Store(name, l)
	return l, nil
}

// registered keeps every layer alive.
var registered sync.Map

// Take gives what was recorded since the last time.
func (l *Layer) Take() []Step {
	l.mu.Lock()
	defer l.mu.Unlock()
	steps := l.steps
	l.steps = nil
	return steps
}

// Mark puts a remark between the steps.
func (l *Layer) Mark(text string) { l.record(Step{Kind: Mark, Path: text}) }

func (l *Layer) record(s Step) {
	if !l.options.Record {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.steps = append(l.steps, s)
}

func (l *Layer) before(s Step) int32 {
	if l.options.Before == nil {
		return sqlite3.SQLITE_OK
	}
	return l.options.Before(s)
}

func (l *Layer) openFile(tls *libc.TLS, _, name, handle uintptr, flags int32, outFlags uintptr) int32 {
	var path string
	isNew := false
	if name != 0 && flags&sqlite3.SQLITE_OPEN_DELETEONCLOSE == 0 {
		path = filepath.Clean(libc.GoString(name))
		if flags&sqlite3.SQLITE_OPEN_CREATE != 0 {
			isNew = !l.exists(tls, name)
		}
		if isNew {
			if code := l.before(Step{Kind: Create, Path: path}); code != sqlite3.SQLITE_OK {
				at[sqlite3.Tsqlite3_file](handle).FpMethods = 0
				return code
			}
		}
	}
	code := call[openFunc](at[sqlite3.Tsqlite3_vfs](l.base).FxOpen)(tls, l.base, name, handle, flags, outFlags)
	if code != sqlite3.SQLITE_OK || path == "" {
		return code
	}
	if isNew {
		l.record(Step{Kind: Create, Path: path})
	}
	const logs = sqlite3.SQLITE_OPEN_WAL | sqlite3.SQLITE_OPEN_MAIN_JOURNAL | sqlite3.SQLITE_OPEN_SUPER_JOURNAL
	l.mu.Lock()
	defer l.mu.Unlock()
	real := at[sqlite3.Tsqlite3_file](handle).FpMethods
	l.open[handle] = &file{path, flags&sqlite3.SQLITE_OPEN_CREATE != 0 && flags&logs != 0, at[sqlite3.Tsqlite3_io_methods](real)}
	at[sqlite3.Tsqlite3_file](handle).FpMethods = l.standBefore(tls, real)
	return code
}

func (l *Layer) exists(tls *libc.TLS, name uintptr) bool {
	there := libc.Xmalloc(tls, 4)
	defer libc.Xfree(tls, there)
	*at[int32](there) = 0
	access := call[func(*libc.TLS, uintptr, uintptr, int32, uintptr) int32](at[sqlite3.Tsqlite3_vfs](l.base).FxAccess)
	access(tls, l.base, name, 0, there) // 0: does it exist, whatever its size
	return *at[int32](there) != 0
}

// standBefore gives the address of methods that do what the real ones do, but through this layer.
func (l *Layer) standBefore(tls *libc.TLS, real uintptr) uintptr {
	if ours, made := l.methods[real]; made {
		return ours
	}
	ours := libc.Xmalloc(tls, libc.Tsize_t(unsafe.Sizeof(sqlite3.Tsqlite3_io_methods{})))
	if ours == 0 {
		panic("no memory for a table of methods")
	}
	m := at[sqlite3.Tsqlite3_io_methods](ours)
	*m = *at[sqlite3.Tsqlite3_io_methods](real)
	m.FiVersion = min(m.FiVersion, 2) // no memory-mapped pages: they would pass by
	end, read, write := closeFunc(l.closeFile), transferFunc(l.readFile), transferFunc(l.writeFile)
	truncate, sync := truncateFunc(l.truncateFile), syncFunc(l.syncFile)
	l.keep = append(l.keep, &end, &read, &write, &truncate, &sync)
	m.FxClose, m.FxRead, m.FxWrite = address(&end), address(&read), address(&write)
	m.FxTruncate, m.FxSync = address(&truncate), address(&sync)
	l.methods[real] = ours
	return ours
}

func (l *Layer) file(handle uintptr) *file {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.open[handle]
}

func (l *Layer) closeFile(tls *libc.TLS, handle uintptr) int32 {
	f := l.file(handle)
	code := call[closeFunc](f.real.FxClose)(tls, handle)
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.open, handle)
	return code
}

func (l *Layer) readFile(tls *libc.TLS, handle, buffer uintptr, n int32, offset int64) int32 {
	f := l.file(handle)
	if code := l.before(Step{Kind: Read, Path: f.path, Offset: offset}); code != sqlite3.SQLITE_OK {
		return code
	}
	return call[transferFunc](f.real.FxRead)(tls, handle, buffer, n, offset)
}

func (l *Layer) writeFile(tls *libc.TLS, handle, buffer uintptr, n int32, offset int64) int32 {
	f := l.file(handle)
	write := call[transferFunc](f.real.FxWrite)
	s := Step{Kind: Write, Path: f.path, Offset: offset, Data: append([]byte(nil), unsafe.Slice(at[byte](buffer), n)...)}
	if failed := l.before(s); failed != sqlite3.SQLITE_OK {
		if half := n / 2; half > 0 && write(tls, handle, buffer, half, offset) == sqlite3.SQLITE_OK {
			s.Data = s.Data[:half]
			l.record(s)
		}
		return failed
	}
	code := write(tls, handle, buffer, n, offset)
	if code == sqlite3.SQLITE_OK {
		l.record(s)
	}
	return code
}

func (l *Layer) truncateFile(tls *libc.TLS, handle uintptr, size int64) int32 {
	f := l.file(handle)
	s := Step{Kind: Truncate, Path: f.path, Size: size}
	if code := l.before(s); code != sqlite3.SQLITE_OK {
		return code
	}
	code := call[truncateFunc](f.real.FxTruncate)(tls, handle, size)
	if code == sqlite3.SQLITE_OK {
		l.record(s)
	}
	return code
}

func (l *Layer) syncFile(tls *libc.TLS, handle uintptr, flags int32) int32 {
	f := l.file(handle)
	s := Step{Kind: Sync, Path: f.path}
	if code := l.before(s); code != sqlite3.SQLITE_OK {
		return code
	}
	if !l.options.NoSync {
		if code := call[syncFunc](f.real.FxSync)(tls, handle, flags); code != sqlite3.SQLITE_OK {
			return code
		}
	}
	l.record(s)
	if f.syncFolder {
		l.record(Step{Kind: SyncFolder, Path: filepath.Dir(f.path)})
		f.syncFolder = false
	}
	return sqlite3.SQLITE_OK
}

func (l *Layer) deleteFile(tls *libc.TLS, _, name uintptr, syncFolder int32) int32 {
	s := Step{Kind: Delete, Path: filepath.Clean(libc.GoString(name))}
	if code := l.before(s); code != sqlite3.SQLITE_OK {
		return code
	}
	code := call[deleteFunc](at[sqlite3.Tsqlite3_vfs](l.base).FxDelete)(tls, l.base, name, syncFolder)
	if code == sqlite3.SQLITE_OK {
		l.record(s)
		if syncFolder != 0 {
			l.record(Step{Kind: SyncFolder, Path: filepath.Dir(s.Path)})
		}
	}
	return code
}
