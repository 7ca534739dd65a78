package report

import (
	"encoding/csv"
	"fmt"
	"io"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
)

// CurvesCSV writes the numbers behind Curves, one point a line: which curve,
// of what, x and y with their units. Points that the drive's limits forbid are
// left out.
func CurvesCSV(w io.Writer, p *bike.Profile) error {
	d := curveDrawer{p: p, unit: drive.NewUnit(p), hub: asHub(p)}
	out := csv.NewWriter(w)
	line := func(curve, of string, x float64, xUnit string, y float64, yUnit string) {
		if finite(x) && finite(y) {
			out.Write([]string{curve, safeText(of), plainNumber(x, 4), xUnit, plainNumber(y, 5), yUnit})
		}
	}
	out.Write([]string{"curve", "of", "x", "x_unit", "y", "y_unit"})

	speeds := between(d.topSpeed()*0.01, d.topSpeed(), 120)
	for _, e := range d.unit.EfficiencyCurves(d.powers(), speeds, warmC) {
		of := fmt.Sprintf("%.0f W", e.ShaftW)
		for i, speed := range e.Speed {
			line("efficiency", of, speed*rpmPerRadPerS, "motor rpm", e.Efficiency[i], "1")
		}
		line("band from", of, e.Band.Low*rpmPerRadPerS, "motor rpm", e.Band.Efficiency-drive.BandPoints, "1")
		line("band best", of, e.Band.Best*rpmPerRadPerS, "motor rpm", e.Band.Efficiency, "1")
		line("band to", of, e.Band.High*rpmPerRadPerS, "motor rpm", e.Band.Efficiency-drive.BandPoints, "1")
	}
	d.pullLines(line)
	out.Flush()
	return out.Error()
}

// pullLines writes pull, acceleration and the road's resistance over the
// bike's speed.
func (d curveDrawer) pullLines(line func(curve, of string, x float64, xUnit string, y float64, yUnit string)) {
	speeds := between(0, 1.2*d.unit.Cutoff, 61)
	pull := func(name string, curves []drive.PullCurve) {
		for _, c := range curves {
			of := name + c.Gear.String()
			for i, speed := range c.Speed {
				line("pull", of, speed, "m/s", c.Force[i], "N")
				line("acceleration", of, speed, "m/s", c.Accel[i], "m/s²")
			}
		}
	}
	pull("", drive.Pull(d.p, everydayLegsNm, speeds))
	if d.hub != nil {
		if all := drive.Pull(d.hub, 0, speeds); len(all) > 0 {
			pull("hub motor alone, legs in ", all[:1])
		}
	}
	for _, r := range drive.RoadLines(d.p, []float64{0, 0.05, 0.10, 0.15}, speeds) {
		for i, speed := range r.Speed {
			line("road", fmt.Sprintf("grade %.0f %%", 100*r.Grade), speed, "m/s", r.Force[i], "N")
		}
	}
}
