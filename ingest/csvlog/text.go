package csvlog

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

const (
	mostColumns = 256
	longestLine = 64 << 10
)

// decode turns the bytes into text: UTF-8 with or without a byte order mark,
// UTF-16 with one, else the Western code page that old loggers write.
func decode(data []byte) (string, error) {
	switch {
	case bytes.HasPrefix(data, []byte{0xEF, 0xBB, 0xBF}):
		data = data[3:]
	case bytes.HasPrefix(data, []byte{0xFF, 0xFE}), bytes.HasPrefix(data, []byte{0xFE, 0xFF}):
		text, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder().Bytes(data)
		if err != nil {
			return "", fmt.Errorf("%w: its UTF-16 text is damaged: %v", ErrNotTable, err)
		}
		data = text
	}
	if bytes.IndexByte(data, 0) >= 0 {
		return "", fmt.Errorf("%w: it holds zero bytes, so it is no text; choose the log of the ride", ErrNotTable)
	}
	if utf8.Valid(data) {
		return string(data), nil
	}
	text, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return "", fmt.Errorf("%w: its text is damaged: %v", ErrNotTable, err)
	}
	return string(text), nil
}

// lines goes through a text line by line. A quoted field cannot run over the
// end of a line: in a log of numbers an open quote is damage, and must not
// swallow the rest.
type lines struct {
	text   string
	at     int
	line   string
	number int
}

func (l *lines) next() (string, bool) {
	if l.at >= len(l.text) {
		return "", false
	}
	rest := l.text[l.at:]
	end := strings.IndexByte(rest, '\n')
	if end < 0 {
		end = len(rest)
	}
	l.at += end + 1
	l.number++
	l.line = strings.TrimSuffix(rest[:end], "\r")
	if len(l.line) > longestLine {
		l.line = l.line[:longestLine]
	}
	return l.line, true
}

// peek is up to fifty lines after the one that is read.
func (l *lines) peek() []string {
	ahead := *l
	var found []string
	for len(found) < 50 {
		line, ok := ahead.next()
		if !ok {
			break
		}
		if !blank(line) && line[0] != '#' {
			found = append(found, line)
		}
	}
	return found
}

// remaining guesses the number of lines still to come from the length of the
// last one.
func (l *lines) remaining() int {
	return (len(l.text)-min(l.at, len(l.text)))/(len(l.line)/2+1) + 1
}

func blank(line string) bool { return strings.TrimSpace(line) == "" }

// split parts a line into its fields.
func split(line string, comma byte, fields []string) []string {
	if strings.IndexByte(line, '"') >= 0 {
		r := csv.NewReader(strings.NewReader(line))
		r.Comma, r.LazyQuotes, r.FieldsPerRecord = rune(comma), true, -1
		if record, err := r.Read(); err == nil {
			return append(fields, record...)
		}
	}
	for len(fields) < 2*mostColumns {
		i := strings.IndexByte(line, comma)
		if i < 0 {
			break
		}
		fields = append(fields, line[:i])
		line = line[i+1:]
	}
	return append(fields, line)
}

// delimiter is the sign that parts the header, and the rows after it into as
// many fields as the header.
func delimiter(header string, rows []string) byte {
	best, score := byte(','), -1
	for _, comma := range []byte{',', ';', '\t', '|'} {
		n := len(split(header, comma, nil))
		if n < 2 {
			continue
		}
		fits := 0
		for _, row := range rows {
			if len(split(row, comma, nil)) == n {
				fits++
			}
		}
		if s := fits*mostColumns + min(n, mostColumns); s > score {
			best, score = comma, s
		}
	}
	return best
}

// decimalComma reports whether the rows ahead write numbers with a comma.
func (r *reader) decimalComma() bool {
	commas := 0
	for _, row := range r.lines.peek() {
		for i, field := range split(row, r.comma, nil) {
			if i >= len(r.columns) || r.columns[i].role != value && r.columns[i].role != elapsedTime {
				continue
			}
			field = strings.TrimSpace(field)
			if strings.Count(field, ",") == 1 && !strings.Contains(field, ".") {
				commas++
			} else if strings.Contains(field, ".") {
				return false
			}
		}
	}
	return commas > 0
}
