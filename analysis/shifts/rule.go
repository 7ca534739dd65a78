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

// A Policy is a rule that needs no foresight: shift down when the legs fall
// below LowRPM, up when they rise above HighRPM.
type Policy struct{ LowRPM, HighRPM float64 }

// The cadences searched: those at which legs still like to turn. Between the two lies at least a wide step of cogs, or
// the rule would shift to and fro.
const (
	lowestRule, highestLow  = 60, 85  // rpm
	lowestHigh, highestRule = 85, 105 // rpm
	ruleStep                = 5       // rpm
	narrowestRule           = 20      // rpm
)

// Policies are all that are searched, in a fixed order.
func Policies() []Policy {
	var all []Policy
	for low := lowestRule; low <= highestLow; low += ruleStep {
		for high := max(lowestHigh, low+narrowestRule); high <= highestRule; high += ruleStep {
			all = append(all, Policy{float64(low), float64(high)})
		}
	}
	return all
}

// A Trial is what one policy would have done to a stretch of riding.
type Trial struct {
	SavedWh float64 // out of the battery's terminals, against the ride
	Worth   float64 // J, less what more shifts and worse legs are worth to the rider
}

// Trials are those of every policy, in the order of Policies, in each half of a
// ride.
type Trials [2][]Trial

// Whole is the ride's two halves together.
func (t Trials) Whole() []Trial {
	if t[0] == nil {
		return nil
	}
	return summed2(t[0], t[1])
}

func summed2(a, b []Trial) []Trial {
	sum := make([]Trial, len(a))
	for k := range a {
		sum[k] = Trial{a[k].SavedWh + b[k].SavedWh, a[k].Worth + b[k].Worth}
	}
	return sum
}

// reactionS is how long a rider takes from feeling the legs to the new gear; it
// also lies between one shift of the rule and the next. Common practice.
const reactionS = 1

// Try rides every policy second by second over the ride: same speed, same power
// at the wheel. The legs felt in one second move the gear after a second of
// reaction, where the drivetrain can shift (see Plan), as many cogs as bring the
// legs back and the cranks have turns for. Nothing ahead is looked at.
func Try(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix) Trials {
	var t Trials
	x := newTrier(r, p, inf, rd, d, m)
	if x.ridden == nil {
		return t
	}
	for _, policy := range Policies() {
		first, second := x.ride(policy)
		t[0], t[1] = append(t[0], first), append(t[1], second)
	}
	return t
}

func newTrier(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix) *trier {
	x := &trier{p: p, inf: inf, d: d, m: m, all: p.Gears(), ridden: bridged(inf.Index), known: make([]bool, r.Len())}
	x.weight, x.reach = shiftable(r, p, inf, rd, d, m)
	for s := range x.known {
		x.known[s] = Comparable(r, inf, d, m, s)
	}
	return x
}

// Follow is the gear in every second of a rider who keeps to a policy, nil where
// no gear of the ride is known; see Try.
func Follow(policy Policy, r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix) []int {
	x := newTrier(r, p, inf, rd, d, m)
	if x.ridden == nil {
		return nil
	}
	x.path = make([]int, r.Len())
	x.ride(policy)
	return x.path
}

type trier struct {
	p      *bike.Profile
	inf    *gears.Inference
	d      *drive.Series
	m      *drive.Matrix
	all    []bike.Gear
	ridden []int
	weight []float32
	reach  []uint8
	known  []bool
	path   []int // to note the gears in; nil for none
}

func (x *trier) ride(policy Policy) (first, second Trial) {
	gear, since := x.ridden[0], 0
	var half Trial
	for s := range x.known {
		if s == len(x.known)/2 {
			first, half = half, Trial{}
		}
		since++
		if s > 0 && x.ridden[s] != x.ridden[s-1] {
			half.Worth += x.p.Shifting.PriceJ * float64(x.moved(x.ridden[s-1], x.ridden[s]))
		}
		if felt := s - 1 - reactionS; felt >= 0 && since > reactionS && x.weight[s] <= math.MaxFloat32 && x.pushes(felt) {
			if to := x.answer(policy, gear, felt, s); to != gear {
				half.Worth -= x.p.Shifting.PriceJ * float64(x.weight[s]) * float64(x.moved(gear, to))
				gear, since = to, 0
			}
		}
		if x.path != nil {
			x.path[s] = gear
		}
		if x.known[s] && gear != x.inf.Index[s] {
			x.account(&half, s, gear)
		}
	}
	return first, half
}

// pushes reports whether the rider feels the legs in second s.
func (x *trier) pushes(s int) bool {
	return x.d.LegsClass[s] > drive.LegsStill || x.d.Class[s].Loaded()
}

