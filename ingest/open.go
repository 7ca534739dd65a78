// Package ingest opens the logs of rides, whatever their format and packing,
// tells what can be told from them, and joins two logs of one ride.
package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"cogledger/ingest/csvlog"
	"cogledger/ingest/fitlog"
	"cogledger/ingest/gpxlog"
	"cogledger/ingest/ride"
	"cogledger/ingest/tcxlog"
)

// Options tell how to open a log. The zero value suits most.
type Options struct {
	Columns *csvlog.Columns // how to read a table with names of its own
	Limits  Limits
}

// Limits bound what a file may grow to. The zero value takes the defaults; the
// readers have limits of their own for records, points and rows.
type Limits struct {
	Bytes   int // of a file, and of all that is unpacked from it; default 256 MiB
	Ratio   int // how much packed bytes may grow; default 200
	Files   int // in a zip archive; default 1000
	Samples int // of all logs in an archive; default 4,000,000
	Seconds int // that all rides of a file last together, pauses included; default 2,000,000
}

func (l Limits) orDefaults() Limits {
	if l.Bytes == 0 {
		l.Bytes = 256 << 20
	}
	if l.Ratio == 0 {
		l.Ratio = 200
	}
	if l.Files == 0 {
		l.Files = 1000
	}
	if l.Samples == 0 {
		l.Samples = 4_000_000
	}
	if l.Seconds == 0 {
		l.Seconds = 2_000_000
	}
	return l
}

// Errors that Open and Read wrap, beside those of the readers.
var (
	ErrUnknown  = errors.New("not a log that can be read")
	ErrTooLarge = errors.New("too large")
)

