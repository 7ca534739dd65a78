package ledger_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/ledger"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// A wild ride is any log a device could write: its channels wander, stop, have
// holes and need not fit one another. The books must close on it all the same.
func wildRide(random *rand.Rand, p *bike.Profile, seconds int) (*ride.Ride, *gears.Inference) {
	r := ride.New(seconds)
	wander := func(low, high float64) []float64 {
		x := make([]float64, seconds)
		v := low + (high-low)*random.Float64()
		for i := range x {
			v = max(low, min(high, v+(high-low)*0.1*random.NormFloat64()))
			x[i] = v
			if random.IntN(50) == 0 {
				x[i] = math.NaN()
			}
		}
		return x
	}
	r.SetColumn(ride.Speed, wander(0, 11), nil, ride.WheelSensor)
	r.SetColumn(ride.CadenceRPM, wander(-20, 110), nil, ride.Device)
	for i, c := range r.Column(ride.CadenceRPM) {
		r.Column(ride.CadenceRPM)[i] = max(0, c)
	}
	if random.IntN(4) > 0 {
		r.SetColumn(ride.Altitude, wander(100, 130), nil, ride.Device)
	}
	if random.IntN(3) > 0 {
		r.SetColumn(ride.RiderPower, wander(0, 250), nil, ride.Device)
	}
	switch random.IntN(3) {
	case 0:
		r.SetColumn(ride.BatteryVolts, wander(42, 54), nil, ride.Device)
		r.SetColumn(ride.BatteryAmps, wander(-6, 20), nil, ride.Device)
	case 1:
		r.SetColumn(ride.MotorPower, wander(-10, 500), nil, ride.Device)
	}
	f := &gears.Inference{Circumference: p.Circumference()}
	for range seconds {
		g := random.IntN(len(p.Gears())+1) - 1
		f.Index, f.Best = append(f.Index, g), append(f.Best, g)
		f.Coupled, f.Probability = append(f.Coupled, random.Float64()), append(f.Probability, 1)
	}
	for i := range seconds {
		r.SetPaused(i, random.IntN(100) == 0)
	}
	return r, f
}

func anyBike(random *rand.Rand) *bike.Profile {
	p := bike.Example()
	switch random.IntN(3) {
	case 0:
		p.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 5}
	case 1:
		p.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 1}
		p.Motor.TorqueConstant = 1.2
	}
	return p
}

func TestBooksCloseOnAThousandWildRides(t *testing.T) {
	rides := 1000
	if testing.Short() {
		rides = 100
	}
	random := rand.New(rand.NewPCG(10, 20))
	untold, charged, dragged := 0, 0, 0
	for k := range rides {
		p := anyBike(random)
		r, f := wildRide(random, p, 200)
		rd := road.Load(r, p, road.Options{})
		d := drive.Run(r, p, f, rd, drive.Options{})
		b := ledger.Close(d, rd)
		if !b.Closed() {
			t.Fatalf("ride %d (%s, %v): residuals %g and %g Wh of\n%v\n%v", k, p.Drive.Kind, d.Knowledge, b.BatteryResidual, b.WheelResidual, b.Battery, b.Wheel)
		}
		for _, a := range append(b.Battery, b.Wheel...) {
			if math.IsNaN(a.Wh) || math.IsInf(a.Wh, 0) {
				t.Fatalf("ride %d: %v", k, a)
			}
			switch a.Name {
			case ledger.Untold:
				untold++
			case ledger.Charged:
				charged++
			case ledger.Dragged:
				dragged++
			}
		}
		wh, each := ledger.Lugging(d, drive.Alternatives(r, p, f, rd, d), p)
		for i, w := range each {
			if !(w >= 0) || w > 0 && d.Class[i] != drive.Lugging {
				t.Fatalf("ride %d: lugging loss %g W at %d s, %v", k, w, i, d.Class[i])
			}
		}
		if !(wh >= 0) {
			t.Fatalf("ride %d: lugging loss %g Wh", k, wh)
		}
	}
	if untold == 0 || charged == 0 || dragged == 0 {
		t.Errorf("the rides do not reach every account: %d untold, %d charged, %d dragged", untold, charged, dragged)
	}
}

