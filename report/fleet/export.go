package fleet

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"strings"

	"cogledger/analysis/fleet"
)

// Rows is where the rows to be written come from, each in the order of its key.
type Rows interface {
	Rides(ctx context.Context) iter.Seq2[*fleet.Ride, error]
	Habits(ctx context.Context) iter.Seq2[*fleet.Habit, error]
	Segments(ctx context.Context) iter.Seq2[*fleet.Segment, error]
}

// A Format is how rows are written.
type Format uint8

const (
	Parquet Format = iota // TABLE/month=2026-03/TABLE.parquet: partitions as query engines know them
	CSV                   // TABLE.csv
)

// tables are the names of what an export makes, and readme explains them.
func tables() []string { return []string{"rides", "habits", "segments"} }

const readme = "COLUMNS.md"

// Export writes the rows into a folder, which is made where there is none. The
// tables of an earlier export are replaced only when overwrite is set. A failed
// export leaves the folder as it was.
func Export(ctx context.Context, folder string, format Format, rows Rows, v Veil, overwrite bool) (err error) {
	if err := MayExport(folder, format, overwrite); err != nil {
		return err
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	work, err := os.MkdirTemp(folder, ".export-*")
	if err != nil {
		return fmt.Errorf("export: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(work)) }()
	if err := writeAll(ctx, work, format, rows, v); err != nil {
		return fmt.Errorf("export to %s: %w", folder, err)
	}
	if err := os.WriteFile(filepath.Join(work, readme), []byte(Columns()), 0o600); err != nil {
		return fmt.Errorf("export to %s: %w", folder, err)
	}
	for _, name := range made(format) {
		if err := os.RemoveAll(filepath.Join(folder, name)); err != nil {
			return fmt.Errorf("export to %s: %w", folder, err)
		}
		if err := os.Rename(filepath.Join(work, name), filepath.Join(folder, name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("export to %s: %w", folder, err)
		}
	}
	return nil
}

// made lists what an export puts into its folder.
func made(format Format) []string {
	names := []string{readme}
	for _, t := range tables() {
		if format == CSV {
			t += ".csv"
		}
		names = append(names, t)
	}
	return names
}

// MayExport reports whether an export may go into the folder: an earlier one is
// replaced only when overwrite is set, and what is no export never.
func MayExport(folder string, format Format, overwrite bool) error {
	for _, name := range made(format) {
		path := filepath.Join(folder, name)
		info, err := os.Lstat(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			continue
		case err != nil:
			return fmt.Errorf("export: %w", err)
		case name != readme && !overwrite:
			return fmt.Errorf("%s holds an export already; name another folder or add --force", folder)
		case name != readme && format == Parquet && !(info.IsDir() && holdsMonths(path)),
			name != readme && format == CSV && !(info.Mode().IsRegular() && begins(path, "content,part,")),
			name == readme && !(info.Mode().IsRegular() && begins(path, firstLine(Columns()))):
			return fmt.Errorf("%s is there and was not written by an export; name another folder", path)
		}
	}
	return nil
}

// holdsMonths reports whether a folder holds nothing but the months of an
// export, so that nobody's logs go with it.
func holdsMonths(folder string) bool {
	months, err := os.ReadDir(folder)
	if err != nil {
		return false
	}
	for _, m := range months {
		files, err := os.ReadDir(filepath.Join(folder, m.Name()))
		if err != nil || !strings.HasPrefix(m.Name(), "month=") {
			return false
		}
		for _, f := range files {
			if !f.Type().IsRegular() || filepath.Ext(f.Name()) != ".parquet" {
				return false
			}
		}
	}
	return true
}

func begins(path, with string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, len(with))
	_, err = io.ReadFull(f, head)
	return err == nil && string(head) == with
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}

func writeAll(ctx context.Context, folder string, format Format, rows Rows, v Veil) (err error) {
	sheets := newSheets(folder, format)
	defer func() { err = errors.Join(err, sheets.close()) }()
	rides := newSheet(sheets, "rides", fleet.RideColumns())
	habits := newSheet(sheets, "habits", fleet.HabitColumns())
	segments := newSheet(sheets, "segments", fleet.SegmentColumns())
	if err := errors.Join(rides.ready(), habits.ready(), segments.ready()); err != nil {
		return err
	}

	// The three run side by side in the order of their keys, so that habits and
	// segments find the month of their ride.
	nextHabit, stopHabits := iter.Pull2(rows.Habits(ctx))
	defer stopHabits()
	nextSegment, stopSegments := iter.Pull2(rows.Segments(ctx))
	defer stopSegments()
	habit, habitErr, moreHabits := nextHabit()
	segment, segmentErr, moreSegments := nextSegment()
	number := int64(0)
	for ride, err := range rows.Rides(ctx) {
		if err := errors.Join(err, habitErr, segmentErr); err != nil {
			return err
		}
		seen := v.ride(*ride)
		if err := rides.write(ride.Month, &seen); err != nil {
			return err
		}
		for moreHabits && habit.Content == ride.Content && habit.Part == ride.Part {
			h := v.habit(*habit)
			if err := habits.write(ride.Month, &h); err != nil {
				return err
			}
			if habit, habitErr, moreHabits = nextHabit(); habitErr != nil {
				return habitErr
			}
		}
		for moreSegments && segment.Content == ride.Content && segment.Part == ride.Part {
			if s, may := v.segment(*segment, number); may {
				number++
				if err := segments.write(ride.Month, &s); err != nil {
					return err
				}
			}
			if segment, segmentErr, moreSegments = nextSegment(); segmentErr != nil {
				return segmentErr
			}
		}
	}
	return errors.Join(habitErr, segmentErr)
}
