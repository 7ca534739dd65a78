package drive

import (
	"math"

	"cogledger/analysis/bike"
)

// What a chain loses. Friction and pin radius: Lodge & Burgess, "A model of
// the tension and transmission efficiency of a bush roller chain", 2002. The
// drag of slack span and guide pulleys is a force of its own, so that light
// pulls are less efficient, as Spicer et al. 2001 (J. Mech. Design 123:598)
// measured. It is sized so that 52 on 21 teeth under 305 N, the best that they
// measured (teeth and tension from memory), give their 98.6 %. There is no cap
// at that value: it would make all gears alike in a strong pull, and hide what
// the larger cog of a lower gear saves. Their worst bounds light pulls.
const (
	PinFriction    = 0.09
	PinRadius      = 1.75968e-3 // m
	ChainPitch     = 12.7e-3    // m
	slackDrag      = 1.8        // N
	worstChain     = 0.81
	hubGearFactor  = 0.98 // common practice: a gear hub off its direct step costs about two points more
	directHubRatio = 1e-3 // a hub step this close to 1 turns as one block
)

// PinLoss is the power in W lost where the chain's pins bend under tension (N)
// on and off two sprockets, the first turning at speed (rad/s):
//
//	N1 w mu r (pi/2) T (1/N1 + 1/N2)
func PinLoss(teeth1, teeth2 int, speed, friction, pinRadius, tension float64) float64 {
	n1, n2 := float64(teeth1), float64(teeth2)
	return n1 * speed * friction * pinRadius * math.Pi / 2 * tension * (1/n1 + 1/n2)
}

// ChainEfficiency is the share of the chainring's power that reaches the wheel
// in gear g with the chain under tension (N): larger sprockets bend the chain
// less, and the slack span's drag weighs less in a strong pull. It is 0.81 at
// least; a gear hub takes its own part after that. loss is a factor on what a
// clean, oiled chain loses.
func ChainEfficiency(g bike.Gear, tension, loss float64) float64 {
	if tension <= 0 {
		return worstChain * hubEfficiency(g)
	}
	return max(1-loss*(pinShare(g)+slackDrag/tension), worstChain) * hubEfficiency(g)
}

// ChainTension in N of chainringW carried at a cadence in rpm on gear g's ring.
func ChainTension(g bike.Gear, chainringW, cadenceRPM float64) float64 {
	return chainringW / (float64(g.Front) * ChainPitch * cadenceRPM / 60)
}

// A chain is ChainEfficiency at one wheel speed, ready for many powers. With
// power P at the chain's speed v the tension is P/v, so its loss is linear in
// P and can be inverted without iteration.
type chain struct {
	pins float64 // share lost in the pins
	drag float64 // W lost in the slack span
	hub  float64 // efficiency of the gear hub
}

// chainFor prepares gear g; dragPerMPS is the slack span's loss in W for each m/s
// of the bike.
func chainFor(g bike.Gear, circumference, loss float64) (c chain, dragPerMPS float64) {
	teeth := float64(g.Front) * ChainPitch
	return chain{pins: loss * pinShare(g), hub: hubEfficiency(g)}, loss * slackDrag * teeth / (circumference * g.Ratio)
}

// out is the power at the wheel of inW at the chainring.
func (c chain) out(inW float64) float64 {
	return max(inW*(1-c.pins)-c.drag, worstChain*inW) * c.hub
}

// in is the power at the chainring that gives outW at the wheel: the inverse
// of out for powers above zero.
func (c chain) in(outW float64) float64 {
	outW /= c.hub
	return min((outW+c.drag)/(1-c.pins), outW/worstChain)
}

func pinShare(g bike.Gear) float64 {
	perTooth := PinLoss(1, 1, 2*math.Pi, PinFriction, PinRadius, 1) / 2 / ChainPitch
	return perTooth * (1/float64(g.Front) + 1/float64(g.Rear))
}

func hubEfficiency(g bike.Gear) float64 {
	if g.HubStep == 0 || math.Abs(g.Ratio*float64(g.Rear)/float64(g.Front)-1) < directHubRatio {
		return 1
	}
	return hubGearFactor
}

func clamp(x, low, high float64) float64 { return max(low, min(high, x)) }

// through is out for any power: what does not push takes no loss.
func (c chain) through(inW float64) float64 {
	if inW > 0 {
		return c.out(inW)
	}
	return inW
}