// A fault in any one column must show: the check can fail.
func TestBooksShowAFaultInAnyColumn(t *testing.T) {
	p := bike.Example()
	r, f, rd, d := flatRide(p)
	if b := ledger.Close(d, rd); !b.Closed() {
		t.Fatalf("sound books do not close: %g, %g Wh", b.BatteryResidual, b.WheelResidual)
	}
	columns := func(rd *road.Series, d *drive.Series) []*[]float64 {
		return []*[]float64{
			&d.Amps, &d.OpenCircuit, &d.BatteryHeat, &d.Controller, &d.Copper, &d.Drag, &d.Reduction, &d.Chain, &d.Delivered,
			&rd.Air, &rd.Rolling, &rd.Bearings, &rd.Climbing, &rd.Inertia, &rd.Demand,
		}
	}
	for k := range columns(rd, d) {
		rd := road.Load(r, p, road.Options{})
		d := drive.Run(r, p, f, rd, drive.Options{})
		for i := range *columns(rd, d)[k] {
			(*columns(rd, d)[k])[i] += 3
		}
		if ledger.Close(d, rd).Closed() {
			t.Errorf("3 W too much in column %d go unseen", k)
		}
	}
}

// flatRide rides at a steady 5 m/s in the tallest gear, the motor lugging.
func flatRide(p *bike.Profile) (*ride.Ride, *gears.Inference, *road.Series, *drive.Series) {
	const seconds = 300
	r := ride.New(seconds)
	fill := func(c ride.Channel, x float64) {
		column := make([]float64, seconds)
		for i := range column {
			column[i] = x
		}
		r.SetColumn(c, column, nil, ride.WheelSensor)
	}
	tall := len(p.Gears()) - 1
	unit := drive.NewUnit(p)
	fill(ride.Speed, 5)
	fill(ride.CadenceRPM, math.Round(unit.CadenceRPM(5, p.Gears()[tall])))
	fill(ride.Altitude, 100)
	fill(ride.RiderPower, 70)
	fill(ride.BatteryVolts, 47)
	fill(ride.BatteryAmps, 6)
	f := &gears.Inference{Circumference: p.Circumference()}
	for range seconds {
		f.Index, f.Best = append(f.Index, tall), append(f.Best, tall)
		f.Coupled, f.Probability = append(f.Coupled, 1), append(f.Probability, 1)
	}
	rd := road.Load(r, p, road.Options{})
	return r, f, rd, drive.Run(r, p, f, rd, drive.Options{})
}

// Pack resistance by hand: cells of 18 mOhm, ten in series, four parallel make
// 45 mOhm; 10 A drop 0.45 V and heat with 4.5 W, 20 A with 18 W, four times as
// much (Ohm's and Joule's laws).
func TestBatteryHeatIsFourfoldAtTwiceTheCurrent(t *testing.T) {
	p := bike.Example()
	p.Battery.ResistanceOhm = 0.018 * 10 / 4
	unit := drive.NewUnit(p)
	if p.Battery.ResistanceOhm != 0.045 {
		t.Fatalf("pack of %g ohm", p.Battery.ResistanceOhm)
	}
	for amps, heat := range map[float64]float64{10: 4.5, 20: 18} {
		volts := 48 - amps*0.045
		pt := unit.AtTerminal(200, volts*amps, 25, 48)
		if math.Abs(pt.BatteryAmps-amps) > 1e-9 || math.Abs(pt.BatteryHeat-heat) > 1e-9 || math.Abs(48-pt.BatteryVolts-0.045*amps) > 1e-9 {
			t.Errorf("%g A: %+v", amps, pt)
		}
	}
	r, f, _, _ := flatRide(p)
	rd := road.Load(r, p, road.Options{})
	books := ledger.Close(drive.Run(r, p, f, rd, drive.Options{}), rd)
	if want := 6 * 6 * 0.045 * 300 / 3600; math.Abs(books.Battery[1].Wh-want) > 1e-9 {
		t.Errorf("booked %g Wh of battery heat, want %g", books.Battery[1].Wh, want)
	}
}

