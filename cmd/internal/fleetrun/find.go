package fleetrun

import (
	"archive/zip"
	"cmp"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// A Found is one log as found, not opened yet.
type Found struct {
	Path        string // name in the store: absolute, with slashes, through the zip that holds it
	Fingerprint string // changes when the log does
	Bytes       int64  // unpacked where the zip tells it, else of the file

	// DoubtEvery is that of the log's fleet; 0 takes the worker's.
	DoubtEvery int

	// Open begins to read a log that lies elsewhere than on disk.
	Open func() (io.ReadCloser, error)

	file    string   // on disk
	archive *archive // nil for a log that lies open
	member  string   // its name in the archive
}

// A Finding is what a search of folders turned up.
type Finding struct {
	Logs     []Found   // in order of path, each once
	Problems []Problem // folders and archives that could not be looked into
	Others   int       // files passed over because of their names
}

// A Problem is something that could not be used, and why.
type Problem struct {
	Path string
	Err  error
}

// mostMembers bounds the table of contents of one zip.
const mostMembers = 200_000

// Find searches files and folders for logs: names that end in .fit, .gpx, .tcx
// or .csv, each perhaps with .gz after it, and the same inside of .zip. Hidden
// files and folders are passed over, links to folders are not followed. Leave
// holds paths that are no logs whatever their names.
func Find(roots []string, leave ...string) (*Finding, error) {
	f := &Finding{}
	for i, l := range leave {
		if absolute, err := filepath.Abs(l); err == nil {
			leave[i] = absolute
		}
	}
	for _, root := range roots {
		absolute, err := filepath.Abs(root)
		if err != nil {
			return nil, err
		}
		info, err := os.Stat(absolute)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return nil, fmt.Errorf("%s: no such folder or file", root)
		case err != nil:
			return nil, err
		case !info.IsDir():
			f.take(absolute, info)
			continue
		}
		f.walk(absolute, leave)
	}
	slices.SortFunc(f.Logs, func(a, b Found) int { return cmp.Compare(a.Path, b.Path) })
	f.Logs = slices.CompactFunc(f.Logs, func(a, b Found) bool { return a.Path == b.Path })
	return f, nil
}

