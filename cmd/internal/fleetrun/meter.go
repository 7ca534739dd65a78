package fleetrun

import "time"

// window is how far back the rate looks.
const window = 20 * time.Second

// A meter tells rate and time left.
type meter struct {
	progress     Progress
	bytes, total int64
	marks        []mark
}

type mark struct {
	at    time.Time
	done  int
	bytes int64
}

func newMeter(todo []*Found) *meter {
	m := &meter{progress: Progress{Total: len(todo)}, marks: []mark{{at: time.Now()}}}
	for _, l := range todo {
		m.total += l.Bytes
	}
	return m
}

func (m *meter) add(d done, failed bool) {
	m.progress.Done++
	m.progress.Seconds += d.seconds
	m.bytes += d.bytes
	if failed {
		m.progress.Failed++
	}
}

// now is the state of the run. Time left goes by bytes, since long logs take
// longer.
func (m *meter) now() Progress {
	at := time.Now()
	if at.Sub(m.marks[len(m.marks)-1].at) >= time.Second/2 {
		m.marks = append(m.marks, mark{at, m.progress.Done, m.bytes})
		for len(m.marks) > 2 && at.Sub(m.marks[1].at) > window {
			m.marks = m.marks[1:]
		}
	}
	p, first := m.progress, m.marks[0]
	if since := at.Sub(first.at).Seconds(); since > 0 {
		p.Rate = float64(p.Done-first.done) / since
		if perSecond := float64(m.bytes-first.bytes) / since; perSecond > 0 {
			p.Left = time.Duration(float64(m.total-m.bytes) / perSecond * float64(time.Second))
		}
	}
	return p
}
