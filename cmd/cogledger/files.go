package main

import (
	"io"

	"cogledger/cmd/internal/output"
)

// writeFile writes the one output of a command. An existing file is kept unless
// overwrite is set; then a profile may be replaced too.
func writeFile(flag, path string, overwrite bool, fill func(io.Writer) error) error {
	out := &output.Files{}
	defer out.Discard()
	right := output.Nothing
	if overwrite {
		right = output.Profiles
	}
	if err := out.Plan(flag, path, right); err != nil {
		return err
	}
	if err := out.Write(path, fill); err != nil {
		return err
	}
	return out.Commit()
}
