package gpxlog

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"strconv"
	"time"

	"cogledger/ingest/markup"
)

// A filter passes on the tokens of track points alone, and only values that
// the decoder behind it can read: that one gives up a whole file for one bad
// number, and mistakes times in silence. Times are kept aside, one a point, in
// the order of the file.
type filter struct {
	in      *markup.Reader
	queue   []xml.Token // to be passed on before anything else
	depth   int         // of elements passed on
	skip    int         // of elements left out, below the last one passed on
	path    [8]string   // names of the elements passed on, as deep as matters
	points  int         // that may still come
	times   []time.Time // of the points; zero where there is none
	broken  bool        // the last point was still open when the file broke off
	tooMany bool
	refused error // why the file must not be read

	untimedLine, misplacedLine int // where the first such point stands
}

// Token implements xml.TokenReader.
func (f *filter) Token() (xml.Token, error) {
	if len(f.queue) > 0 {
		t := f.queue[0]
		f.queue = f.queue[1:]
		return t, nil
	}
	for {
		token, err := f.in.Token()
		if err != nil {
			if err != io.EOF {
				f.refused = err
			}
			return nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			if f.skip > 0 || !f.wanted(&t) {
				f.skip++
				continue
			}
			if whole, err := f.leaf(t.Name.Local); whole || err != nil {
				if err != nil {
					return nil, err
				}
				if len(f.queue) > 0 {
					return f.Token()
				}
				continue
			}
			f.enter(t.Name.Local)
			return t, nil
		case xml.EndElement:
			if f.skip > 0 {
				f.skip--
				continue
			}
			f.leave()
			return t, nil
		case xml.CharData:
			if f.skip == 0 && f.depth > 0 {
				return t, nil
			}
		}
	}
}

func (f *filter) at(depth int, name string) bool { return f.depth == depth && f.path[depth-1] == name }

// wanted reports whether an element is passed on, and strips what is not
// needed of it.
func (f *filter) wanted(t *xml.StartElement) bool {
	name := t.Name.Local
	switch {
	case f.depth == 0:
		t.Attr = keep(t.Attr, "creator")
		return name == "gpx"
	case f.depth == 1:
		t.Attr = nil
		return name == "trk"
	case f.depth == 2:
		t.Attr = nil
		return name == "trkseg" || name == "name"
	case f.at(3, "trkseg"):
		if name != "trkpt" {
			return false
		}
		if f.points--; f.points < 0 {
			f.tooMany = true
			return false
		}
		t.Attr = keep(t.Attr, "lat", "lon")
		return f.place(t)
	case f.at(4, "trkpt"):
		t.Attr = nil
		return name == "ele" || name == "time" || name == "speed" || name == "extensions"
	case f.depth >= 5 && f.path[3] == "trkpt" && f.path[4] == "extensions":
		t.Attr = keep(t.Attr, "unit")
		return true
	}
	return false
}

// place makes sure that the decoder can read a point's position.
func (f *filter) place(t *xml.StartElement) bool {
	known := 0
	for i := range t.Attr {
		v, err := strconv.ParseFloat(t.Attr[i].Value, 64)
		if err != nil || math.IsNaN(v) || math.Abs(v) > 180 {
			t.Attr[i].Value = "999"
			continue
		}
		known++
	}
	if known < 2 {
		t.Attr = []xml.Attr{{Name: xml.Name{Local: "lat"}, Value: "999"}, {Name: xml.Name{Local: "lon"}, Value: "999"}}
		if f.misplacedLine == 0 {
			f.misplacedLine = f.in.Line()
		}
	}
	return true
}

func keep(attributes []xml.Attr, names ...string) (kept []xml.Attr) {
	for _, name := range names {
		for _, a := range attributes {
			if a.Name.Local == name {
				kept = append(kept, a)
				break
			}
		}
	}
	return kept
}

// leaf handles the elements of a point whose text the filter reads itself.
func (f *filter) leaf(name string) (whole bool, err error) {
	if !f.at(4, "trkpt") || name == "extensions" {
		return false, nil
	}
	text, err := f.text()
	if err != nil {
		return true, err
	}
	switch name {
	case "time":
		if at, ok := markup.ParseTime(text); ok {
			f.times[len(f.times)-1] = at
		}
	case "ele":
		if number(text) {
			f.pass("ele", text)
		}
	case "speed": // of GPX 1.0, m/s
		if number(text) {
			f.queue = append(f.queue, start("extensions"))
			f.pass("speed", text)
			f.queue = append(f.queue, end("extensions"))
		}
	}
	return true, nil
}

func number(text []byte) bool {
	v, err := strconv.ParseFloat(string(text), 64)
	return err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}

func (f *filter) pass(name string, text []byte) {
	f.queue = append(f.queue, start(name), xml.CharData(text), end(name))
}

func start(name string) xml.StartElement { return xml.StartElement{Name: xml.Name{Local: name}} }
func end(name string) xml.EndElement     { return xml.EndElement{Name: xml.Name{Local: name}} }

// text reads up to the end of the element that has just begun.
func (f *filter) text() ([]byte, error) {
	var text []byte
	for inside := 1; inside > 0; {
		token, err := f.in.Token()
		if err != nil {
			if err != io.EOF {
				f.refused = err
			}
			return nil, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			inside++
		case xml.EndElement:
			inside--
		case xml.CharData:
			text = append(text, t...)
		}
	}
	return bytes.TrimSpace(text), nil
}

func (f *filter) enter(name string) {
	if f.depth < len(f.path) {
		f.path[f.depth] = name
	}
	f.depth++
	if f.depth == 4 && name == "trkpt" {
		f.times = append(f.times, zeroTime)
	}
}

func (f *filter) leave() {
	f.depth--
	if f.depth == 3 && f.path[3] == "trkpt" {
		_, _, f.broken = f.in.Damage()
		if f.times[len(f.times)-1].IsZero() && f.untimedLine == 0 {
			f.untimedLine = f.in.Line()
		}
	}
}
