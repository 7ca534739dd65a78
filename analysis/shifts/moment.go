package shifts

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// A Moment is a stretch in which another gear would have served better.
type Moment struct {
	From, To         int     // seconds, [From, To)
	StartM           float64 // m from the start
	Lat, Lon         float64 // NaN where the log has no position
	Grade            float64 // mean, NaN where unknown
	GearFrom, GearTo int     // index into Gears; of the gears that changed on the way, the pair with the largest saving
	MotorRPMFrom     float64 // mean motor speed in those two gears, while loaded
	MotorRPMTo       float64
	CadenceFrom      float64 // rpm
	CadenceTo        float64
	Story            []Step       // the plan's gears in order, each as long as the plan holds it
	BeforeStop       bool         // the first of them is taken while the cranks still turn before a stand
	RiddenWh         float64      // out of the battery in the stretch, as ridden
	Saving           doubt.Figure // Wh out of the battery
	WindingDropK     float64      // how much cooler the winding would have been at the end of the stretch
	FromStand        bool         // the stretch begins with a start
	Worth            bool         // worth acting on; false: kept for the record only
	Advised          bool         // worth it, and among the few largest of its hour
	Place            string       // words to find it by: "km 3.2, climb of 5 %"
}

// A Step is one gear of a moment, held over [From, To).
type Step struct{ From, To, Gear int }

// How differences are gathered into stretches that a rider remembers.
const (
	bridgeS     = 5    // a gap this short does not end a stretch
	longS       = 60   // a stretch this long ends where the gears change
	shortestS   = 3    // a shorter stretch is no moment
	fromStandS  = 10   // a stretch that begins this soon after standing is part of a start
	trimmedPart = 0.01 // seconds at its ends that save less than this share of their power are left out
	trimmedRate = 0.3  // as are ends that save less than this share of what its mean second does
)

// Moments gathers the seconds in which plan and ride differ while motor or legs
// work, in order of time, and marks those worth telling; see Advise.
func Moments(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix, plan Plan) []Moment {
	w := weigher{r: r, p: p, inf: inf, rd: rd, d: d, m: m, plan: plan, unit: drive.NewUnit(p)}
	var found []Moment
	for from := 0; from < r.Len(); {
		if !w.differ(from) {
			from++
			continue
		}
		to := w.stretch(from)
		if x, ok := w.moment(from, to); ok {
			found = append(found, x)
		}
		from = to
	}
	moving := 0
	for _, m := range rd.Moving {
		if m {
			moving++
		}
	}
	Advise(found, p, moving)
	return found
}

type weigher struct {
	r    *ride.Ride
	p    *bike.Profile
	inf  *gears.Inference
	rd   *road.Series
	d    *drive.Series
	m    *drive.Matrix
	plan Plan
	unit drive.Unit

	tolerances []bike.Tolerance // of the profile, once asked for
}

func (w *weigher) differ(s int) bool {
	return w.plan.Gear[s] >= 0 && w.plan.Gear[s] != w.inf.Index[s] && (w.d.Class[s] >= drive.Resting || w.d.LegsClass[s] > drive.LegsStill)
}

// stretch is the second after the stretch that begins at from: it bridges
// short gaps, ends when the bike stands, and when it is long ends where a gear
// changes, in the ride or in the plan.
func (w *weigher) stretch(from int) int {
	last := from // last differing second
	for s := from + 1; s < w.r.Len(); s++ {
		if s-last > bridgeS || w.r.Paused(s) || !w.rd.Moving[s] {
			break
		}
		if !w.differ(s) {
			continue
		}
		if s-from >= longS && (w.plan.Gear[s] != w.plan.Gear[last] || w.inf.Index[s] != w.inf.Index[last]) {
			break
		}
		last = s
	}
	return last + 1
}

// saved is what the plan saves in second s, W out of the battery.
func (w *weigher) saved(s int) float64 {
	if !w.differ(s) {
		return 0
	}
	v := float64(w.m.Terminal[w.m.At(s, w.inf.Index[s])]) - float64(w.m.Terminal[w.m.At(s, w.plan.Gear[s])])
	if math.IsNaN(v) {
		return 0
	}
	return v
}

// core is the part of a stretch that is worth the telling: where the plan saves,
// its ends that save little or cost something are left out. A rider who changes
// gear only there has exactly what it saves. All of the stretch, where it saves
// nothing.
func (w *weigher) core(from, to int) (int, int) {
	usual := 0.0 // W
	for s := from; s < to; s++ {
		usual += w.saved(s) / float64(to-from)
	}
	if !(usual > 0) {
		return from, to
	}
	begin, most, sum, start := from, 0.0, 0.0, from
	end := to
	for s := from; s < to; s++ {
		if sum <= 0 {
			sum, start = 0, s
		}
		sum += w.saved(s) - trimmedRate*usual
		if sum > most {
			most, begin, end = sum, start, s+1
		}
	}
	return begin, end
}

