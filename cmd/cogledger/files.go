package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// writeFile writes what fill produces to path by way of a temporary file
// beside it, so that a failure leaves no half-written file. An existing file
// is kept unless overwrite is set.
func writeFile(path string, overwrite bool, fill func(io.Writer) error) (err error) {
	if err := mayWrite(path, overwrite); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".cogledger-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err := fill(f); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err := f.Chmod(0o644); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// mayWrite refuses a path that holds something already.
func mayWrite(path string, overwrite bool) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return err
	case info.IsDir():
		return fmt.Errorf("%s is a folder; name a file", path)
	case !overwrite:
		return fmt.Errorf("%s is there already; name another file or add --force", path)
	}
	return nil
}
