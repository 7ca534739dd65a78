package postgres

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// text is a string as the database takes it. File names may hold bytes that
// are no UTF-8, and PostgreSQL takes none of these and no zero byte: each
// stands as a replacement character and its two hexadecimal digits.
func text(s string) string {
	if utf8.ValidString(s) && !strings.Contains(s, "\x00") {
		return s
	}
	var b strings.Builder
	for len(s) > 0 {
		r, size := utf8.DecodeRuneInString(s)
		if r == 0 || r == utf8.RuneError && size == 1 {
			fmt.Fprintf(&b, "\uFFFD%02x", s[0])
		} else {
			b.WriteString(s[:size])
		}
		s = s[size:]
	}
	return b.String()
}
