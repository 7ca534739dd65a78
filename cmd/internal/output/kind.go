package output

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// mark stands in the head of every page that this program writes.
const mark = `<meta name="generator" content="cogledger">`

// manualMark stands in the head of every manual page that this program writes.
const manualMark = "\n.TH \"COGLEDGER"

// headBytes is where kinds of files are told by.
const headBytes = 2048

// mayReplace reports whether the file at path may be replaced.
func mayReplace(path string, right Right) error {
	head, err := headOf(path)
	if err != nil {
		return err
	}
	ending := strings.ToLower(filepath.Ext(path))
	profile := slices.Contains([]string{".yaml", ".yml"}, ending)
	switch {
	case bytes.HasPrefix(head, []byte("SQLite format 3\x00")):
		return fmt.Errorf("%w: it is a store; name another file", ErrRefused)
	case profile && right != Profiles && right != Nothing:
		return fmt.Errorf("%w: it is named like a bike profile; name another file", ErrRefused)
	case right == Nothing:
		return fmt.Errorf("%w: it is there already; name another file or add --force", ErrRefused)
	case right == OwnPages && !bytes.Contains(head, []byte(mark)):
		return fmt.Errorf("%w: it is there already and is no page of this program, or one of an early version, which bore no mark; name another file or add --force", ErrRefused)
	case right == OnlyOwnPages && !bytes.Contains(head, []byte(mark)):
		return fmt.Errorf("%w: it is there already and is no page of this program, or one of an early version, which bore no mark; name another file or move it away", ErrRefused)
	case right == OwnManual && !bytes.Contains(head, []byte(manualMark)):
		return fmt.Errorf("%w: it is there already and is no manual page of this program; name another folder", ErrRefused)
	}
	return nil
}

func headOf(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	head := make([]byte, headBytes)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, err
	}
	return head[:n], nil
}
