package drive

import (
	"math"
	"testing"

	"cogledger/analysis/bike"
)

// Lodge & Burgess form of the loss in a chain's pins, worked example: 48/24
// teeth, 80 rpm, friction 0.09, pin radius 1.75968 mm, 300 N -> 1.8756733 W.
func TestPinLossOfAWorkedExample(t *testing.T) {
	near(t, "pin loss", PinLoss(48, 24, 80*rpm, 0.09, 1.75968e-3, 300), 1.8756733, 1e-6)
	// The efficiency counts the same loss as a share of tension times chain speed.
	power := 300 * 48 * ChainPitch * 80 / 60
	near(t, "as a share", pinShare(bike.Gear{Front: 48, Rear: 24, Ratio: 2}), 1.8756733/power, 1e-8)
}

// Spicer et al. 2001, J. Mech. Design 123(4):598-605, university release: best
// 98.6 %, worst 81 %; larger sprockets and stronger pulls are better. (Measured
// on 52 and 11 to 21 teeth, up to 305 N: memory.)
func TestChainEfficiencyKeepsWithinTheMeasured(t *testing.T) {
	small := bike.Gear{Front: 52, Rear: 11, Ratio: 52. / 11}
	large := bike.Gear{Front: 52, Rear: 21, Ratio: 52. / 21}
	near(t, "the best measured", ChainEfficiency(large, 305, 1), 0.986, 0.001)
	for _, tension := range []float64{0, 1e-3, 5, 20, 76, 305} {
		for _, g := range []bike.Gear{small, large} {
			eta := ChainEfficiency(g, tension, 1)
			if eta < 0.81 || eta > 0.987 {
				t.Errorf("%v at %g N: %g", g, tension, eta)
			}
		}
		if tension > 20 && ChainEfficiency(large, tension, 1) <= ChainEfficiency(small, tension, 1) {
			t.Errorf("at %g N larger sprockets are not better", tension)
		}
	}
	if ChainEfficiency(small, 76, 1) >= ChainEfficiency(small, 305, 1) {
		t.Error("a stronger pull is not more efficient")
	}
	near(t, "tension", ChainTension(small, 200, 80), 200/(52*0.0127*80/60), 1e-9)
}

func TestChainInverts(t *testing.T) {
	for _, g := range []bike.Gear{{Front: 38, Rear: 11, Ratio: 38. / 11}, {Front: 44, Rear: 20, HubStep: 1, Ratio: 2.2 * 0.53}} {
		c, dragPerMPS := chainFor(g, 2.2, 1)
		for _, v := range []float64{0.2, 3, 9} {
			c.drag = v * dragPerMPS
			for _, p := range []float64{0.1, 2, 30, 900} {
				near(t, "power in", c.in(c.out(p)), p, 1e-9*p)
				cadence := 60 * v / (2.2 * g.Ratio)
				near(t, "efficiency", c.out(p)/p, ChainEfficiency(g, ChainTension(g, p, cadence), 1), 1e-12)
			}
		}
	}
}

func TestGearHubTakesItsPartOffTheDirectStep(t *testing.T) {
	direct := bike.Gear{Front: 44, Rear: 20, HubStep: 4, Ratio: 2.2}
	low := bike.Gear{Front: 44, Rear: 20, HubStep: 1, Ratio: 2.2 * 0.53}
	if d, l := ChainEfficiency(direct, 300, 1), ChainEfficiency(low, 300, 1); math.Abs(l/d-hubGearFactor) > 1e-12 {
		t.Errorf("direct %g, low step %g", d, l)
	}
}