func (w *weigher) moment(from, to int) (Moment, bool) {
	from, to = w.core(from, to)
	idle := func(s int) bool {
		return !w.differ(s) || math.Abs(w.saved(s)) <= trimmedPart*math.Abs(w.d.Terminal[s])
	}
	for from < to && idle(from) {
		from++
	}
	for to > from && idle(to-1) {
		to--
	}
	if to-from < shortestS {
		return Moment{}, false
	}
	x := Moment{From: from, To: to, StartM: w.rd.Distance[from], Lat: w.r.At(ride.Latitude, from), Lon: w.r.At(ride.Longitude, from)}
	var grade mean
	var best pairs
	for s := from; s < to; s++ {
		x.Saving.Value += w.saved(s) / joulesPerWh
		grade.add(w.rd.Grade[s])
		if t := w.d.Terminal[s]; t == t { // known
			x.RiddenWh += t / joulesPerWh
		}
		if w.differ(s) {
			best.add(w.inf.Index[s], w.plan.Gear[s], w.saved(s))
		}
	}
	x.Saving.Low, x.Saving.High = x.Saving.Value, x.Saving.Value
	x.Saving.Basis = w.plan.Saving.Basis
	x.Grade = grade.value()
	x.GearFrom, x.GearTo = best.largest()
	x.FromStand = stoodWithin(w.r, w.rd, from, fromStandS)
	w.tell(&x)
	w.compare(&x)
	x.WindingDropK = w.windingDrop(from, to)
	x.Place = placeWords(x.StartM, x.Grade, x.FromStand)
	return x, true
}

// tell notes the plan's gears over a moment, and whether the first was taken
// before the stand that the moment begins at.
func (w *weigher) tell(x *Moment) {
	for s := x.From; s < x.To; s++ {
		g := w.plan.Gear[s]
		if g < 0 {
			continue
		}
		if n := len(x.Story); n > 0 && x.Story[n-1].Gear == g {
			x.Story[n-1].To = s + 1
			continue
		}
		x.Story = append(x.Story, Step{s, s + 1, g})
	}
	if !x.FromStand || len(x.Story) == 0 {
		return
	}
	for s, stood := x.From-1, false; s >= 0; s-- {
		stood = stood || w.r.Paused(s) || !w.rd.Moving[s]
		if g := w.plan.Gear[s]; g >= 0 {
			x.BeforeStop = stood && g == x.Story[0].Gear && g != w.inf.Index[s]
			return
		}
	}
}

// compare means motor speed and cadence over the seconds of the moment's two
// gears.
func (w *weigher) compare(x *Moment) {
	var rpmFrom, rpmTo, cadenceFrom, cadenceTo mean
	for s := x.From; s < x.To; s++ {
		if w.inf.Index[s] != x.GearFrom || w.plan.Gear[s] != x.GearTo || !w.differ(s) {
			continue
		}
		if w.d.Class[s].Loaded() {
			rpmFrom.add(w.m.MotorSpeed(s, x.GearFrom) * rpmPerRadS)
			rpmTo.add(w.m.MotorSpeed(s, x.GearTo) * rpmPerRadS)
		}
		cadenceFrom.add(w.m.CadenceRPM(s, x.GearFrom))
		cadenceTo.add(w.m.CadenceRPM(s, x.GearTo))
	}
	x.MotorRPMFrom, x.MotorRPMTo = rpmFrom.value(), rpmTo.value()
	x.CadenceFrom, x.CadenceTo = cadenceFrom.value(), cadenceTo.value()
}

const rpmPerRadS = 30 / math.Pi

// windingDrop is how much cooler the winding would be at the end of [from, to)
// had the plan been ridden in it. Temperatures answer linearly to heat, so the
// saved heat alone, in a motor at the air's temperature, gives the difference.
func (w *weigher) windingDrop(from, to int) float64 {
	nodes := drive.NewNodes(w.p.Thermal, 1)
	var winding, housing float64
	for s := from; s < to; s++ {
		copper, core := 0.0, 0.0
		if w.differ(s) && w.d.Class[s].Loaded() {
			was, would := w.point(s, w.inf.Index[s]), w.point(s, w.plan.Gear[s])
			copper, core = was.Copper-would.Copper, was.Drag-would.Drag
		}
		winding, housing = nodes.Step(winding, housing, copper, core, 0)
	}
	return winding
}

// point is the drive in second s in gear g.
func (w *weigher) point(s, g int) drive.Point {
	terminal := float64(w.m.Terminal[w.m.At(s, g)])
	windingC := w.d.Winding[s]
	if math.IsNaN(windingC) {
		windingC = drive.ReferenceC
	}
	if math.IsNaN(terminal) {
		return drive.Point{}
	}
	return w.unit.AtTerminal(w.m.MotorSpeed(s, g), terminal, windingC, w.unit.OpenCircuitV)
}

// stoodWithin reports whether the bike stood, or the log paused, at most within
// seconds before s.
func stoodWithin(r *ride.Ride, rd *road.Series, s, within int) bool {
	for u := s; u >= 0 && u >= s-within; u-- {
		if r.Paused(u) || !rd.Moving[u] {
			return true
		}
	}
	return s < within
}

// A mean of the values that are known.
type mean struct {
	sum float64
	n   int
}

func (m *mean) add(v float64) {
	if !math.IsNaN(v) {
		m.sum += v
		m.n++
	}
}

// value is NaN of nothing.
func (m *mean) value() float64 { return m.sum / float64(m.n) }

// pairs sums the saving of each pair of gears in one stretch; there are few.
type pairs []struct {
	from, to int
	seconds  int
	saved    float64
}

func (l *pairs) add(from, to int, saved float64) {
	for i := range *l {
		if e := &(*l)[i]; e.from == from && e.to == to {
			e.seconds++
			e.saved += saved
			return
		}
	}
	*l = append(*l, struct {
		from, to int
		seconds  int
		saved    float64
	}{from, to, 1, saved})
}

// largest is the pair that saves most.
func (l pairs) largest() (from, to int) {
	best := 0
	for i := range l {
		if l[i].saved > l[best].saved {
			best = i
		}
	}
	return l[best].from, l[best].to
}
