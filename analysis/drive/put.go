package drive

import "math"

// size makes room for n seconds, each to be put or left blank, in the memory that
// is there where it is enough.
func (s *Series) size(n int) {
	*s = Series{room: s.room, bands: s.bands, Class: make([]Class, n), LegsClass: make([]LegsClass, n), Limits: make([]Limit, n)}
	columns := s.columns()
	s.room = room(s.room, n*len(columns))
	for k, c := range columns {
		*c = s.room[k*n : (k+1)*n : (k+1)*n]
	}
}

func (s *Series) columns() []*[]float64 {
	return []*[]float64{
		&s.MotorSpeed, &s.MotorAmps, &s.Shaft, &s.Volts, &s.Amps, &s.Terminal, &s.Efficiency,
		&s.OpenCircuit, &s.BatteryHeat, &s.Controller, &s.Copper, &s.Drag, &s.Reduction, &s.Chain, &s.Delivered,
		&s.Legs, &s.LegsChain, &s.BandLow, &s.BandBest, &s.BandHigh, &s.Winding, &s.Housing, &s.pull, &s.pullOut,
	}
}

// blank leaves second i unknown: a pause.
func (x *run) blank(i int) {
	for _, c := range x.s.columns() {
		(*c)[i] = math.NaN()
	}
}

// put books the solved second.
func (x *run) put(i int, q *second, pt *Point, known bool, windingC, housingC float64) {
	s := x.s
	s.MotorSpeed[i], s.MotorAmps[i], s.Shaft[i] = pt.Speed, pt.Amps, pt.Shaft
	if !known || x.logged(i) || !x.unit.Clutch {
		s.MotorSpeed[i] = q.motorSpeed
	}
	s.Volts[i], s.Amps[i], s.Terminal[i] = pt.BatteryVolts, pt.BatteryAmps, pt.Terminal
	s.OpenCircuit[i], s.BatteryHeat[i] = q.openCircuit, pt.BatteryHeat
	s.Controller[i], s.Copper[i], s.Drag[i] = pt.Controller, pt.Copper, pt.Drag
	s.Winding[i], s.Housing[i], s.Limits[i] = windingC, housingC, pt.Limit

	out := pt.Shaft * x.unit.Reduction
	if pt.Shaft < 0 { // braking: power comes the other way
		out = pt.Shaft / x.unit.Reduction
	}
	s.Reduction[i] = pt.Shaft - out
	motorLoss, legsLoss := x.chainLoss(q, out)
	s.Chain[i], s.Delivered[i] = motorLoss, out-motorLoss
	s.pull[i], s.pullOut[i] = q.pull, q.pull-legsLoss
	s.Legs[i], s.LegsChain[i] = q.legs, legsLoss
	if math.IsNaN(q.legs) {
		s.LegsChain[i] = math.NaN()
	}

	s.Efficiency[i], s.BandLow[i], s.BandBest[i], s.BandHigh[i] = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	if pt.Shaft >= loadedW {
		s.Efficiency[i] = pt.Efficiency()
		s.BandLow[i], s.BandBest[i], s.BandHigh[i] = x.bands.At(pt.Shaft, windingC)
	}
	s.Class[i] = x.class(i, q, pt)
	s.LegsClass[i] = x.legsClass(q)
}

// chainLoss shares the chain's loss by the power that each sends through it. A
// hub motor sends none, and neither does a motor that brakes.
func (x *run) chainLoss(q *second, motorOut float64) (motor, legs float64) {
	pull := max(0, q.pull)
	if x.unit.hub || !(motorOut > 0) {
		return 0 * motorOut, pull - q.chain.through(pull)
	}
	in := motorOut + pull
	share := (in - q.chain.out(in)) / in
	return share * motorOut, share * pull
}

func (x *run) class(i int, q *second, pt *Point) Class {
	switch {
	case math.IsNaN(q.speed):
		return Unclassed
	case !x.rolls(i) && !x.pushesOff(q, pt):
		return Stopped
	case math.IsNaN(pt.Shaft):
		return Unclassed
	case pt.Shaft < loadedW && x.pushesOff(q, pt): // all heat as yet
		return Lugging
	case pt.Shaft < loadedW:
		pedalling, known := q.pedalling()
		switch {
		case !known:
			return Unclassed
		case pedalling:
			return Resting
		}
		return Coasting
	case pt.Speed > x.s.BandHigh[i] || pt.Limit == VoltageLimit:
		return SpinningOut
	case pt.Speed < x.s.BandLow[i]:
		return Lugging
	}
	return InBand
}

// pushesOff reports whether the motor works, with the cranks turning, on a bike
// that has moved for part of the second only: a start in a tall gear loses most
// in its first second.
func (x *run) pushesOff(q *second, pt *Point) bool {
	turns, _ := q.pedalling()
	return turns && q.speed > 0 && q.speed < rollingMPS && pt.Speed > 0 && pt.Shaft > 0 && pt.Terminal >= x.unit.Fixed+loadedW
}

// rolls reports whether the bike moves. A logged speed that trails the crank
// still stands when the motor already pushes it off.
func (x *run) rolls(i int) bool {
	return x.rd.Moving[i] || ahead(x.rd.Speed, i, x.inf.LagSeconds) >= rollingMPS
}

func (x *run) legsClass(q *second) LegsClass {
	switch {
	case math.IsNaN(q.cadence):
		return LegsUnknown
	case q.cadence < turning:
		return LegsStill
	case q.cadence > x.band[1]:
		return LegsSpinning
	case q.cadence >= x.band[0]:
		return LegsInBand
	case q.pull < loadedW:
		return LegsStill
	}
	return LegsLugging
}
