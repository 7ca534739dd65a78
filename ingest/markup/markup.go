// Package markup reads the XML of ride logs, token by token, and guards the
// readers built on it: it refuses entity definitions, bounds depth and text,
// strips namespace prefixes, and closes what a truncated file left open, so
// that the readable part can be used.
package markup

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"time"

	"golang.org/x/text/encoding/htmlindex"
)

const (
	deepest     = 64      // elements within one another
	longestText = 1 << 20 // bytes between two tags
)

// Errors that Token returns; every other fault of the markup is damage.
var (
	ErrEntities = errors.New("the file defines XML entities, which no ride log needs and which can be made to fill the memory; it was not read")
	ErrTooDeep  = fmt.Errorf("elements are nested more than %d deep, which no ride log is; it was not read", deepest)
)

// A Reader gives the tokens of a log. Element and attribute names come without
// their prefix.
type Reader struct {
	raw    *xml.Decoder
	open   []xml.Name // with prefix
	damage string
	line   int
	ended  bool
}

// NewReader returns a Reader on the bytes of a log.
func NewReader(data []byte) *Reader {
	data = bytes.TrimPrefix(bytes.TrimLeft(data, " \t\r\n"), []byte("\ufeff"))
	raw := xml.NewDecoder(bytes.NewReader(data))
	raw.CharsetReader = func(label string, in io.Reader) (io.Reader, error) {
		e, err := htmlindex.Get(label)
		if err != nil {
			return nil, fmt.Errorf("its character set %q is not known", label)
		}
		return e.NewDecoder().Reader(in), nil
	}
	return &Reader{raw: raw}
}

// Token is the next start, end or text. Comments and instructions are left
// out. At damage the open elements are closed, then io.EOF follows; Damage
// tells of it from the first such end on. Text is valid until the next call.
func (r *Reader) Token() (xml.Token, error) {
	for !r.ended {
		token, err := r.raw.RawToken()
		if err != nil {
			r.end(err)
			break
		}
		switch t := token.(type) {
		case xml.StartElement:
			if len(r.open) == deepest {
				return nil, ErrTooDeep
			}
			r.open = append(r.open, t.Name)
			t.Name.Space = ""
			for i := range t.Attr {
				t.Attr[i].Name.Space = ""
			}
			return t, nil
		case xml.EndElement:
			if n := len(r.open); n == 0 || r.open[n-1] != t.Name {
				r.end(fmt.Errorf("</%s> closes nothing that is open", t.Name.Local))
				continue
			}
			r.open = r.open[:len(r.open)-1]
			t.Name.Space = ""
			return t, nil
		case xml.CharData:
			if len(r.open) == 0 {
				continue
			}
			if len(t) > longestText {
				t = t[:longestText]
			}
			return t, nil
		case xml.Directive:
			if bytes.Contains(t, []byte("ENTITY")) {
				return nil, ErrEntities
			}
		}
	}
	if n := len(r.open); n > 0 {
		name := r.open[n-1]
		r.open = r.open[:n-1]
		return xml.EndElement{Name: xml.Name{Local: name.Local}}, nil
	}
	return nil, io.EOF
}

// end stops reading, for good or for damage.
func (r *Reader) end(err error) {
	r.ended = true
	r.line = r.Line()
	if len(r.open) == 0 && errors.Is(err, io.EOF) {
		return
	}
	r.damage = err.Error()
	var syntax *xml.SyntaxError
	switch {
	case errors.As(err, &syntax):
		r.damage, r.line = syntax.Msg, syntax.Line
	case errors.Is(err, io.EOF):
		r.damage = "the file ends early"
	}
}

// Line is the line of the file that is being read.
func (r *Reader) Line() int {
	line, _ := r.raw.InputPos()
	return line
}

// Damage tells where and how the markup breaks off; ok is false while it has
// not.
func (r *Reader) Damage() (line int, why string, ok bool) { return r.line, r.damage, r.damage != "" }

// The forms of time that logs write. A time without a zone is taken as UTC.
var timeForms = []string{time.RFC3339Nano, "2006-01-02T15:04:05", "2006-01-02T15:04:05Z0700", "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04:05", "2006-01-02T15:04Z07:00"}

// ParseTime reads a time with its fraction and zone.
func ParseTime(text []byte) (time.Time, bool) {
	s := string(bytes.TrimSpace(text))
	for _, form := range timeForms {
		if t, err := time.Parse(form, s); err == nil {
			return t, true
		}
	}
	return time.Time{}, false
}