func (f *Finding) walk(root string, leave []string) {
	filepath.WalkDir(root, func(name string, entry fs.DirEntry, err error) error {
		if err != nil {
			f.Problems = append(f.Problems, Problem{key(name), err})
			return nil
		}
		if strings.HasPrefix(entry.Name(), ".") && name != root {
			if entry.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if entry.IsDir() || slices.Contains(leave, name) {
			return nil
		}
		if kindOf(name) == other {
			f.Others++
			return nil
		}
		info, err := os.Stat(name) // follows a link to a file
		if err != nil {
			f.Problems = append(f.Problems, Problem{key(name), err})
			return nil
		}
		if info.Mode().IsRegular() {
			f.take(name, info)
		}
		return nil
	})
}

// take adds a file, or what a zip holds.
func (f *Finding) take(name string, info fs.FileInfo) {
	switch kindOf(name) {
	case zipped:
		f.unzip(name)
	case log:
		f.Logs = append(f.Logs, Found{
			Path: key(name), file: name, Bytes: info.Size(),
			Fingerprint: Fingerprint(info.Size(), info.ModTime()),
		})
	default:
		f.Others++
	}
}

// unzip lists the logs of a zip. It stays closed until its logs are read.
func (f *Finding) unzip(name string) {
	r, err := zip.OpenReader(name)
	if err == nil && len(r.File) > mostMembers {
		err = fmt.Errorf("%d files in one zip, the limit is %d; split it", len(r.File), mostMembers)
	}
	if err != nil {
		f.Problems = append(f.Problems, Problem{key(name), fmt.Errorf("zip: %w", err)})
		return
	}
	defer r.Close()
	a := &archive{path: name}
	for _, m := range r.File {
		base := path.Base(m.Name)
		if m.FileInfo().IsDir() || strings.HasPrefix(base, ".") {
			continue
		}
		switch kindOf(base) {
		case zipped:
			f.Problems = append(f.Problems, Problem{key(name) + "/" + tidy(m.Name), errors.New("a zip inside a zip is not opened; unpack it")})
		case log:
			f.Logs = append(f.Logs, Found{
				Path: key(name) + "/" + tidy(m.Name), file: name, archive: a, member: m.Name, Bytes: int64(m.UncompressedSize64),
				Fingerprint: fmt.Sprintf("%d-%08x", m.UncompressedSize64, m.CRC32),
			})
		default:
			f.Others++
		}
	}
}

// Fingerprint tells a file's state by its size and its time of change.
func Fingerprint(size int64, changed time.Time) string {
	return fmt.Sprintf("%d-%d", size, changed.UnixNano())
}

// IsLog reports whether a name is that of a log that stands for itself.
func IsLog(name string) bool { return kindOf(name) == log }

type kind uint8

const (
	other kind = iota
	log
	zipped
)

func kindOf(name string) kind {
	name = strings.TrimSuffix(strings.ToLower(name), ".gz")
	switch path.Ext(filepath.ToSlash(name)) {
	case ".fit", ".gpx", ".tcx", ".csv":
		return log
	case ".zip":
		return zipped
	}
	return other
}

// key is a path as the store has it.
func key(name string) string { return strings.ToValidUTF8(filepath.ToSlash(name), "�") }

// tidy is a name inside a zip as the store has it.
func tidy(name string) string {
	return strings.TrimPrefix(path.Clean("/"+strings.ToValidUTF8(strings.ReplaceAll(name, `\`, "/"), "�")), "/")
}

// read gives the bytes of a log, unpacked, at most limit, in the memory of into
// where that is enough.
func (l *Found) read(limit int64, into []byte) ([]byte, error) {
	if l.Bytes > limit {
		return nil, tooLarge(limit)
	}
	var from io.ReadCloser
	var err error
	switch {
	case l.Open != nil:
		from, err = l.Open()
	case l.archive != nil:
		from, err = l.archive.open(l.member)
	default:
		from, err = os.Open(l.file)
	}
	if err != nil {
		return nil, err
	}
	defer from.Close()
	if !l.gzipped() {
		return readAll(from, l.Bytes, limit, into)
	}
	plain, err := gzip.NewReader(from)
	if err != nil {
		return nil, fmt.Errorf("gzip: %w", err)
	}
	data, err := readAll(plain, l.unpacked(), limit, into)
	if len(data) > 0 && errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil // cut short; a reader of logs makes the best of the rest
	}
	return data, err
}

// readAll reads about size bytes, at most limit, in the memory of into where that
// is enough.
func readAll(from io.Reader, size, limit int64, into []byte) ([]byte, error) {
	data := slices.Grow(into[:0], int(min(size, limit)+512))
	for {
		n, err := from.Read(data[len(data):cap(data)])
		data = data[:len(data)+n]
		switch {
		case int64(len(data)) > limit:
			return nil, tooLarge(limit)
		case errors.Is(err, io.EOF):
			return data, nil
		case err != nil:
			return data, err
		}
		if len(data) == cap(data) {
			data = slices.Grow(data, max(4096, len(data)/2))
		}
	}
}

func (l *Found) gzipped() bool { return strings.HasSuffix(strings.ToLower(l.Path), ".gz") }

// unpacked is the size to be expected, unpacked: exact but for gzip.
func (l *Found) unpacked() int64 {
	if l.gzipped() {
		return 6 * l.Bytes // as logs pack
	}
	return l.Bytes
}

func tooLarge(limit int64) error {
	return &refusal{fmt.Sprintf("larger than %d MB, the limit of --max-mb; split it or raise the limit", limit>>20)}
}
