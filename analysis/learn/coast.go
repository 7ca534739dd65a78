package learn

import (
	"fmt"
	"math"

	"cogledger/analysis/doubt"
	"cogledger/ingest/ride"
)

// A Coast is a stretch in which the bike rolled freely.
type Coast struct {
	Ride     int     // in the order given
	From, To int     // seconds, [From, To)
	Measured float64 // N that slowed the bike, slope taken out
	Modelled float64 // N of air, tyres and bearings by the profile in still air
}

// A CoastFit checks a profile's CdA and Crr against coasting.
type CoastFit struct {
	Coasts []Coast
	Ratio  doubt.Figure // measured over modelled
}

const (
	shortestCoast = 6   // s
	slowestCoast  = 2.5 // m/s
	leastCoasts   = 4
	hardest       = 2.0 // times the modelled force, beyond which somebody brakes
)

// CoastDowns compares how hard bikes were slowed while nobody pedalled, pushed
// or, as far as can be told, braked, with what the profile foretells. Light
// braking cannot be told from drag: a ratio above one may be either, one below
// cannot be brakes. It needs no power meter. Wind does not cancel unless the
// coasts go both ways.
func CoastDowns(rides []Read) (CoastFit, error) {
	var fit CoastFit
	for k, rd := range rides {
		fit.Coasts = append(fit.Coasts, coastsOf(rd, k)...)
	}
	n := len(fit.Coasts)
	if n < leastCoasts {
		return CoastFit{}, fmt.Errorf("coasting: %w", refuse("%d stretches of free rolling are too few, %d are needed", n, leastCoasts))
	}
	ratios := make([]float64, n)
	for i, c := range fit.Coasts {
		ratios[i] = c.Measured / c.Modelled
	}
	middle := median(ratios)
	away := make([]float64, n)
	for i, v := range ratios {
		away[i] = v - middle
	}
	// A median is sqrt(pi/2) times less sure than a mean of normal values.
	half := z90 * math.Sqrt(math.Pi/2) * robustSpread(away) / math.Sqrt(float64(n))
	fit.Ratio = around(middle, half)
	return fit, nil
}

func coastsOf(rd Read, k int) (all []Coast) {
	r, d := rd.Road, rd.Drive
	cadence := rd.Ride.Column(ride.CadenceRPM)
	if cadence == nil {
		return nil
	}
	rolls := func(i int) bool {
		return r.Speed[i] >= slowestCoast && cadence[i] == 0 && !(d.Legs[i] > 0) && !(d.Delivered[i] > 0) &&
			!math.IsNaN(r.Demand[i])
	}
	for from := 0; from < len(cadence); from++ {
		if !rolls(from) {
			continue
		}
		to := from
		for to < len(cadence) && rolls(to) {
			to++
		}
		// Smoothed speed looks two seconds ahead and back: into pedalling or brakes.
		if c, ok := newCoast(rd, k, from+2, to-2); ok {
			all = append(all, c)
		}
		from = to
	}
	return all
}

func newCoast(rd Read, k, from, to int) (c Coast, ok bool) {
	if to-from < shortestCoast {
		return c, false
	}
	r := rd.Road
	var measured, modelled, metres float64
	for i := from; i < to; i++ {
		resists := r.Air[i] + r.Rolling[i] + r.Bearings[i]
		if -r.Inertia[i]-r.Climbing[i] > (hardest+1)*resists {
			return c, false // one second of braking spoils the stretch
		}
		measured -= r.Inertia[i] + r.Climbing[i]
		modelled += resists
		metres += r.Speed[i]
	}
	c = Coast{Ride: k, From: from, To: to, Measured: measured / metres, Modelled: modelled / metres}
	return c, c.Measured > 0 && c.Measured < hardest*c.Modelled
}
