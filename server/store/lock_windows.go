package store

import (
	"os"

	"golang.org/x/sys/windows"
)

// exclude waits until no other process holds the file, and holds it until it is closed.
func exclude(f *os.File) error {
	return windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK, 0, 1, 0, new(windows.Overlapped))
}