// The loss of a steady second worked out by hand: the tallest gear against the
// one in which the motor draws least.
func TestLuggingLossByHand(t *testing.T) {
	p := bike.Example()
	r, f, rd, d := flatRide(p)
	m := drive.Alternatives(r, p, f, rd, d)
	wh, each := ledger.Lugging(d, m, p)
	const at = 150
	if d.Class[at] != drive.Lugging {
		t.Fatalf("the tallest gear gives %v", d.Class[at])
	}
	unit := drive.NewUnit(p)
	wheel := d.Delivered[at] + d.Legs[at] - d.LegsChain[at]
	least := math.Inf(1)
	for _, g := range p.Gears() {
		if rpm := unit.CadenceRPM(5, g); rpm < unit.CadenceRPM(5, p.Gears()[f.Index[at]])-1e-9 || rpm > 100 {
			continue
		}
		pt := unit.AtWheel(g, 5, wheel, 70, d.Winding[at], d.OpenCircuit[at])
		if pt.Limit == drive.NoLimit {
			least = min(least, pt.Terminal+pt.BatteryHeat)
		}
	}
	want := 47*6 + 36*p.Battery.ResistanceOhm - least
	if !(want > 10) || math.Abs(each[at]-want) > 0.001 {
		t.Errorf("loss %g W, by hand %g W", each[at], want)
	}
	var total float64
	for _, w := range each {
		total += w / 3600
	}
	if math.Abs(total-wh) > 1e-9 {
		t.Errorf("seconds add up to %g Wh, the sum says %g", total, wh)
	}
}

func TestBasisOfTheAccounts(t *testing.T) {
	p := bike.Example()
	r, f, rd, d := flatRide(p)
	b := ledger.Close(d, rd)
	if b.Battery[0].Basis != doubt.Measured || b.Battery[3].Basis != doubt.Derived || b.Wheel[1].Basis != doubt.Measured {
		t.Errorf("logged: %v %v", b.Battery, b.Wheel)
	}
	modelled := drive.Run(r, p, f, rd, drive.Options{Least: drive.FromRoad})
	for _, a := range ledger.Close(modelled, rd).Battery {
		if a.Basis != doubt.Modelled {
			t.Errorf("without volts and amperes %s is %v", a.Name, a.Basis)
		}
	}
}

// Brakes take what is left over only where the bike slows harder than it would
// by itself.
func TestBrakes(t *testing.T) {
	p := bike.Example()
	const seconds = 120
	r := ride.New(seconds)
	speed, zero, flat := make([]float64, seconds), make([]float64, seconds), make([]float64, seconds)
	for i := range speed {
		speed[i] = 9
		if i > 60 {
			speed[i] = max(0, 9-1.5*float64(i-60))
		}
		flat[i] = 50
	}
	r.SetColumn(ride.Speed, speed, nil, ride.WheelSensor)
	r.SetColumn(ride.CadenceRPM, zero, nil, ride.Device)
	r.SetColumn(ride.Altitude, flat, nil, ride.Device)
	f := &gears.Inference{Circumference: p.Circumference(), Index: make([]int, seconds), Best: make([]int, seconds), Coupled: make([]float64, seconds)}
	rd := road.Load(r, p, road.Options{})
	b := ledger.Close(drive.Run(r, p, f, rd, drive.Options{}), rd)
	book := map[string]float64{}
	for _, a := range b.Wheel {
		book[a.Name] = a.Wh
	}
	// Half the mass times speed squared, less what air, tyres and bearings took.
	kinetic := rd.Mass / 2 * 81 / 3600
	want := kinetic
	for i := 61; i < seconds; i++ {
		if rd.Moving[i] {
			want -= (rd.Air[i] + rd.Rolling[i] + rd.Bearings[i]) / 3600
		}
	}
	// Smoothing spreads the first and the last second of braking.
	if got := book[ledger.Brakes]; math.Abs(got-want) > 0.18*want {
		t.Errorf("brakes took %g Wh, by hand %g Wh", got, want)
	}
	if math.Abs(book[ledger.Speed]+kinetic) > 0.002*kinetic {
		t.Errorf("speed gave back %g Wh of %g Wh", -book[ledger.Speed], kinetic)
	}
	if book[ledger.Unexplained] > 0 {
		t.Errorf("rolling on without a push is not a surplus: %v", b.Wheel)
	}
}

