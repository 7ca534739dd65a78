package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"cogledger/analysis/bike"
)

// readProfile reads the bike profile at path.
func readProfile(path string) (*bike.Profile, error) {
	if path == "" {
		return nil, usagef("no bike profile given; write one with `cogledger bike new > bike.yaml` and name it with --bike bike.yaml")
	}
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: no such file; `cogledger bike new > %s` writes a profile to fill in", path, path)
	}
	if err != nil {
		return nil, fmt.Errorf("bike profile: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, bike.MaxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("bike profile: %w", err)
	}
	return bike.Parse(data, filepath.Base(path))
}
