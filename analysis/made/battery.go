package made

import (
	"math"

	"cogledger/analysis/bike"
)

// A battery is a pack whose open-circuit voltage falls and whose resistance
// moves with its charge, and which takes half a minute to settle after a load.
type battery struct {
	nominal   float64 // V
	coulombs  float64 // of a full charge
	ohm       float64 // direct-current resistance at half charge, quick and slow part together
	charge    float64 // 0..1
	polarised float64 // V, the slow part of the drop
}

func newBattery(p *bike.Profile, charge float64) battery {
	b := p.Battery
	return battery{nominal: b.NominalV, coulombs: b.CapacityWh / b.NominalV * 3600, ohm: b.ResistanceOhm, charge: charge}
}

const (
	quickShare = 0.75 // of the resistance acts at once
	settleS    = 25   // time constant of the rest
)

// openCircuit is the voltage of the rested pack: the shape of a lithium-ion
// cell with a layered oxide, about 3.15 V to 4.18 V (common practice), scaled
// so that its middle is the nominal voltage.
func (b *battery) openCircuit() float64 {
	shape := [...]float64{0.855, 0.925, 0.948, 0.966, 0.981, 1, 1.02, 1.045, 1.072, 1.1, 1.133}
	at := min(max(b.charge, 0), 0.99999) * float64(len(shape)-1)
	i := int(at)
	return b.nominal * (shape[i] + (at-float64(i))*(shape[i+1]-shape[i]))
}

// resistance is all of it, quick and slow: it rises as the pack empties.
func (b *battery) resistance() float64 {
	return b.ohm * (1 + 0.12*max(0, b.charge-0.8)/0.2 + 0.7*max(0, 0.3-b.charge)/0.3)
}

// A draw is what one power at the terminals takes from the pack, and the state
// of the pack that it met.
type draw struct {
	amps, volts, open float64
	source, ohm       float64 // V and ohm of what answers at once
}

// stored is the power out of the cells.
func (d draw) stored() float64 { return d.open * d.amps }

// load is the draw of another power from the pack in the same state.
func (d draw) load(power float64) draw {
	root := d.source*d.source - 4*d.ohm*power
	d.amps = (d.source - math.Sqrt(max(root, 0))) / (2 * d.ohm)
	d.volts = d.source - d.ohm*d.amps
	return d
}

// mostPower is the terminal power at the given current limit, never past the
// point where more current brings less power.
func (b *battery) mostPower(ampLimit float64) float64 {
	source, r := b.openCircuit()-b.polarised, quickShare*b.resistance()
	amps := min(ampLimit, 0.95*source/(2*r))
	return (source - r*amps) * amps
}

// load solves the current for a power at the terminals. The power must not be
// above mostPower.
func (b *battery) load(power float64) draw {
	open := b.openCircuit()
	return draw{open: open, source: open - b.polarised, ohm: quickShare * b.resistance()}.load(power)
}

// take moves the pack on by dt with the current flowing.
func (b *battery) take(amps, dt float64) {
	b.polarised += dt / settleS * ((1-quickShare)*b.resistance()*amps - b.polarised)
	b.charge -= amps * dt / b.coulombs
}
