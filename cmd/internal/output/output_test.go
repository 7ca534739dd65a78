package output

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const ownPage = "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n" + mark + "\n</head>"

func put(t *testing.T, path, text string) string {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func text(s string) func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
}

func TestWhatMayBeReplaced(t *testing.T) {
	for _, c := range []struct {
		name, file, holds string
		right             Right
		wrong             string // empty: it may
	}{
		{"nothing there", "", "", Nothing, ""},
		{"a file, unforced", "x.json", "{}", Nothing, "there already"},
		{"a file, forced", "x.json", "{}", Anything, ""},
		{"an own page", "x.html", ownPage, OwnPages, ""},
		{"another page", "notes.html", "<!doctype html><title>notes</title>", OwnPages, "no page of this program"},
		{"another page, forced", "notes.html", "<!doctype html>", Anything, ""},
		{"another page where no force helps", "notes.html", "<!doctype html>", OnlyOwnPages, "move it away"},
		{"an own manual page", "x.1", ".nh\n.TH \"COGLEDGER-DEMO\" \"1\"", OwnManual, ""},
		{"another manual page", "x.1", ".TH \"LS\" \"1\"", OwnManual, "no manual page of this program"},
		{"an empty file", "x.html", "", OwnPages, "no page of this program"},
		{"a store, forced", "fleet.sqlite", "SQLite format 3\x00rows", Anything, "it is a store"},
		{"a store by another name", "fleet.html", "SQLite format 3\x00rows", Anything, "it is a store"},
		{"a profile, forced", "bike.yaml", "name: Blue", Anything, "bike profile"},
		{"a profile by a command that writes them", "bike.yaml", "name: Blue", Profiles, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "new")
			if c.file != "" {
				path = put(t, filepath.Join(t.TempDir(), c.file), c.holds)
			}
			err := (&Files{}).Plan("-o", path, c.right)
			if c.wrong == "" && err != nil || c.wrong != "" && (!errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), c.wrong)) {
				t.Errorf("%v, want %q", err, c.wrong)
			}
		})
	}
}

// Two outputs at one place would keep only one of them.
func TestOnePlaceOneOutput(t *testing.T) {
	dir := t.TempDir()
	for _, second := range []string{filepath.Join(dir, "x"), filepath.Join(dir, "sub", "..", "x"), filepath.Join(dir, "X")} {
		var f Files
		if err := f.Plan("-o", filepath.Join(dir, "x"), Nothing); err != nil {
			t.Fatal(err)
		}
		if err := f.Plan("--json", second, Nothing); !errors.Is(err, ErrRefused) {
			t.Errorf("%s: %v", second, err)
		}
	}
}

func TestDevicesFoldersAndDanglingLinks(t *testing.T) {
	dir := t.TempDir()
	dangling := filepath.Join(dir, "dangling")
	if err := os.Symlink(filepath.Join(dir, "nowhere"), dangling); err != nil {
		t.Skip(err)
	}
	for path, wrong := range map[string]string{dir: "folder", os.DevNull: "device", dangling: "leads nowhere"} {
		if err := (&Files{}).Plan("-o", path, Anything); !errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), wrong) {
			t.Errorf("%s: %v", path, err)
		}
	}
}

// A failure in the second output leaves the first unwritten, and no rest behind.
func TestAllOrNone(t *testing.T) {
	dir := t.TempDir()
	old := put(t, filepath.Join(dir, "old.csv"), "kept")
	var f Files
	for _, path := range []string{old, filepath.Join(dir, "new.csv")} {
		if err := f.Plan("--csv", path, Anything); err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Write(old, text("half")); err != nil {
		t.Fatal(err)
	}
	full := errors.New("disk full")
	if err := f.Write(filepath.Join(dir, "new.csv"), func(io.Writer) error { return full }); !errors.Is(err, full) {
		t.Fatal(err)
	}
	f.Discard()
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 1 {
		t.Errorf("%v is left, %v", left, err)
	}
	if now, _ := os.ReadFile(old); string(now) != "kept" {
		t.Errorf("%q", now)
	}
}

// A link stays a link, and what it leads to is written, for its owner alone.
func TestLinkStaysALink(t *testing.T) {
	dir := t.TempDir()
	real, link := put(t, filepath.Join(dir, "real.html"), ownPage), filepath.Join(dir, "link.html")
	if err := os.Symlink(real, link); err != nil {
		t.Skip(err)
	}
	var f Files
	if err := f.Plan("-o", link, OwnPages); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(f.Write(link, text("new")), f.Commit()); err != nil {
		t.Fatal(err)
	}
	info, err := os.Lstat(link)
	if err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	info, err = os.Stat(real)
	if err != nil || info.Mode().Perm()&^0o600 != 0 || info.Size() != 3 {
		t.Errorf("%v of %d bytes, %v", info.Mode(), info.Size(), err)
	}
}

// What comes to the place while the work is done is not lost either.
func TestComesMeanwhile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.html")
	var f Files
	if err := errors.Join(f.Plan("-o", path, OwnPages), f.Write(path, text("page"))); err != nil {
		t.Fatal(err)
	}
	put(t, path, "notes")
	if err := f.Commit(); !errors.Is(err, ErrRefused) {
		t.Error(err)
	}
	if now, _ := os.ReadFile(path); string(now) != "notes" {
		t.Errorf("%q", now)
	}
}

// If the last output cannot be put in its place, those before it are as they
// were: the old one holds what it held, the new one is gone, and nothing is left.
func TestPutBack(t *testing.T) {
	dir := t.TempDir()
	old, fresh, last := put(t, filepath.Join(dir, "old.csv"), "kept"), filepath.Join(dir, "fresh.csv"), filepath.Join(dir, "last.csv")
	var f Files
	for _, path := range []string{old, fresh, last} {
		if err := errors.Join(f.Plan("--csv", path, Anything), f.Write(path, text("new"))); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Remove(f.place(last).staged); err != nil { // as if the disk were gone
		t.Fatal(err)
	}
	if err := f.Commit(); err == nil || !strings.Contains(err.Error(), last) {
		t.Errorf("%v", err)
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 1 {
		t.Errorf("%v is left, %v", left, err)
	}
	if now, _ := os.ReadFile(old); string(now) != "kept" {
		t.Errorf("%q", now)
	}
}

func TestPublicFilesKeepToTheUmask(t *testing.T) {
	dir := t.TempDir()
	path, want := filepath.Join(dir, "man", "page.1"), filepath.Join(dir, "as the system makes it")
	f := Files{Public: true}
	if err := errors.Join(f.Plan("man", path, OwnManual), f.Write(path, text("\n.TH \"COGLEDGER\"")), f.Commit(), f.Plan("again", filepath.Join(dir, "x"), Nothing)); err != nil {
		t.Fatal(err)
	}
	made, err := os.Create(want)
	if err != nil {
		t.Fatal(err)
	}
	made.Close()
	a, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	if b, err := os.Stat(want); err != nil || a.Mode() != b.Mode() {
		t.Errorf("%v, want %v, %v", a.Mode(), b.Mode(), err)
	}
}
