package bike

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// TyreSpread is the fraction by which published circumferences of one tyre
// size differ from one another, and by which the closed form may miss them.
// The ride's own calibration moves within it.
const TyreSpread = 0.03

// TyreCircumference returns the rollout in metres of an ISO 5775 size such as
// "47-622" (width - bead seat diameter, mm): the published table's value where
// it has the size, else pi (bead seat diameter + 2 width), which is within
// 1.7 % of that table.
func TyreCircumference(size string) (float64, error) {
	width, bead, err := parseTyre(size)
	if err != nil {
		return 0, err
	}
	for _, t := range tyreTable() {
		if t.width == width && t.bead == bead {
			return t.rolloutMM / 1000, nil
		}
	}
	return math.Pi * (bead + 2*width) / 1000, nil
}

func parseTyre(size string) (width, bead float64, err error) {
	w, b, found := strings.Cut(strings.TrimSpace(size), "-")
	width, werr := strconv.ParseFloat(strings.TrimSpace(w), 64)
	bead, berr := strconv.ParseFloat(strings.TrimSpace(b), 64)
	if !found || werr != nil || berr != nil {
		return 0, 0, fmt.Errorf("tyre size %q is not an ISO 5775 size; it stands on the tyre's side as width-diameter in mm, like 47-622", size)
	}
	if !slices.Contains(beadSeats(), bead) {
		return 0, 0, fmt.Errorf("tyre size %q: no rim has a bead seat diameter of %g mm; known are %v", size, bead, beadSeats())
	}
	if !(width >= 18 && width <= 125) {
		return 0, 0, fmt.Errorf("tyre size %q: a width of %g mm is outside 18 to 125 mm", size, width)
	}
	return width, bead, nil
}

// beadSeats lists the bead seat diameters of ISO 5775 in use, mm.
func beadSeats() []float64 {
	return []float64{305, 349, 355, 406, 451, 507, 520, 540, 547, 559, 571, 584, 590, 597, 622, 630, 635}
}

type tyre struct{ width, bead, rolloutMM float64 }

// tyreTable holds circumferences as published for setting up wheel sensors.
// Tables differ by up to 2 % for one size.
func tyreTable() [16]tyre {
	return [16]tyre{
		{25, 622, 2105}, {28, 622, 2136}, {32, 622, 2155}, {37, 622, 2205},
		{40, 622, 2224}, {47, 622, 2268}, {50, 622, 2284}, {60, 622, 2340},
		{47, 559, 2055}, {50, 559, 2089}, {54, 559, 2114}, {57, 559, 2133},
		{37, 590, 2105}, {47, 406, 1590}, {50, 406, 1593}, {50, 507, 1910},
	}
}

func ascending(teeth []int) []int {
	sorted := slices.Clone(teeth)
	slices.Sort(sorted)
	return sorted
}