// Open reads all rides in a file: FIT, GPX, TCX or CSV, as it is, gzipped, or
// several in a zip archive. What it is is told by its content, not its name. A
// log that is silent for more than ride.LongestPause gives several tracks.
//
// What could not be read of a file that holds at least one ride is a note on
// its tracks. An error means that there is no ride to return; it names the
// file, the place and the cure.
func Open(path string, o Options) ([]*ride.Track, error) {
	o.Limits = o.Limits.orDefaults()
	name := filepath.Base(path)
	f, err := os.Open(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%s: there is no such file; check the path: %w", path, fs.ErrNotExist)
	case err != nil:
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	defer f.Close()
	if info, err := f.Stat(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	} else if info.IsDir() {
		return nil, fmt.Errorf("%s: %w: it is a folder; name the files in it", path, ErrUnknown)
	}
	data, err := io.ReadAll(io.LimitReader(f, int64(o.Limits.Bytes)+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return Read(data, name, o)
}

// Read is Open for bytes that are already at hand. file is the base name that
// notes and errors carry.
func Read(data []byte, file string, o Options) ([]*ride.Track, error) {
	o.Limits = o.Limits.orDefaults()
	if len(data) > o.Limits.Bytes {
		return nil, fmt.Errorf("%s: %w: the limit is %d bytes; split the log", file, ErrTooLarge, o.Limits.Bytes)
	}
	u := unpacker{options: o, budget: o.Limits.Bytes}
	tracks, err := u.read(data, file, 0)
	if err != nil {
		return nil, err
	}
	return rides(tracks, o.Limits.Seconds), nil
}

// plain reads a log that is not packed.
func plain(data []byte, file string, o Options) ([]*ride.Track, error) {
	switch kind, what := sniff(data); kind {
	case fitFile:
		return fitlog.Read(data, file, fitlog.Limits{})
	case gpxFile:
		return gpxlog.Read(data, file, gpxlog.Limits{})
	case tcxFile:
		return tcxlog.Read(data, file, tcxlog.Limits{})
	case table:
		track, err := csvlog.Read(data, file, csvlog.Options{Columns: o.Columns})
		if err != nil {
			return nil, err
		}
		return []*ride.Track{track}, nil
	case empty:
		return nil, fmt.Errorf("%s: %w: it is empty; copy it from the device again", file, ErrUnknown)
	default:
		return nil, fmt.Errorf("%s: %w: it is %s, whatever its name says; choose a FIT, GPX, TCX or CSV log", file, ErrUnknown, what)
	}
}

// rides parts tracks at their long silences. What the rides take in memory goes
// with the time that they last, and a few lines of text can claim months:
// those beyond so many seconds are left out, but for the first.
func rides(tracks []*ride.Track, seconds int) []*ride.Track {
	var all []*ride.Track
	left := 0
	for _, t := range tracks {
		pieces := t.Split()
		for i, p := range pieces {
			if len(pieces) > 1 {
				p.Name = fmt.Sprintf("%s, ride %d of %d", t.Name, i+1, len(pieces))
			}
			if n := len(p.Time); n > 0 {
				seconds -= int(min(p.Time[n-1]-p.Time[0], ride.LongestRide)) + 1
			}
			if seconds < 0 && len(all) > 0 {
				left++
				continue
			}
			all = append(all, p)
		}
	}
	if left > 0 {
		note(all, ride.Note{Text: fmt.Sprintf("%d rides after the first %d were left out: together they last longer than one file may", left, len(all)), Cure: "split the log into one file a ride"})
	}
	return all
}

// A format is what a file's first bytes say that it is.
type format uint8

const (
	unknown format = iota
	empty
	fitFile
	gpxFile
	tcxFile
	table
	gzipFile
	zipFile
)

// signatures are files that people take for logs, and the packings that are
// not read.
var signatures = []struct{ begins, what string }{
	{"\xff\xd8\xff", "a JPEG picture"},
	{"\x89PNG", "a PNG picture"},
	{"GIF8", "a GIF picture"},
	{"%PDF", "a PDF document"},
	{"7z\xbc\xaf\x27\x1c", "packed as 7z, which is not read: unpack it"},
	{"Rar!", "packed as RAR, which is not read: unpack it"},
	{"BZh", "packed as bzip2, which is not read: unpack it"},
	{"\xfd7zXZ", "packed as xz, which is not read: unpack it"},
	{"\x28\xb5\x2f\xfd", "packed as zstd, which is not read: unpack it"},
	{"SQLite format 3", "an SQLite database"},
	{"\xd0\xcf\x11\xe0", "an office document: save the sheet as CSV"},
	{"\x7fELF", "a program"},
	{"MZ", "a program"},
}

// sniff tells what the bytes are, and in words what they are if not a log.
func sniff(data []byte) (format, string) {
	head := data[:min(len(data), 4096)]
	text := bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\ufeff")), " \t\r\n")
	switch {
	case len(text) == 0:
		return empty, ""
	case bytes.HasPrefix(head, []byte{0x1f, 0x8b}):
		return gzipFile, ""
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.HasPrefix(head, []byte("PK\x05\x06")):
		return zipFile, ""
	}
	for _, s := range signatures {
		if bytes.HasPrefix(head, []byte(s.begins)) {
			return unknown, s.what
		}
	}
	switch {
	case len(head) >= 12 && string(head[8:12]) == ".FIT", bytes.Contains(head[:min(len(head), 512)], []byte(".FIT")) && bytes.IndexByte(head, 0) >= 0:
		return fitFile, ""
	case text[0] == '<':
		return sniffXML(text)
	case text[0] == '{' || text[0] == '[':
		return unknown, "JSON"
	case bytes.IndexByte(head, 0) < 0, bytes.HasPrefix(head, []byte{0xff, 0xfe}), bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return table, ""
	}
	return unknown, "binary data of an unknown kind"
}

func sniffXML(text []byte) (format, string) {
	switch {
	case bytes.Contains(text, []byte("<gpx")), bytes.Contains(text, []byte(":gpx")):
		return gpxFile, ""
	case bytes.Contains(text, []byte("TrainingCenterDatabase")):
		return tcxFile, ""
	case bytes.Contains(bytes.ToLower(text), []byte("<html")):
		return unknown, "a web page"
	}
	return unknown, "XML, but neither GPX nor TCX"
}
