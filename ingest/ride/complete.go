package ride

import (
	"fmt"
	"math"
)

// complete fills speed and distance from whatever else tells them: speed from
// logged distance, else from positions; distance from speed, else from
// positions. Logged values are never replaced.
func (r *Ride) complete(file string) {
	r.steadyDistance(file)
	r.reviveSpeed(file)
	logged := r.Has(Distance)
	if logged && r.lacks(Speed) {
		r.fill(Speed, r.slope(r.columns[Distance], 2), FromDistance, file)
	}
	if r.Has(Latitude) && r.lacks(Speed) {
		r.fill(Speed, r.speedOverGround(), FromPositions, file)
	}
	if logged {
		return
	}
	if r.Has(Speed) && r.origins[Speed] != FromPositions {
		r.sum(r.strides(), FromSpeed)
	} else if r.Has(Latitude) {
		r.sum(r.steps(), FromPositions)
	}
}

// reviveSpeed mends a speed that stands at 0 while the positions move on, as
// a wheel sensor with a flat battery or a lost magnet leaves it.
func (r *Ride) reviveSpeed(file string) {
	const slowest = 2.0 // m/s as the crow flies, over more than a pause
	speed, lat, lon := r.columns[Speed], r.columns[Latitude], r.columns[Longitude]
	if speed == nil || lat == nil {
		return
	}
	var ground []float64
	revived, first := 0, 0
	for k := 0; k < len(speed); k++ {
		if speed[k] != 0 || math.IsNaN(lat[k]) {
			continue
		}
		from := k
		for k+1 < len(speed) && speed[k+1] == 0 && !math.IsNaN(lat[k+1]) {
			k++
		}
		if k-from <= Pause || GroundDistance(lat[from], lon[from], lat[k], lon[k]) < slowest*float64(k-from)+fixError {
			continue
		}
		if ground == nil {
			ground = r.speedOverGround()
		}
		if revived == 0 {
			first = from
		}
		for i := from; i <= k; i++ {
			if _, high := Speed.Plausible(); ground[i] <= high {
				speed[i], r.marks[Speed][i] = ground[i], Derived
				revived++
			}
		}
	}
	if revived > 0 {
		r.Notes = append(r.Notes, Note{File: file, Place: fmt.Sprintf("second %d", first), Text: fmt.Sprintf("speed stands at 0 for %d seconds in which the positions move on; there it was derived from positions", revived), Cure: "check the speed sensor, its magnet and its battery"})
	}
}

// steadyDistance mends a logged distance that falls: the counter was reset, or
// the log goes on after another. What was counted before is kept.
func (r *Ride) steadyDistance(file string) {
	column, marks := r.columns[Distance], r.marks[Distance]
	high, carried := math.Inf(-1), 0.0
	resets, first := 0, 0
	for k := range column {
		if marks[k] == Missing {
			continue
		}
		v := column[k] + carried
		switch fall := high - v; {
		case fall > 20: // more than a counter's last digits: it began anew
			if resets == 0 {
				first = k
			}
			resets++
			carried += fall
			v = high
		case fall > 0:
			v = high
		}
		column[k], high = v, v
	}
	if resets > 0 {
		r.Notes = append(r.Notes, Note{File: file, Place: fmt.Sprintf("second %d", first), Text: fmt.Sprintf("the logged distance falls %d times; each time it goes on from where it was", resets)})
	}
}

// lacks reports whether the channel is missing in any second that is ridden.
func (r *Ride) lacks(c Channel) bool {
	if !r.Has(c) {
		return true
	}
	for k, m := range r.marks[c] {
		if m == Missing && !r.paused[k] {
			return true
		}
	}
	return false
}

