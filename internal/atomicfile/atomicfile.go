// Package atomicfile replaces files whole. Whoever reads the file, or turns
// the power off, finds the old content or the new one, never half of it.
package atomicfile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Write puts data into the file at path. It writes a file beside it, brings
// that to the disk, and renames it into place. An existing file keeps its
// permissions; a new one gets those that the process gives new files. If the
// path is a symbolic link, the file it leads to is replaced and the link
// stays. After an error the file is as it was, and nothing is left beside it.
func Write(path string, data []byte) (err error) {
	target, err := resolve(path)
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	old, err := os.Stat(target)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		old = nil
	case err != nil:
		return fmt.Errorf("write %s: %w", path, err)
	case !old.Mode().IsRegular():
		return fmt.Errorf("write %s: it is not a regular file", path)
	}
	dir := filepath.Dir(target)
	f, err := create(dir, filepath.Base(target))
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	defer func() {
		if err != nil {
			f.Close() // harmless if it is closed already
			os.Remove(f.Name())
			err = fmt.Errorf("write %s: %w", path, err)
		}
	}()
	if old != nil {
		if err = f.Chmod(old.Mode().Perm()); err != nil {
			return err
		}
	}
	if _, err = f.Write(data); err != nil {
		return err
	}
	if err = f.Sync(); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	if err = os.Rename(f.Name(), target); err != nil {
		return err
	}
	// The new name reaches the disk with the directory. Some systems cannot
	// sync one; the file is in place all the same.
	if d, derr := os.Open(dir); derr == nil {
		d.Sync()
		d.Close()
	}
	return nil
}

// resolve follows symbolic links, to a file that need not exist yet.
func resolve(path string) (string, error) {
	const mostLinks = 40 // as the kernel's own limit; a ring of links ends here
	for range mostLinks {
		info, err := os.Lstat(path)
		if errors.Is(err, fs.ErrNotExist) {
			return path, nil
		}
		if err != nil {
			return "", err
		}
		if info.Mode()&fs.ModeSymlink == 0 {
			return path, nil
		}
		to, err := os.Readlink(path)
		if err != nil {
			return "", err
		}
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(path), to)
		}
		path = to
	}
	return "", errors.New("too many symbolic links")
}

// create makes a new file with a name of its own beside the target, with
// the permissions of a new file. (os.CreateTemp would make it private.)
func create(dir, base string) (*os.File, error) {
	const newFile = 0o666 // less what the umask takes
	for i := 0; ; i++ {
		name := filepath.Join(dir, fmt.Sprintf(".%s.%d-%d.new", base, os.Getpid(), i))
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, newFile)
		if err == nil || !errors.Is(err, fs.ErrExist) || i == 1000 {
			return f, err
		}
	}
}
