package sqlite

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store/storetest"
)

// Of five riders of a fleet of 600 logs no byte is left in any file of the
// store's folder: no name, path, hash or position. The rows of all others stay.
func TestForgottenBytesAreGone(t *testing.T) {
	const riders, forgotten = 40, 5
	name := func(i int) string { return fmt.Sprintf("Rider-Nr-%02d-Quux", i) }
	outcomes := storetest.Drawn(31, 600)
	for i := range outcomes {
		o := &outcomes[i]
		o.Log.Rider = name(i % riders)
		o.Log.Path = fmt.Sprintf("depot/%s/%04d.fit", o.Log.Rider, i)
		o.Log.Content = fmt.Sprintf("hash-%02d-%056x", i%riders, i)
		for k := range o.Rides {
			o.Rides[k].Rider, o.Rides[k].Path, o.Rides[k].Content = o.Log.Rider, o.Log.Path, o.Log.Content
		}
		for k := range o.Habits {
			o.Habits[k].Content = o.Log.Content
		}
		for k := range o.Segments {
			o.Segments[k].Content = o.Log.Content
			o.Segments[k].Lat, o.Segments[k].Lon = 50+float64(i)/1000+float64(k)/1e5, 7+float64(i)/1000+float64(k)/1e5
		}
	}
	folder := t.TempDir()
	open := func() *Store {
		s, err := Open(context.Background(), filepath.Join(folder, "fleet.sqlite"))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := open()
	for i := 0; i < len(outcomes); i += 50 { // as a run does, with rows moving between pages
		if err := s.Put(context.Background(), outcomes[i:i+50]); err != nil {
			t.Fatal(err)
		}
	}
	var left []fleet.Outcome
	var secrets [][]byte
	for i, o := range outcomes {
		if i%riders >= forgotten {
			left = append(left, o)
			continue
		}
		secrets = append(secrets, []byte(o.Log.Path), []byte(o.Log.Content))
		for _, x := range o.Segments {
			secrets = append(secrets, position(x.Lat), position(x.Lon))
		}
	}
	if found := holding(t, folder, secrets); found < len(secrets)/2 {
		t.Fatalf("only %d of %d secrets are found before: the search is blind", found, len(secrets))
	}
	for i := range forgotten {
		secrets = append(secrets, []byte(name(i)))
		if _, err := s.Forget(context.Background(), name(i)); err != nil {
			t.Fatal(err)
		}
	}
	if found := holding(t, folder, secrets); found > 0 {
		t.Errorf("%d of %d secrets are left while the store is open", found, len(secrets))
	}
	if d := storetest.Diff(storetest.Expected(left), storetest.Read(t, s)); d != "" {
		t.Errorf("other riders' rows differ (-want +got):\n%s", d)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if found := holding(t, folder, secrets); found > 0 {
		t.Errorf("%d of %d secrets are left after the end", found, len(secrets))
	}
}

// position is a number as SQLite's record format writes it: IEEE 754, big-endian
// (sqlite.org/fileformat2.html, section 2.1).
func position(v float64) []byte { return binary.BigEndian.AppendUint64(nil, math.Float64bits(v)) }

// holding counts the secrets in the bytes of all files of a folder.
func holding(t *testing.T, folder string, secrets [][]byte) int {
	t.Helper()
	files, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	var all []byte
	for _, f := range files {
		data, err := os.ReadFile(filepath.Join(folder, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, data...)
	}
	found := 0
	for _, s := range secrets {
		if bytes.Contains(all, s) {
			found++
		}
	}
	return found
}

// A new store and the files beside it are for their owner alone.
func TestNewStoreIsPrivate(t *testing.T) {
	folder := t.TempDir()
	s, err := Open(context.Background(), filepath.Join(folder, "fleet.sqlite"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Put(context.Background(), storetest.Drawn(1, 5)); err != nil {
		t.Fatal(err)
	}
	files, err := os.ReadDir(folder)
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	for _, f := range files {
		if info, err := f.Info(); err != nil || info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: %v, %v", f.Name(), info.Mode(), err)
		}
	}
}