// answer is the gear that the rule takes on what the legs did in second felt.
func (x *trier) answer(policy Policy, gear, felt, s int) int {
	reach := len(x.all)
	if x.reach != nil {
		reach = int(x.reach[s])
	}
	for range reach {
		rpm, next := x.m.CadenceRPM(felt, gear), -1
		switch {
		case rpm < policy.LowRPM:
			next = x.beside(gear, -1)
		case rpm > policy.HighRPM:
			next = x.beside(gear, 1)
		}
		if next < 0 {
			break
		}
		gear = next
	}
	return gear
}

// beside is the next easier (-1) or taller (1) gear: on the same ring, else the
// nearest on another; -1 where there is none.
func (x *trier) beside(gear, way int) int {
	if g := gear + way; g >= 0 && g < len(x.all) && x.all[g].Front == x.all[gear].Front {
		return g
	}
	best := -1
	for g := range x.all {
		if further := (x.all[g].Ratio - x.all[gear].Ratio) * float64(way); further > 0 && (best < 0 || further < (x.all[best].Ratio-x.all[gear].Ratio)*float64(way)) {
			best = g
		}
	}
	return best
}

// moved is how many shifts lie between two gears; in all but a derailleur one.
func (x *trier) moved(f, g int) int {
	if x.p.Shifter() != bike.Derailleur {
		return 1
	}
	cogs := len(x.p.Drivetrain.Cogs)
	return max(f%cogs-g%cogs, g%cogs-f%cogs, 1)
}

// account books one second in the rule's gear. Where that gear cannot hold the
// power nothing is claimed. Legs that it pleases better earn nothing.
func (x *trier) account(t *Trial, s, gear int) {
	was, would := x.m.At(s, x.inf.Index[s]), x.m.At(s, gear)
	saved := float64(x.m.Terminal[was]) - float64(x.m.Terminal[would])
	if saved != saved || x.m.Limits[would] != drive.NoLimit {
		return
	}
	t.SavedWh += saved / joulesPerWh
	t.Worth += saved
	if x.pushes(s) {
		t.Worth -= max(0, LegPrice(x.p, x.m.CadenceRPM(s, gear))-LegPrice(x.p, x.m.CadenceRPM(s, x.inf.Index[s])))
	}
}

// A Rule is the policy that serves a rider best and what it gives.
type Rule struct {
	Policy              // zero where no policy is worth more than riding as before
	Worth  bool         // a policy is
	Parts  int          // rides, or halves of one, that it was chosen on and valued on
	Halves bool         // of a single ride
	Saving doubt.Figure // Wh over all parts, each valued with the policy chosen on the others; NaN where that cannot be done
}

// z90 is the 95th percentile of the normal distribution: ends of a 90 % range.
const z90 = 1.645

// FindRule chooses among the policies tried on several stretches of riding. Its
// saving is cross-validated: every stretch is valued with the policy that did
// best on all the others, so that none profits from having been chosen on
// itself. The interval joins how the stretches differ with modelled, the relative
// half width of what the profile leaves in doubt.
func FindRule(parts [][]Trial, basis doubt.Basis, modelled float64) Rule {
	rule := Rule{Parts: len(parts), Saving: doubt.Figure{Value: nan, Low: nan, High: nan, Basis: basis}}
	if len(parts) == 0 || len(parts[0]) == 0 {
		return rule
	}
	total := make([]Trial, len(parts[0]))
	for _, part := range parts {
		total = summed2(total, part)
	}
	if k := best(total); k >= 0 {
		rule.Policy, rule.Worth = Policies()[k], true
	}
	if len(parts) < 2 {
		return rule
	}
	var sum, squares float64
	for _, part := range parts {
		others := make([]Trial, len(total))
		for k := range total {
			others[k] = Trial{total[k].SavedWh - part[k].SavedWh, total[k].Worth - part[k].Worth}
		}
		if k := best(others); k >= 0 {
			sum += part[k].SavedWh
			squares += part[k].SavedWh * part[k].SavedWh
		}
	}
	n := float64(len(parts))
	spread := z90 * math.Sqrt(max(0, squares-sum*sum/n)*n/(n-1))
	half := math.Hypot(spread, modelled*sum)
	rule.Saving.Value, rule.Saving.Low, rule.Saving.High = sum, sum-half, sum+half
	return rule
}

// best is the policy of most worth, -1 where none beats the ride.
func best(trials []Trial) int {
	at, most := -1, 0.0
	for k, t := range trials {
		if t.Worth > most && t.SavedWh > 0 {
			at, most = k, t.Worth
		}
	}
	return at
}
