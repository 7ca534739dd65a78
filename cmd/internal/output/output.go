// Package output writes what the commands make. All places that a command will
// write to are named and checked before the first byte is computed, and put in
// place together at the end, so that no input is lost and no half is left.
package output

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// A Right says what an output may replace.
type Right uint8

const (
	Nothing      Right = iota // only a place where nothing is
	OwnPages                  // a page that this program wrote, until the user says --force
	OnlyOwnPages              // a page that this program wrote, in commands whose --force means other things
	OwnManual                 // a manual page that this program wrote
	Anything                  // any plain file that is not an input, a store or a profile: the user said --force
	Profiles                  // the same and profiles, for commands that write profiles
)

// Replacing is the right of a file that goes with --force.
func Replacing(force bool) Right {
	if force {
		return Anything
	}
	return Nothing
}

// ReplacingPage is the right of a page in a command with --force.
func ReplacingPage(force bool) Right {
	if force {
		return Anything
	}
	return OwnPages
}

// ErrRefused marks outputs that would destroy something.
var ErrRefused = errors.New("refused")

// Files are the files of one run of a command. The zero value is ready.
type Files struct {
	Public bool // others may read what is written, as far as the umask lets them: it is about nobody

	inputs []input
	places []*place
}

type input struct {
	path string
	info fs.FileInfo
}

// A place is one output. target is the file behind its links.
type place struct {
	flag, path, target string
	right              Right
	pipe               bool
	staged             string // what is to be put there
	kept               string // a copy of what was there, until all is put
	fresh              bool   // nothing was there
}

// Read names inputs. No output may be one of them, whatever its name or links.
func (f *Files) Read(paths ...string) {
	for _, path := range paths {
		if path == "" {
			continue
		}
		if info, err := os.Stat(path); err == nil { // else the reader will say so
			f.inputs = append(f.inputs, input{path, info})
		}
	}
}

// Plan names an output and checks it. Flag is how the user asked for it. Empty
// paths and "-" for stdout are passed over.
func (f *Files) Plan(flag, path string, right Right) error {
	if path == "" || path == "-" {
		return nil
	}
	p := &place{flag: flag, path: path, right: right}
	if err := f.check(p); err != nil {
		return fmt.Errorf("%s %s: %w", flag, path, err)
	}
	f.places = append(f.places, p)
	return nil
}

// PlanFolder names a folder and the files that will be written into it.
func (f *Files) PlanFolder(flag, folder string, right Right, names ...string) error {
	if folder == "" {
		return nil
	}
	if info, err := os.Stat(folder); err == nil && !info.IsDir() {
		return fmt.Errorf("%s %s: %w: it is a file; name a folder", flag, folder, ErrRefused)
	}
	for _, name := range names {
		if err := f.Plan(flag, filepath.Join(folder, name), right); err != nil {
			return err
		}
	}
	return nil
}

// check finds the file behind the path, and whether it may be replaced.
func (f *Files) check(p *place) error {
	target, err := behind(p.path)
	if err != nil {
		return err
	}
	p.target = target
	info, err := os.Stat(target)
	missing := errors.Is(err, fs.ErrNotExist)
	if err != nil && !missing {
		return err
	}
	for _, other := range f.places {
		if strings.EqualFold(other.target, target) || !missing && sameAs(other.target, info) {
			return fmt.Errorf("%w: %s writes to the same file; name another", ErrRefused, other.flag)
		}
	}
	if missing {
		return nil
	}
	for _, in := range f.inputs {
		if os.SameFile(in.info, info) {
			return fmt.Errorf("%w: it is the input %s; name another file", ErrRefused, in.path)
		}
	}
	switch mode := info.Mode(); {
	case mode.IsDir():
		return fmt.Errorf("%w: it is a folder; name a file", ErrRefused)
	case mode&fs.ModeNamedPipe != 0:
		p.pipe = true
		return nil
	case !mode.IsRegular():
		return fmt.Errorf("%w: it is a device; name a file", ErrRefused)
	}
	return mayReplace(target, p.right)
}

func sameAs(path string, info fs.FileInfo) bool {
	other, err := os.Stat(path)
	return err == nil && os.SameFile(other, info)
}

// behind follows the links of a path. The file itself need not exist.
func behind(path string) (string, error) {
	absolute, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	if real, err := filepath.EvalSymlinks(absolute); err == nil {
		return real, nil
	}
	if _, err := os.Lstat(absolute); err == nil {
		return "", fmt.Errorf("%w: it is a link that leads nowhere; name another file", ErrRefused)
	}
	rest := filepath.Base(absolute)
	for folder := filepath.Dir(absolute); ; folder = filepath.Dir(folder) {
		if real, err := filepath.EvalSymlinks(folder); err == nil {
			return filepath.Join(real, rest), nil
		}
		if folder == filepath.Dir(folder) {
			return absolute, nil
		}
		rest = filepath.Join(filepath.Base(folder), rest)
	}
}

