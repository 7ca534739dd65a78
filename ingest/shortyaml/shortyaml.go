// Package shortyaml parses YAML that a person has written by hand: a bike
// profile, a column map. It refuses what no hand writes and what makes a parser
// take minutes or fill the memory: files that are too large or too full of
// signs, deep nesting, anchors and aliases, several documents.
package shortyaml

import (
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// Bounds of what is parsed. The library's time grows with the square of the
// number of values, so that the number of signs that can part two values is
// bounded: at the bound the slowest known text takes a fifth of a second.
const (
	MostBytes = 64 << 10
	MostSigns = 3000
	Deepest   = 16 // brackets within one another
)

// signs can begin or part values; line breaks are counted with them in lists
// and maps, which need one of these beside.
const signs = "[]{}:,-?&*!|>%"

// A Refusal says why a text is not parsed, and where.
type Refusal struct {
	Line int // counted from 1; 0 for the text as a whole
	Text string
	Cure string
}

func (r *Refusal) Error() string {
	if r.Line > 0 {
		return fmt.Sprintf("line %d: %s; %s", r.Line, r.Text, r.Cure)
	}
	return r.Text + "; " + r.Cure
}

// Parse parses a text. The error is a *Refusal, or the library's own for what
// is not YAML.
func Parse(data []byte) (*ast.File, error) {
	if err := check(data); err != nil {
		return nil, err
	}
	tree, err := parser.ParseBytes(data, 0)
	if err != nil {
		return nil, err
	}
	documents := 0
	finder := &aliasFinder{}
	for _, doc := range tree.Docs {
		if doc.Body == nil {
			continue
		}
		if documents++; documents > 1 {
			return nil, &Refusal{Line: doc.Body.GetToken().Position.Line, Text: "a second document begins", Cure: "keep one document in a file"}
		}
		ast.Walk(finder, doc.Body)
	}
	if finder.line > 0 {
		return nil, &Refusal{Line: finder.line, Text: "anchors and aliases are not read", Cure: "write the value out"}
	}
	return tree, nil
}

// check bounds a text before anything parses it.
func check(data []byte) error {
	if len(data) > MostBytes {
		return &Refusal{Text: fmt.Sprintf("%d bytes are too many for a file written by hand (limit %d)", len(data), MostBytes), Cure: "is this a ride log?"}
	}
	count, depth, line := 0, 0, 1
	for _, b := range data {
		switch b {
		case '\n':
			line++
		case '[', '{':
			depth++
		case ']', '}':
			depth--
		}
		if depth > Deepest {
			return &Refusal{Line: line, Text: fmt.Sprintf("more than %d brackets are open", Deepest), Cure: "close them"}
		}
		if strings.IndexByte(signs, b) < 0 {
			continue
		}
		if count++; count > MostSigns {
			return &Refusal{Line: line, Text: fmt.Sprintf("more than %d signs of punctuation come before", MostSigns), Cure: "leave out what the file does not need"}
		}
	}
	return nil
}

type aliasFinder struct{ line int }

// Visit implements ast.Visitor.
func (f *aliasFinder) Visit(n ast.Node) ast.Visitor {
	switch n.Type() {
	case ast.AnchorType, ast.AliasType, ast.MergeKeyType:
		if f.line == 0 {
			f.line = n.GetToken().Position.Line
		}
	}
	return f
}
