package storetest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"cogledger/analysis/fleet"
)

// Drawn makes outcomes of n different logs from a seed. Their numbers are of
// every kind that a row can hold, not of any real ride; one log in ten has a
// problem instead of rides.
func Drawn(seed uint64, n int) []fleet.Outcome {
	draw := rand.New(rand.NewPCG(seed, 1))
	outcomes := make([]fleet.Outcome, n)
	for i := range outcomes {
		outcomes[i] = drawn(draw, seed, i)
	}
	return outcomes
}

// whole is the i-th drawn log of a seed that has rides.
func whole(seed uint64, i int) fleet.Outcome {
	for _, o := range Drawn(seed, 100) {
		if o.Log.Problem == "" {
			if i == 0 {
				return o
			}
			i--
		}
	}
	panic("storetest: too few whole logs")
}

func drawn(draw *rand.Rand, seed uint64, i int) fleet.Outcome {
	to := fleet.Assignment{
		Bike: fmt.Sprintf("bike %02d", draw.IntN(12)), Profile: fmt.Sprintf("%08x", draw.Uint32()),
		Rider: []string{"", "rider A", "rider B", "rider C", "rider ✓ 'quoted'"}[draw.IntN(5)],
		Group: []string{"", "north", "south"}[draw.IntN(3)],
	}
	o := fleet.Outcome{Log: fleet.Log{
		Path: fmt.Sprintf("logs %d/%04d.fit", seed, i), Fingerprint: fmt.Sprint(draw.Uint64()),
		Content: fmt.Sprintf("%016x%016x", seed, i), Serial: fmt.Sprint(draw.IntN(1000)),
		Start: time.Unix(1780000000+int64(draw.IntN(90*86400)), 0).UTC(), Assignment: to, Version: "1.0",
	}}
	if draw.IntN(10) == 0 {
		o.Log.Problem = "record 12: the log breaks off; nothing in it could be used"
		o.Log.Start = time.Time{}
		return o
	}
	for part := range 1 + draw.IntN(2) {
		r := fleet.Ride{}
		for _, c := range fleet.RideColumns() {
			fill(draw, c.At(&r))
		}
		r.Content, r.Part, r.Path, r.Assignment, r.Version = o.Log.Content, int64(part), o.Log.Path, to, o.Log.Version
		if !r.Start.IsZero() { // rides of one bike at one time would be one ride
			const slot = 5400 // s, longer than any duration drawn
			r.Start = time.Unix(1780000000+(int64(i)*2+int64(part))*slot, 0).UTC()
		}
		r.Month, r.Basis = fleet.Unknown, []string{"measured", "derived", "modelled"}[draw.IntN(3)]
		if !r.Start.IsZero() {
			r.Month = r.Start.Format("2006-01")
		}
		o.Rides = append(o.Rides, r)
		for _, kind := range []string{"tall-gear start", "late down-shift"}[:draw.IntN(3)] {
			h := fleet.Habit{}
			for _, c := range fleet.HabitColumns() {
				fill(draw, c.At(&h))
			}
			h.Content, h.Part, h.Kind = r.Content, r.Part, kind
			h.CostWh = math.Abs(draw.NormFloat64())
			o.Habits = append(o.Habits, h)
		}
		for number := range draw.IntN(5) {
			s := fleet.Segment{}
			for _, c := range fleet.SegmentColumns() {
				fill(draw, c.At(&s))
			}
			s.Content, s.Part, s.Number = r.Content, r.Part, int64(number)
			s.Lat, s.Lon = 47+0.01*draw.Float64(), 9+0.01*draw.Float64()
			s.Cell, s.Direction = fleet.Cell(s.Lat, s.Lon), int64(draw.IntN(fleet.Directions))
			s.FromS = int64(draw.IntN(3000))
			s.ToS = s.FromS + int64(draw.IntN(30))
			o.Segments = append(o.Segments, s)
		}
	}
	return o
}

// fill draws one field: numbers of any size, none at times.
func fill(draw *rand.Rand, field any) {
	switch p := field.(type) {
	case *string:
		*p = strings.Repeat("x", draw.IntN(4))
	case *int64:
		*p = int64(draw.IntN(5000))
	case *bool:
		*p = draw.IntN(2) == 0
	case *time.Time:
		if draw.IntN(8) > 0 {
			*p = time.Unix(1780000000+int64(draw.IntN(90*86400)), 0).UTC()
		}
	case *float64:
		switch draw.IntN(8) {
		case 0:
			*p = math.NaN()
		case 1:
			*p = float64(draw.IntN(100)) // whole
		default:
			*p = draw.ExpFloat64() * 100
		}
	}
}

// rename gives an outcome another path.
func rename(o *fleet.Outcome, path string) {
	o.Log.Path = path
	for i := range o.Rides {
		o.Rides[i].Path = path
	}
}

// Expected is what a store holds after outcomes of different logs and contents.
func Expected(outcomes []fleet.Outcome) Dump {
	var d Dump
	for _, o := range outcomes {
		d.Logs = append(d.Logs, o.Log)
		d.Rides = append(d.Rides, o.Rides...)
		d.Habits = append(d.Habits, o.Habits...)
		d.Segments = append(d.Segments, o.Segments...)
	}
	slices.SortFunc(d.Logs, func(a, b fleet.Log) int { return strings.Compare(a.Path, b.Path) })
	slices.SortFunc(d.Rides, func(a, b fleet.Ride) int { return keys(a.Content, b.Content, a.Part, b.Part, 0, 0) })
	slices.SortFunc(d.Habits, func(a, b fleet.Habit) int {
		if c := keys(a.Content, b.Content, a.Part, b.Part, 0, 0); c != 0 {
			return c
		}
		return strings.Compare(a.Kind, b.Kind)
	})
	slices.SortFunc(d.Segments, func(a, b fleet.Segment) int { return keys(a.Content, b.Content, a.Part, b.Part, a.Number, b.Number) })
	return d
}

func keys(contentA, contentB string, partA, partB, numberA, numberB int64) int {
	if c := strings.Compare(contentA, contentB); c != 0 {
		return c
	}
	if partA != partB {
		return int(partA - partB)
	}
	return int(numberA - numberB)
}