// fill stores derived values where the channel has none and the value can be.
func (r *Ride) fill(c Channel, values []float64, from Origin, file string) {
	fresh := !r.Has(c)
	if fresh {
		r.columns[c], r.marks[c], r.origins[c] = missing(r.seconds, 0), make([]Mark, r.seconds), from
	}
	column, marks := r.columns[c], r.marks[c]
	low, high := c.Plausible()
	filled := 0
	for k, v := range values {
		if marks[k] == Missing && v >= low && v <= high && !r.paused[k] {
			column[k], marks[k] = v, Derived
			filled++
		}
	}
	switch {
	case fresh && filled == 0:
		r.forget(c)
	case fresh:
		r.Notes = append(r.Notes, Note{File: file, Text: fmt.Sprintf("the log holds no %s; it was %s", c, from)})
	case filled > 0:
		r.Notes = append(r.Notes, Note{File: file, Text: fmt.Sprintf("%s is missing in %d seconds of the ride; there it was %s", c, filled, from)})
	}
}

// slope is a column's change a second: the slope of the least-squares line
// through the values within so many seconds on either side. Towards a gap the
// window shrinks, evenly, so that the slope never lags.
func (r *Ride) slope(column []float64, reach int) []float64 {
	slope := missing(r.seconds, 0)
	for k := range column {
		if math.IsNaN(column[k]) {
			continue
		}
		top, bottom := 0.0, 0.0
		for j := 1; j <= reach && k-j >= 0 && k+j < len(column); j++ {
			d := column[k+j] - column[k-j]
			if math.IsNaN(d) {
				break
			}
			top += float64(j) * d
			bottom += 2 * float64(j*j)
		}
		switch {
		case bottom > 0:
			slope[k] = top / bottom
		case k+1 < len(column) && !math.IsNaN(column[k+1]):
			slope[k] = column[k+1] - column[k]
		case k > 0 && !math.IsNaN(column[k-1]):
			slope[k] = column[k] - column[k-1]
		}
	}
	return slope
}

// speedOverGround is the speed between positions, smoothed over seven seconds
// as a vector, so that the scatter of the fixes does not add up to motion.
func (r *Ride) speedOverGround() []float64 {
	lat, lon := r.columns[Latitude], r.columns[Longitude]
	east, north := missing(r.seconds, 0), missing(r.seconds, 0)
	x, y := 0.0, 0.0
	for k := range lat {
		if math.IsNaN(lat[k]) {
			continue
		}
		if k > 0 && !math.IsNaN(lat[k-1]) {
			dx, dy := GroundOffset(lat[k-1], lon[k-1], lat[k], lon[k])
			x, y = x+dx, y+dy
		}
		east[k], north[k] = x, y
	}
	speed, other := r.slope(east, 3), r.slope(north, 3)
	for k, v := range speed {
		speed[k] = math.Sqrt(v*v + other[k]*other[k])
	}
	return speed
}

// steps is the way to each position from the one a second before, 0 where
// there is none.
func (r *Ride) steps() []float64 {
	lat, lon := r.columns[Latitude], r.columns[Longitude]
	steps := missing(r.seconds, 0)
	for k := range lat {
		switch {
		case math.IsNaN(lat[k]):
		case k == 0 || math.IsNaN(lat[k-1]):
			steps[k] = 0
		default:
			steps[k] = GroundDistance(lat[k-1], lon[k-1], lat[k], lon[k])
		}
	}
	return steps
}

// strides is the way to each second from the one before at the mean of their
// speeds, 0 where there is none before.
func (r *Ride) strides() []float64 {
	speed := r.columns[Speed]
	strides := missing(r.seconds, 0)
	for k, v := range speed {
		switch {
		case math.IsNaN(v):
		case k == 0 || math.IsNaN(speed[k-1]):
			strides[k] = 0
		default:
			strides[k] = (speed[k-1] + v) / 2
		}
	}
	return strides
}

// sum adds up metres a second to the distance. Where they are missing the
// distance is missing too, and goes on from where it was.
func (r *Ride) sum(steps []float64, from Origin) {
	column, marks := missing(r.seconds, 0), make([]Mark, r.seconds)
	total := 0.0
	for k, v := range steps {
		if math.IsNaN(v) {
			continue
		}
		total += v
		column[k], marks[k] = total, Derived
	}
	r.columns[Distance], r.marks[Distance], r.origins[Distance] = column, marks, from
}
