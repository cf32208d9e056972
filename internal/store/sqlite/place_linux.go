package sqlite

import (
	"os"
	"syscall"
)

// networks are file systems on which the shared memory of the write-ahead log doesn't work, by the
// magic numbers of statfs(2).
var networks = map[uint32]string{
	0x6969:     "NFS",
	0x517b:     "SMB",
	0xff534d42: "CIFS",
	0xfe534d42: "SMB2",
	0x01021997: "9P",
	0x5346414f: "AFS",
	0x73757245: "Coda",
	0x00c36400: "Ceph",
}

// networkFolder names the network file system that a folder lies on; "" when it is on a disk.
func networkFolder(folder string) string {
	var s syscall.Statfs_t
	if err := syscall.Statfs(folder, &s); err != nil {
		return ""
	}
	return networks[uint32(s.Type)]
}

func syncFolder(f *os.File) error { return f.Sync() }
