package fleetrun

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// An entry is one line of the map: what tells a log, and whose it then is.
type entry struct {
	bike, profile, rider, group string

	file, folder, serial string    // empty: anything
	from, to             time.Time // zero: always; to is not in it
}

// mapColumns are the headers that a map may have.
func mapColumns() []string {
	return []string{"bike", "profile", "rider", "group", "file", "folder", "serial", "from", "to"}
}

// readMap reads the CSV map. Its delimiter may be a comma or a semicolon.
func (b *Bikes) readMap(name string) error {
	f, err := os.Open(name)
	if err != nil {
		return fmt.Errorf("fleet map: %w", err)
	}
	defer f.Close()
	lines := bufio.NewReader(f)
	first, err := lines.Peek(4096)
	if err != nil && !errors.Is(err, io.EOF) {
		return fmt.Errorf("fleet map %s: %w", name, err)
	}
	if len(first) >= 3 && string(first[:3]) == "\ufeff" {
		lines.Discard(3)
		first = first[3:]
	}
	r := csv.NewReader(lines)
	r.TrimLeadingSpace = true
	if head, _, _ := strings.Cut(string(first), "\n"); strings.Count(head, ";") > strings.Count(head, ",") {
		r.Comma = ';'
	}
	header, err := r.Read()
	if err != nil {
		return fmt.Errorf("fleet map %s: header: %w", name, err)
	}
	for i, h := range header {
		header[i] = strings.ToLower(strings.TrimSpace(h))
		if !slices.Contains(mapColumns(), header[i]) {
			return fmt.Errorf("fleet map %s: no column is called %q; there are %s", name, h, strings.Join(mapColumns(), ", "))
		}
	}
	if !slices.Contains(header, "bike") {
		return fmt.Errorf("fleet map %s: the column bike is missing; there are %s", name, strings.Join(mapColumns(), ", "))
	}
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("fleet map %s: %w", name, err)
		}
		line, _ := r.FieldPos(0)
		if err := b.add(header, record); err != nil {
			return fmt.Errorf("fleet map %s:%d: %w", name, line, err)
		}
	}
}

// add takes one line of the map in.
func (b *Bikes) add(header, record []string) error {
	var e entry
	var problems error
	for i, h := range header {
		v := strings.TrimSpace(record[i])
		switch h {
		case "bike":
			e.bike = v
		case "profile":
			e.profile = v
		case "rider":
			e.rider = v
		case "group":
			e.group = v
		case "file":
			e.file = strings.Trim(filepath.ToSlash(v), "/")
		case "folder":
			e.folder = strings.Trim(filepath.ToSlash(v), "/")
		case "serial":
			e.serial = v
		case "from":
			e.from = date(v, &problems)
		case "to":
			e.to = date(v, &problems)
		}
	}
	if problems != nil {
		return problems
	}
	if e.bike == "" {
		return errors.New("no bike is named")
	}
	if _, err := path.Match(e.file, ""); err != nil {
		return fmt.Errorf("file %q: %w", e.file, err)
	}
	if err := b.choose(&e); err != nil {
		return err
	}
	if e.file == "" && e.folder == "" && e.serial == "" {
		e.folder = e.bike // nothing but its name to find it by
	}
	i := len(b.entries)
	b.entries = append(b.entries, e)
	switch {
	case strings.ContainsAny(e.file, `*?[\`):
		b.patterns = append(b.patterns, i)
	case e.file != "":
		b.files[path.Base(e.file)] = append(b.files[path.Base(e.file)], i)
	case e.folder != "":
		b.folders[path.Base(e.folder)] = append(b.folders[path.Base(e.folder)], i)
	default:
		b.serials[e.serial] = append(b.serials[e.serial], i)
	}
	return nil
}

// choose finds the profile of an entry: the one it names, one called like the
// bike, or the default.
func (b *Bikes) choose(e *entry) error {
	if e.profile != "" {
		e.profile = strings.TrimSuffix(strings.TrimSuffix(e.profile, ".yaml"), ".yml")
		if _, known := b.profiles[e.profile]; !known {
			return fmt.Errorf("bike %s: there is no profile %s.yaml", e.bike, e.profile)
		}
		return nil
	}
	for _, name := range []string{e.bike, DefaultProfile} {
		if _, known := b.profiles[name]; known {
			e.profile = name
			return nil
		}
	}
	return fmt.Errorf("bike %s: no profile is named, and there is neither %s.yaml nor %s.yaml", e.bike, e.bike, DefaultProfile)
}

// date reads a day, or a moment with its zone.
func date(v string, problems *error) time.Time {
	if v == "" {
		return time.Time{}
	}
	for _, layout := range []string{time.DateOnly, time.RFC3339} {
		if t, err := time.Parse(layout, v); err == nil {
			return t
		}
	}
	*problems = errors.Join(*problems, fmt.Errorf("%q is no date; write 2026-03-31, or 2026-03-31T18:00:00+02:00", v))
	return time.Time{}
}

// fits tells how closely an entry names a log, 0 where it does not.
func (e entry) fits(logPath, serial string, start time.Time) int {
	if (!e.from.IsZero() || !e.to.IsZero()) && start.IsZero() ||
		!e.from.IsZero() && start.Before(e.from) || !e.to.IsZero() && !start.Before(e.to) ||
		e.serial != "" && e.serial != serial {
		return 0
	}
	score := 1
	if e.serial != "" {
		score += 1
	}
	if e.folder != "" {
		if !strings.Contains(path.Dir(logPath)+"/", "/"+e.folder+"/") {
			return 0
		}
		score += 10 + 10*strings.Count(e.folder, "/")
	}
	if e.file != "" {
		elements := strings.Split(logPath, "/")
		tail := strings.Join(elements[max(0, len(elements)-1-strings.Count(e.file, "/")):], "/")
		if matched, _ := path.Match(e.file, tail); !matched {
			return 0
		}
		score += 10000
	}
	if !e.from.IsZero() || !e.to.IsZero() {
		score += 5 // of two alike, the one with dates
	}
	return score
}
