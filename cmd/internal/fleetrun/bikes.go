package fleetrun

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"cogledger/analysis/bike"
	"cogledger/analysis/fleet"
)

// DefaultProfile is the name of the profile for bikes without one of their own.
const DefaultProfile = "default"

// MapFile is the name of the map that a folder of profiles may hold.
const MapFile = "fleet.csv"

// A Profile is a bike profile with the hash of its values. Comments, order,
// name and how a value was written do not count.
type Profile struct {
	*bike.Profile
	Hash string
}

// Bikes knows whose a log is.
type Bikes struct {
	profiles map[string]Profile // by file name without its end
	entries  []entry
	serials  map[string][]int // entries by serial
	folders  map[string][]int // by the last element of their folder
	files    map[string][]int // by the last element of their file, where it is no pattern
	patterns []int            // the others that name files
}

// ReadBikes reads every profile in a folder, and the map: mapPath, or fleet.csv
// in the folder where there is one.
func ReadBikes(folder, mapPath string) (*Bikes, error) {
	b := &Bikes{profiles: make(map[string]Profile), serials: make(map[string][]int), folders: make(map[string][]int), files: make(map[string][]int)}
	if err := b.readProfiles(folder); err != nil {
		return nil, err
	}
	if mapPath == "" {
		if usual := filepath.Join(folder, MapFile); exists(usual) {
			mapPath = usual
		}
	}
	if mapPath != "" {
		if err := b.readMap(mapPath); err != nil {
			return nil, err
		}
	}
	return b, nil
}

func (b *Bikes) readProfiles(folder string) error {
	list, err := os.ReadDir(folder)
	if err != nil {
		return fmt.Errorf("bike profiles: %w", err)
	}
	parsed := make(map[string]Profile) // by the file's bytes: fleets have many copies of one profile
	var problems error
	for _, entry := range list {
		name, isProfile := profileName(entry.Name())
		if !isProfile || entry.IsDir() {
			continue
		}
		data, err := readLimited(filepath.Join(folder, entry.Name()), bike.MaxBytes)
		if err != nil {
			problems = errors.Join(problems, err)
			continue
		}
		p, known := parsed[string(data)]
		if !known {
			read, err := bike.Parse(data, entry.Name())
			if err != nil {
				problems = errors.Join(problems, err)
				continue
			}
			if p, err = hashed(read); err != nil {
				return err
			}
			parsed[string(data)] = p
		}
		b.profiles[name] = p
	}
	if problems != nil {
		return fmt.Errorf("bike profiles in %s:\n%w", folder, problems)
	}
	if len(b.profiles) == 0 {
		return fmt.Errorf("%s holds no bike profile; write one for each bike, or one called %s.yaml for all of them: `cogledger bike new > %s`", folder, DefaultProfile, filepath.Join(folder, DefaultProfile+".yaml"))
	}
	return nil
}

func profileName(file string) (string, bool) {
	for _, end := range []string{".yaml", ".yml"} {
		if name, found := strings.CutSuffix(file, end); found && !strings.HasPrefix(name, ".") {
			return name, true
		}
	}
	return "", false
}

// hashed adds the hash of what the analysis reads of a profile.
func hashed(p *bike.Profile) (Profile, error) {
	values := *p
	values.Name, values.Origins.Default = "", nil // Defaulted says what is left of them
	data, err := json.Marshal(values)
	if err != nil {
		return Profile{}, fmt.Errorf("%s: %w", p.Name, err)
	}
	sum := sha256.Sum256(data)
	return Profile{p, hex.EncodeToString(sum[:8])}, nil
}

// An Owner is whose a log is, with the profile of the bike.
type Owner struct {
	fleet.Assignment
	Profile *bike.Profile
}

// Of tells whose a log is from its path, its device's serial number and its
// start. In this order the first that fits counts:
//
//  1. an entry of the map that names the file;
//  2. one that names a folder above it, the longest first;
//  3. one that names the device's serial number;
//  4. the nearest folder above it, or zip, that is called like a bike of the
//     map or like a profile;
//  5. where there is a default profile, the folder it lies in, but for folders
//     called like a year, a month or a day.
//
// All that an entry says must hold, its dates too.
func (b *Bikes) Of(logPath, serial string, start time.Time) (Owner, bool) {
	logPath = strings.ReplaceAll(logPath, ".zip/", "/") // a zip counts as a folder
	best, score := -1, 0
	try := func(indices []int) {
		for _, i := range indices {
			if s := b.entries[i].fits(logPath, serial, start); s > score || s == score && s > 0 && i < best {
				best, score = i, s
			}
		}
	}
	try(b.patterns)
	try(b.files[path.Base(logPath)])
	folders := strings.Split(path.Dir(logPath), "/")
	for _, f := range folders {
		try(b.folders[f])
	}
	try(b.serials[serial])
	if best >= 0 {
		return b.owner(b.entries[best]), true
	}
	for _, f := range slices.Backward(folders) {
		if p, known := b.profiles[f]; known && f != DefaultProfile {
			return Owner{fleet.Assignment{Bike: f, Profile: p.Hash}, p.Profile}, true
		}
	}
	if p, known := b.profiles[DefaultProfile]; known {
		name := folders[len(folders)-1]
		for _, f := range slices.Backward(folders) {
			if !isDate(f) {
				name = f
				break
			}
		}
		return Owner{fleet.Assignment{Bike: name, Profile: p.Hash}, p.Profile}, true
	}
	return Owner{}, false
}

func (b *Bikes) owner(e entry) Owner {
	p := b.profiles[e.profile]
	return Owner{fleet.Assignment{Bike: e.bike, Rider: e.rider, Group: e.group, Profile: p.Hash}, p.Profile}
}

// isDate reports whether a folder is called like 2026, 2026-03, 20260331 or 07.
func isDate(folder string) bool {
	return folder != "" && strings.Trim(folder, "0123456789-_.") == ""
}

func exists(name string) bool {
	_, err := os.Stat(name)
	return err == nil
}

func readLimited(name string, limit int64) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, limit+1))
}
