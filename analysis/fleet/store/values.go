package store

import (
	"fmt"
	"math"
	"time"
)

// Out is a row's value as stored: NaN and the zero time are null, times whole
// seconds since 1970 in UTC.
func Out(value any) any {
	switch v := value.(type) {
	case float64:
		if math.IsNaN(v) {
			return nil
		}
	case time.Time:
		if v.IsZero() {
			return nil
		}
		return v.Unix()
	}
	return value
}

// Into is what a stored value is scanned into so that null becomes NaN or the
// zero time: At's pointer, wrapped where need be.
func Into(pointer any) any {
	switch p := pointer.(type) {
	case *float64:
		return &nullable{p}
	case *time.Time:
		return &moment{p}
	}
	return pointer
}

type nullable struct{ into *float64 }

// Scan implements sql.Scanner.
func (n *nullable) Scan(value any) error {
	switch v := value.(type) {
	case nil:
		*n.into = math.NaN()
	case float64:
		*n.into = v
	case int64: // a whole number in a column of reals
		*n.into = float64(v)
	default:
		return fmt.Errorf("a %T where a number belongs", value)
	}
	return nil
}

type moment struct{ into *time.Time }

// Scan implements sql.Scanner.
func (m *moment) Scan(value any) error {
	switch v := value.(type) {
	case nil:
		*m.into = time.Time{}
	case int64:
		*m.into = time.Unix(v, 0).UTC()
	default:
		return fmt.Errorf("a %T where seconds since 1970 belong", value)
	}
	return nil
}