// Write computes an output into a file beside its place. Nothing is replaced
// before Commit.
func (f *Files) Write(path string, fill func(io.Writer) error) error {
	p := f.place(path)
	if p == nil {
		return fmt.Errorf("%s: %w: it was not planned", path, ErrRefused)
	}
	folder := filepath.Dir(p.target)
	if p.pipe {
		folder = os.TempDir()
	} else if err := os.MkdirAll(folder, f.folderMode()); err != nil {
		return err
	}
	t, err := os.OpenFile(temporary(folder), os.O_WRONLY|os.O_CREATE|os.O_EXCL, f.mode()) // less what the umask takes
	if err != nil {
		return err
	}
	p.staged = t.Name()
	if err := errors.Join(fill(t), t.Close()); err != nil {
		f.Discard()
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}

func (f *Files) mode() fs.FileMode {
	if f.Public {
		return 0o666
	}
	return 0o600
}

func (f *Files) folderMode() fs.FileMode {
	if f.Public {
		return 0o777
	}
	return 0o700
}

// temporary is a name in the folder that no other file has.
func temporary(folder string) string { return filepath.Join(folder, ".cogledger-"+rand.Text()) }

func (f *Files) place(path string) *place {
	for _, p := range f.places {
		if p.path == path {
			return p
		}
	}
	return nil
}

// Commit puts all that was written in its place. Each place is checked anew
// first: something may have come there meanwhile. If one cannot be put, those
// before it are put back as they were; only what went into a pipe is gone.
func (f *Files) Commit() error {
	defer f.Discard()
	staged := f.staged()
	for _, p := range staged {
		again := &place{flag: p.flag, path: p.path, right: p.right}
		if err := (&Files{inputs: f.inputs}).check(again); err != nil {
			return fmt.Errorf("%s %s: %w", p.flag, p.path, err)
		}
		if again.target != p.target || again.pipe != p.pipe {
			return fmt.Errorf("%s %s: %w: another file has come there meanwhile", p.flag, p.path, ErrRefused)
		}
	}
	for i, p := range staged {
		if err := p.put(); err != nil {
			err = fmt.Errorf("%s %s: %w", p.flag, p.path, err)
			for _, done := range slices.Backward(staged[:i]) {
				err = errors.Join(err, done.putBack())
			}
			return err
		}
	}
	for _, p := range staged {
		p.staged = ""
	}
	return nil
}

// staged lists the places to be put, pipes last: what has gone into one cannot
// be taken back.
func (f *Files) staged() []*place {
	var files, pipes []*place
	for _, p := range f.places {
		switch {
		case p.staged == "":
		case p.pipe:
			pipes = append(pipes, p)
		default:
			files = append(files, p)
		}
	}
	return append(files, pipes...)
}

// Put puts one output in its place ahead of the others.
func (f *Files) Put(path string) error {
	p := f.place(path)
	if p == nil || p.staged == "" {
		return fmt.Errorf("%s: %w: nothing was written", path, ErrRefused)
	}
	if err := p.put(); err != nil {
		return fmt.Errorf("%s %s: %w", p.flag, p.path, err)
	}
	p.staged = ""
	return nil
}

// put moves what was written into its place, and keeps what was there beside it;
// into a pipe it is copied.
func (p *place) put() error {
	if p.pipe {
		return p.pour()
	}
	if _, err := os.Lstat(p.target); err == nil {
		kept := temporary(filepath.Dir(p.target))
		if os.Link(p.target, kept) == nil { // else a file system without links: it cannot be kept, and putBack says so
			p.kept = kept
		}
	} else {
		p.fresh = errors.Is(err, fs.ErrNotExist)
	}
	return os.Rename(p.staged, p.target)
}

// putBack undoes put.
func (p *place) putBack() error {
	switch {
	case p.kept != "":
		if err := os.Rename(p.kept, p.target); err != nil {
			err = fmt.Errorf("%s was replaced; what it held is in %s: %w", p.path, p.kept, err)
			p.kept = "" // so that it is not discarded
			return err
		}
		p.kept = ""
		return nil
	case p.fresh:
		return os.Remove(p.target)
	}
	return fmt.Errorf("%s was replaced already", p.path)
}

func (p *place) pour() error {
	from, err := os.Open(p.staged)
	if err != nil {
		return err
	}
	defer from.Close()
	to, err := os.OpenFile(p.target, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	_, err = io.Copy(to, from)
	if err := errors.Join(err, to.Close()); err != nil {
		return err
	}
	return os.Remove(p.staged)
}

// Discard removes what was written and not put in place, and what was kept of
// what is replaced.
func (f *Files) Discard() {
	for _, p := range f.places {
		for _, rest := range []*string{&p.staged, &p.kept} {
			if *rest != "" {
				os.Remove(*rest)
				*rest = ""
			}
		}
	}
}
