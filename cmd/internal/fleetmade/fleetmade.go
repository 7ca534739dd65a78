// Package fleetmade makes the logs of a whole fleet by simulation, with things
// planted in it that a fleet report should find: batteries of twice the
// resistance, riders who lug, and ramps on which everybody shifts down late.
// It serves for trying out and for measuring; every log says that it is made.
package fleetmade

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"golang.org/x/sync/errgroup"

	"cogledger/analysis/bike"
	"cogledger/analysis/made"
	"cogledger/ingest/fitlog"
	"cogledger/ingest/ride"
)

// Options choose a fleet. The zero value is a small one.
type Options struct {
	Rides   int     // 100
	Bikes   int     // 20; as many riders, in four depots
	Seed    uint64  //
	Minutes float64 // length of a ride, about; 20
	Days    int     // over which the rides are spread; 60
	Aged    float64 // of every battery: 0.3 is 30 % more resistance than the profile knows

	Write func(path string, data []byte) error // puts a file, its folder made where there is none; nil overwrites what is there
}

func (o Options) orDefaults() Options {
	if o.Rides == 0 {
		o.Rides = 100
	}
	if o.Bikes == 0 {
		o.Bikes = 20
	}
	if o.Minutes == 0 {
		o.Minutes = 20
	}
	if o.Days == 0 {
		o.Days = 60
	}
	if o.Write == nil {
		o.Write = func(path string, data []byte) error {
			if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
				return err
			}
			return os.WriteFile(path, data, 0o600)
		}
	}
	return o
}

// Planted is what a fleet has in it to be found.
type Planted struct {
	WeakBatteries []string // bikes
	Luggers       []string // riders
	Ramps         []Ramp   // on which everybody shifts down late

	Resistance map[string]float64 // of each bike's battery, over the profile's
}

// A Ramp is where a planted ramp has its middle, in degrees.
type Ramp struct{ Lat, Lon float64 }

// ProfileFolder and LogFolder are what Write makes in its folder.
const (
	ProfileFolder = "bikes"
	LogFolder     = "rides"
)

const (
	depots        = 4
	weakBatteries = 3
	luggers       = 5
	weakBy        = 2.0 // times the resistance
)

