package ingest

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"

	"cogledger/ingest/ride"
)

// deepest is how many packings may lie within one another: a gzipped log in a
// zip archive in another.
const deepest = 3

// An unpacker reads logs out of their packing. All that it unpacks from one
// file draws on one budget of bytes.
type unpacker struct {
	options Options
	budget  int
}

func (u *unpacker) read(data []byte, file string, depth int) ([]*ride.Track, error) {
	kind, _ := sniff(data)
	switch {
	case kind != gzipFile && kind != zipFile:
		return plain(data, file, u.options)
	case depth == deepest:
		return nil, fmt.Errorf("%s: %w: packed more than %d times over; unpack it", file, ErrUnknown, deepest)
	case kind == gzipFile:
		return u.gzip(data, file, depth)
	}
	return u.zip(data, file, depth)
}

// gzip reads a gzipped log. One that is cut short gives what it holds.
func (u *unpacker) gzip(data []byte, file string, depth int) ([]*ride.Track, error) {
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("%s: %w: its gzip header is damaged (%v); copy it again", file, ErrUnknown, err)
	}
	inner, err := u.unpack(z, len(data))
	if errors.Is(err, ErrTooLarge) {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	if len(inner) == 0 && err != nil {
		return nil, fmt.Errorf("%s: %w: its gzip data is damaged at the start (%v); copy it again", file, ErrUnknown, err)
	}
	tracks, readErr := u.read(inner, file, depth+1)
	if readErr != nil {
		return nil, readErr
	}
	if err != nil {
		note(tracks, ride.Note{File: file, Place: fmt.Sprintf("unpacked byte %d", len(inner)), Text: fmt.Sprintf("the gzip data breaks off (%v); what came before was read", err), Cure: "copy the file again"})
	}
	return tracks, nil
}

// zip reads every log in an archive.
func (u *unpacker) zip(data []byte, file string, depth int) ([]*ride.Track, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("%s: %w: its zip directory cannot be read (%v); copy it again", file, ErrUnknown, err)
	}
	if len(z.File) > u.options.Limits.Files {
		return nil, fmt.Errorf("%s: %w: it holds %d files, the limit is %d; unpack it", file, ErrTooLarge, len(z.File), u.options.Limits.Files)
	}
	var tracks []*ride.Track
	var failed []error
	samples := 0
	for _, f := range z.File {
		base := path.Base(strings.ReplaceAll(f.Name, `\`, "/"))
		if f.FileInfo().IsDir() || strings.HasPrefix(base, ".") || strings.HasPrefix(f.Name, "__MACOSX/") {
			continue
		}
		inner, err := u.member(f, file, base, depth)
		if errors.Is(err, ErrTooLarge) {
			return nil, err
		}
		if err != nil {
			failed = append(failed, err)
			continue
		}
		tracks = append(tracks, inner...)
		for _, t := range inner {
			samples += len(t.Time)
		}
		if samples > u.options.Limits.Samples {
			failed = append(failed, fmt.Errorf("%s: its logs up to %s hold %d samples, the limit is %d; those after it were not read: unpack the archive", file, base, samples, u.options.Limits.Samples))
			break
		}
	}
	if len(tracks) == 0 {
		if len(failed) == 0 {
			return nil, fmt.Errorf("%s: %w: the archive holds no files", file, ErrUnknown)
		}
		return nil, errors.Join(failed...)
	}
	for _, err := range failed {
		note(tracks, ride.Note{Text: err.Error()})
	}
	return tracks, nil
}

func (u *unpacker) member(f *zip.File, archive, base string, depth int) ([]*ride.Track, error) {
	name := archive + "/" + base
	if f.Flags&1 != 0 {
		return nil, fmt.Errorf("%s: %w: it is encrypted; unpack it with its password", name, ErrUnknown)
	}
	in, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("%s: %w: %v", name, ErrUnknown, err)
	}
	defer in.Close()
	inner, err := u.unpack(in, int(min(f.CompressedSize64, 1<<40)))
	if errors.Is(err, ErrTooLarge) {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	tracks, readErr := u.read(inner, name, depth+1)
	if readErr != nil {
		return nil, readErr
	}
	if err != nil {
		note(tracks, ride.Note{File: name, Place: fmt.Sprintf("unpacked byte %d", len(inner)), Text: fmt.Sprintf("the packed data is damaged (%v); what came before was read", err), Cure: "copy the archive again"})
	}
	return tracks, nil
}

// unpack reads a stream of so many packed bytes to its end, within the limits.
// Beside a fault of the stream it returns what came before.
func (u *unpacker) unpack(in io.Reader, packed int) ([]byte, error) {
	most := min(u.budget, packed*u.options.Limits.Ratio+1<<16)
	data, err := io.ReadAll(io.LimitReader(in, int64(most)+1))
	if len(data) > most {
		return nil, fmt.Errorf("%w: unpacked it grows beyond %d bytes, as no honest log does; unpack it and split it", ErrTooLarge, most)
	}
	u.budget -= len(data)
	return data, err
}

// note puts a note on the first of the tracks.
func note(tracks []*ride.Track, n ride.Note) {
	tracks[0].Notes = append(slices.Clone(tracks[0].Notes), n)
}