// Fuchs 2005, Human Power eJournal 09-02: assist rate 0.5 is an assist factor
// of 1, 0.6 one of 1.5.
func TestAssistFactor(t *testing.T) {
	for _, c := range []struct{ battery, legs, rate, factor float64 }{{40, 40, 0.5, 1}, {60, 40, 0.6, 1.5}} {
		b := ledger.Books{
			Battery: []ledger.Account{{Name: ledger.Store, Wh: c.battery}},
			Wheel:   []ledger.Account{{Name: ledger.FromMotor, Wh: 1}, {Name: ledger.FromLegs, Wh: c.legs}},
		}
		if math.Abs(b.AssistRate()-c.rate) > 1e-12 || math.Abs(b.AssistFactor()-c.factor) > 1e-12 {
			t.Errorf("rate %g, factor %g; want %g, %g", b.AssistRate(), b.AssistFactor(), c.rate, c.factor)
		}
	}
	alone := ledger.Books{
		Battery: []ledger.Account{{Name: ledger.Store, Wh: 40}},
		Wheel:   []ledger.Account{{Name: ledger.FromLegs, Wh: 0}},
	}
	if alone.AssistRate() != 1 || !math.IsNaN(alone.AssistFactor()) {
		t.Errorf("legs that give nothing: rate %g, factor %g", alone.AssistRate(), alone.AssistFactor())
	}
	if !math.IsNaN((ledger.Books{}).AssistRate()) {
		t.Error("empty books have an assist rate")
	}
}

// Indoors there is no road to book: the wheel's side is empty, not zero, and so
// is the battery's where it would have to come from the road.
func TestNoBooksWithoutData(t *testing.T) {
	p := bike.Example()
	const seconds = 100
	r := ride.New(seconds)
	fill := func(c ride.Channel, x float64) {
		column := make([]float64, seconds)
		for i := range column {
			column[i] = x
		}
		r.SetColumn(c, column, nil, ride.Device)
	}
	fill(ride.Speed, 7)
	fill(ride.CadenceRPM, 80)
	fill(ride.RiderPower, 150)
	f := &gears.Inference{Circumference: p.Circumference(), Index: make([]int, seconds), Best: make([]int, seconds), Coupled: make([]float64, seconds)}
	rd := road.Load(r, p, road.Options{})
	b := ledger.Close(drive.Run(r, p, f, rd, drive.Options{}), rd)
	if len(b.Battery) != 0 || len(b.Wheel) != 0 || b.UnbookedSeconds != seconds || b.UnbookedWheelSeconds != seconds || !b.Closed() {
		t.Errorf("%+v", b)
	}
	fill(ride.BatteryVolts, 48)
	fill(ride.BatteryAmps, 5)
	b = ledger.Close(drive.Run(r, p, f, rd, drive.Options{}), rd)
	if len(b.Battery) == 0 || len(b.Wheel) != 0 || b.UnbookedSeconds != 0 {
		t.Errorf("with volts and amperes: %+v", b)
	}
}