// Write makes a fleet in a folder: bikes/default.yaml, bikes/fleet.csv and
// rides/BIKE/NNNNNN.fit. The same options make the same bytes.
func Write(ctx context.Context, folder string, o Options, progress func(done int)) (Planted, error) {
	o = o.orDefaults()
	w := newWorld(o)
	trips := w.trips()
	table, err := mapOf(trips)
	if err != nil {
		return Planted{}, err
	}
	if err := errors.Join(o.Write(profilePath(folder), bike.ExampleYAML()), o.Write(mapPath(folder), table)); err != nil {
		return Planted{}, err
	}
	made := make(chan struct{}, o.Rides)
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(runtime.GOMAXPROCS(0) + 1)
	g.Go(func() error {
		for n := range o.Rides {
			select {
			case <-made:
				progress(n + 1)
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	})
	for i := range trips {
		if ctx.Err() != nil {
			break
		}
		g.Go(func() error {
			defer func() { made <- struct{}{} }()
			return w.write(folder, &trips[i])
		})
	}
	return w.planted, g.Wait()
}

// Paths lists what Write would write.
func Paths(folder string, o Options) []string {
	w := newWorld(o.orDefaults())
	paths := []string{profilePath(folder), mapPath(folder)}
	for _, t := range w.trips() {
		paths = append(paths, t.path(folder))
	}
	return paths
}

// A world is the bikes, the riders and the road that all trips share.
type world struct {
	options Options
	road    *made.Course
	bikes   []*bike.Profile // as they are, which their profile need not know
	riders  []made.Rider
	planted Planted
}

func newWorld(o Options) *world {
	w := &world{options: o}
	p := bike.Example()
	var middles []float64
	w.road, middles = town()
	w.planted.Ramps = ramps(p, w.road, middles)
	draw := rand.New(rand.NewPCG(o.Seed, 81))
	aged := 1 + o.Aged
	weak, lugging := draw.Perm(o.Bikes), draw.Perm(o.Bikes)
	weak, lugging = weak[:min(weakBatteries, o.Bikes/5)], lugging[:min(luggers, o.Bikes/4)]
	for range o.Bikes {
		// No two packs are alike.
		w.bikes = append(w.bikes, p.Scaled("battery.resistance_ohm", aged*(0.92+0.16*draw.Float64())))
		r := made.Between(made.Lugger(), made.Shifter(), 0.8+0.2*draw.Float64())
		r.PowerW *= 0.9 + 0.2*draw.Float64()
		w.riders = append(w.riders, r)
	}
	for _, b := range weak {
		w.bikes[b] = p.Scaled("battery.resistance_ohm", aged*weakBy)
		w.planted.WeakBatteries = append(w.planted.WeakBatteries, bikeName(b))
	}
	w.planted.Resistance = make(map[string]float64)
	for b, as := range w.bikes {
		w.planted.Resistance[bikeName(b)] = as.Battery.ResistanceOhm / p.Battery.ResistanceOhm
	}
	for _, r := range lugging {
		w.riders[r] = made.Lugger()
		w.planted.Luggers = append(w.planted.Luggers, riderName(r))
	}
	return w
}

// town is a made road of some 14 km with two steep ramps, far from one another,
// on which whoever comes up shifts down too late. Their middles are in m along
// it.
func town() (road *made.Course, middles []float64) {
	draw := rand.New(rand.NewPCG(0x746f776e, 1))
	var legs []made.Leg
	along, level := 0.0, 0.0
	add := func(l made.Leg) {
		legs = append(legs, l)
		along, level = along+l.Length, level+l.Length*l.Grade
	}
	streets := func(metres float64) {
		for i, end := 0, along+metres; along < end; i++ {
			grade := 0.003 + 0.014*draw.Float64()
			if level > 8 || i%2 == 1 && level > 1 {
				grade = -grade
			}
			turn := 30 * (draw.Float64() - 0.5)
			if i%5 == 4 {
				turn *= 5
			}
			add(made.Leg{Length: 150 + 180*draw.Float64(), Grade: grade, Turn: turn, Light: i%3 == 0})
		}
	}
	ramp := func() {
		const length = 230
		middles = append(middles, along+length/2)
		add(made.Leg{Length: length, Grade: 0.085, Turn: 10, Late: true})
		add(made.Leg{Length: 120})
		add(made.Leg{Length: 780, Grade: -0.025}) // gentle, so that coming up it the other way is no third ramp
	}
	streets(3800)
	ramp()
	streets(4700)
	ramp()
	streets(3600)
	return made.NewCourse(legs), middles
}

// ramps finds where on the map the road is so many metres from its start, by
// riding it once.
func ramps(p *bike.Profile, road *made.Course, middles []float64) []Ramp {
	log := made.Simulate(p, made.Scenario{Course: road, Ideal: true}, made.Shifter(), 1).Tracks[0]
	var all []Ramp
	for _, m := range middles {
		for i, along := range log.Values[ride.Distance] {
			if along >= m {
				all = append(all, Ramp{log.Values[ride.Latitude][i], log.Values[ride.Longitude][i]})
				break
			}
		}
	}
	return all
}

// A trip is one ride to be made.
type trip struct {
	number, bike, rider, depot int
	from, to                   float64       // m of the road
	scenario                   made.Scenario // its course is cut when it is ridden: ten thousand would fill the memory
	seed                       uint64
}

func (w *world) trips() []trip {
	all := make([]trip, w.options.Rides)
	for i := range all {
		all[i] = w.trip(i)
	}
	return all
}

func (w *world) trip(i int) trip {
	o := w.options
	draw := rand.New(rand.NewPCG(o.Seed, 1000+uint64(i)))
	depot := draw.IntN(min(depots, o.Bikes))
	one := func() int { return depot + min(depots, o.Bikes)*draw.IntN((o.Bikes-depot-1)/min(depots, o.Bikes)+1) }
	t := trip{number: i, depot: depot, bike: one(), rider: one(), seed: draw.Uint64()}
	metres := min(o.Minutes*60*5.3, w.road.Length())
	from := draw.Float64() * (w.road.Length() - metres)
	to := from + metres
	if draw.IntN(2) == 0 {
		from, to = to, from
	}
	t.from, t.to = from, to
	day := time.Date(2026, 3, 2+draw.IntN(o.Days), 6, 0, 0, 0, time.UTC)
	t.scenario = made.Scenario{
		Name:    "errand (made)",
		Start:   day.Add(time.Duration(draw.IntN(12*3600)) * time.Second),
		WindMPS: 1 + 3*draw.Float64(), WindFrom: 360 * draw.Float64(),
		AirC: 4 + 15*draw.Float64(), Charge: 0.4 + 0.6*draw.Float64(), RedShare: 0.3 + 0.2*draw.Float64(),
		LateShifts: 2,
	}
	return t
}

func (w *world) write(folder string, t *trip) error {
	scenario := t.scenario
	scenario.Course = w.road.Stretch(t.from, t.to)
	r := made.Simulate(w.bikes[t.bike], scenario, w.riders[t.rider], t.seed)
	var log bytes.Buffer
	if err := fitlog.Write(&log, r.Tracks[0]); err != nil {
		return fmt.Errorf("made ride %d: %w", t.number, err)
	}
	return w.options.Write(t.path(folder), log.Bytes())
}

// mapOf tells of each log who rode which bike, as CSV.
func mapOf(trips []trip) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Write([]string{"bike", "rider", "group", "file"})
	for _, t := range trips {
		w.Write([]string{bikeName(t.bike), riderName(t.rider), depotName(t.depot), bikeName(t.bike) + "/" + t.file()})
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

func profilePath(folder string) string { return filepath.Join(folder, ProfileFolder, "default.yaml") }
func mapPath(folder string) string     { return filepath.Join(folder, ProfileFolder, "fleet.csv") }

func (t *trip) path(folder string) string {
	return filepath.Join(folder, LogFolder, bikeName(t.bike), t.file())
}

func (t *trip) file() string { return fmt.Sprintf("%06d.fit", t.number+1) }

func bikeName(i int) string  { return fmt.Sprintf("bike-%04d", i+1) }
func riderName(i int) string { return fmt.Sprintf("rider-%04d", i+1) }
func depotName(i int) string { return [depots]string{"north", "east", "south", "west"}[i] + " depot" }
