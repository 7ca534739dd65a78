package store

import "fmt"

// A Census counts the different bikes, riders and days behind every tally. In
// SQL each of these counts takes a sort, or a table as long as the rides; here
// one look at every ride is enough for all.
type Census struct {
	all                          different
	bikes, riders, groups, spans counts

	crews map[crew]struct{}
	pairs map[pair]struct{}
}

// different says how many different ones there are.
type different struct{ bikes, riders, days int64 }

// counts holds the counts of the keys of one kind.
type counts struct {
	places  map[string]int32
	counted []count
}

type count struct {
	different
	stays []stay
}

// A stay is the days of one span of time. A span has at most 31 days on end,
// which the low bits of their numbers tell apart.
type stay struct {
	span int32
	days uint32
}

// A crew is who rode a bike, and for which group, by their places.
type crew struct{ bike, rider, group int32 }

// A pair is two that were seen together.
type pair struct {
	kind kind
	a, b int32
}

type kind int8

const (
	bikeAndRider kind = iota
	groupAndBike
	groupAndRider
)

// CensusQuery asks what a Census looks at. Its rows are read by TakeCensus.
func CensusQuery(q Question, rides Counted) string {
	return fmt.Sprintf("SELECT bike, rider, team, CASE WHEN start IS NULL THEN '' ELSE %s END, COALESCE(start/86400, 0) FROM %s AS r", q.Span(), rides)
}

// TakeCensus looks at every ride.
func TakeCensus(rides Cursor) (*Census, error) {
	c := &Census{
		bikes: newCounts(), riders: newCounts(), groups: newCounts(), spans: newCounts(),
		crews: make(map[crew]struct{}), pairs: make(map[pair]struct{}),
	}
	var bike, rider, group, span string
	var day int64
	for rides.Next() {
		if err := rides.Scan(&bike, &rider, &group, &span, &day); err != nil {
			return nil, err
		}
		on := crew{c.bikes.place(bike), c.riders.place(rider), c.groups.place(group)}
		if newly(c.crews, on) {
			c.meet(on, rider != "")
		}
		if span != "" {
			c.ride(on, rider != "", c.spans.place(span), day)
		}
	}
	return c, rides.Err()
}

// meet counts a crew that was not seen before.
func (c *Census) meet(on crew, known bool) {
	bike, rider, group := &c.bikes.counted[on.bike], &c.riders.counted[on.rider], &c.groups.counted[on.group]
	if bike.bikes == 0 {
		bike.bikes = 1
		c.all.bikes++
	}
	if known && rider.riders == 0 {
		rider.riders = 1
		c.all.riders++
	}
	if newly(c.pairs, pair{bikeAndRider, on.bike, on.rider}) {
		rider.bikes++
		if known {
			bike.riders++
		}
	}
	if newly(c.pairs, pair{groupAndBike, on.group, on.bike}) {
		group.bikes++
	}
	if known && newly(c.pairs, pair{groupAndRider, on.group, on.rider}) {
		group.riders++
	}
}

// ride counts a day that a crew rode on.
func (c *Census) ride(on crew, known bool, span int32, day int64) {
	in := &c.spans.counted[span]
	if c.bikes.counted[on.bike].ride(span, day) {
		in.bikes++
	}
	if c.riders.counted[on.rider].ride(span, day) && known {
		in.riders++
	}
	c.groups.counted[on.group].ride(span, day)
	before := in.days
	in.ride(span, day)
	c.all.days += in.days - before
}

// ride counts a day, if it is new, and reports whether the span is. Rides come
// more or less in order of time: the last span is looked at first.
func (c *count) ride(span int32, day int64) (first bool) {
	bit := uint32(1) << (day & 31)
	for i := len(c.stays) - 1; i >= 0; i-- {
		s := &c.stays[i]
		if s.span != span {
			continue
		}
		if s.days&bit == 0 {
			s.days |= bit
			c.days++
		}
		return false
	}
	c.stays = append(c.stays, stay{span, bit})
	c.days++
	return true
}

func newCounts() counts { return counts{places: make(map[string]int32)} }

// place gives a key its place in counted.
func (c *counts) place(key string) int32 {
	n, met := c.places[key]
	if !met {
		n = int32(len(c.counted))
		c.places[key] = n
		c.counted = append(c.counted, count{})
	}
	return n
}

func (c *counts) of(key string) different {
	if n, met := c.places[key]; met {
		return c.counted[n].different
	}
	return different{}
}

func (c *Census) ofAll(string) different { return c.all }

func newly[K comparable](in map[K]struct{}, k K) bool {
	if _, met := in[k]; met {
		return false
	}
	in[k] = struct{}{}
	return true
}
