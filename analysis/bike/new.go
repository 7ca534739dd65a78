package bike

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
)

// Essentials are the values of a profile that no default can stand for. Zero
// values leave the template's line as it is, to be filled in by hand.
type Essentials struct {
	Name       string
	Tyre       string
	Chainrings []int
	Cogs       []int
	NominalV   float64
	CapacityWh float64
}

// Template is a commented profile with every key, the essentials written in.
// The result is checked: an essential that cannot be is an *Error.
func Template(e Essentials) ([]byte, error) {
	text := exampleYAML
	set := func(line, value string) {
		at := bytes.Index(text, []byte(line))
		end := at + bytes.IndexByte(text[at:], '\n')
		text = bytes.Join([][]byte{text[:at], []byte(line[:strings.Index(line, ":")] + ": " + value), text[end:]}, nil)
	}
	if e.Name == "" {
		e.Name = "My bike"
	}
	// The first line speaks of the example's own bike.
	head, rest, _ := bytes.Cut(text, []byte("\n"))
	text = append([]byte(strings.Replace(string(head), "This one is a scenario of our own: no such bike is sold.", "Check the first five blocks.", 1)+"\n"), rest...)
	set("name: ", strconv.Quote(e.Name))
	if e.Tyre != "" {
		set("  tyre: ", strconv.Quote(e.Tyre))
	}
	if len(e.Chainrings) > 0 {
		set("  chainrings: ", list(e.Chainrings))
	}
	if len(e.Cogs) > 0 {
		set("  cogs: ", list(e.Cogs))
	}
	if e.NominalV != 0 {
		set("  nominal_v: ", strconv.FormatFloat(e.NominalV, 'g', -1, 64))
	}
	if e.CapacityWh != 0 {
		set("  capacity_wh: ", strconv.FormatFloat(e.CapacityWh, 'g', -1, 64))
	}
	if _, err := Parse(text, "new profile"); err != nil {
		return nil, err
	}
	return text, nil
}

func list(teeth []int) string {
	words := make([]string, len(teeth))
	for i, n := range teeth {
		words[i] = strconv.Itoa(n)
	}
	return fmt.Sprintf("[%s]", strings.Join(words, ", "))
}
