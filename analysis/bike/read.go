package bike

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"

	"cogledger/ingest/shortyaml"
)

// MaxBytes is the largest profile that Parse accepts.
const MaxBytes = shortyaml.MostBytes

// exampleYAML is the profile that `bike new` writes and the demo rides.
//
//go:embed example.yaml
var exampleYAML []byte

// ExampleYAML is a commented profile with every key.
func ExampleYAML() []byte { return bytes.Clone(exampleYAML) }

// Example is the profile of ExampleYAML.
func Example() *Profile {
	p, err := Parse(exampleYAML, "example.yaml")
	if err != nil {
		panic(err) // a test parses it
	}
	return p
}

// Parse reads a profile from YAML, fills the defaults and checks it. The file
// name serves messages only. An error of what the file says is a *Error, with
// every problem that was found.
func Parse(data []byte, file string) (*Profile, error) {
	tree, err := shortyaml.Parse(data)
	if refused := (*shortyaml.Refusal)(nil); errors.As(err, &refused) {
		return nil, &Error{File: file, Problems: []Problem{{Line: refused.Line, Text: refused.Text, Cure: refused.Cure}}}
	} else if err != nil {
		return nil, syntaxError(err, file)
	}
	if problem := wrongShape(tree); problem != nil {
		return nil, &Error{File: file, Problems: []Problem{*problem}}
	}
	p := defaults()
	if err := decode(data, &p); err != nil {
		return nil, syntaxError(err, file)
	}
	p.Defaulted = p.defaulted(keysIn(tree))
	problems := p.Check()
	for i := range problems {
		problems[i].Line = lineOf(tree, problems[i].Key)
	}
	if len(problems) > 0 {
		return nil, &Error{File: file, Problems: problems}
	}
	return &p, nil
}

// decode fills p. The YAML library panics on some values that fit no field,
// which must not end a run over many profiles.
func decode(data []byte, p *Profile) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("a value does not have the shape that belongs to its key (%v)", r)
		}
	}()
	return yaml.NewDecoder(bytes.NewReader(data), yaml.Strict()).Decode(p)
}

// wrongShape finds what the decoder would panic on or read in silence: tags,
// and lists that are longer or shorter than the pair they stand for.
func wrongShape(tree *ast.File) *Problem {
	for _, doc := range tree.Docs {
		if doc.Body == nil {
			continue
		}
		for _, n := range ast.Filter(ast.TagType, doc.Body) {
			return &Problem{Line: n.GetToken().Position.Line, Text: "a tag (" + n.GetToken().Value + ") has no place in a profile", Cure: "write the value alone"}
		}
		for _, n := range ast.Filter(ast.MappingValueType, doc.Body) {
			m, ok := n.(*ast.MappingValueNode)
			if !ok || !strings.HasSuffix(n.GetPath(), ".band_rpm") {
				continue
			}
			if list, ok := m.Value.(*ast.SequenceNode); !ok || len(list.Values) != 2 {
				return &Problem{
					Line: n.GetToken().Position.Line, Key: strings.TrimPrefix(n.GetPath(), "$."),
					Text: "it takes two numbers, the lower and the upper end", Cure: "write it like [70, 95]",
				}
			}
		}
	}
	return nil
}

// An Error lists what is wrong with a profile file.
type Error struct {
	File     string
	Problems []Problem
}

// A Problem is one thing wrong with a profile.
type Problem struct {
	Line int    // counted from 1; 0 where no line holds it
	Key  string // dotted; empty when the file as a whole is meant
	Text string
	Cure string
}

func (e *Error) Error() string {
	lines := make([]string, len(e.Problems))
	for i, p := range e.Problems {
		var b strings.Builder
		b.WriteString(e.File)
		if p.Line > 0 {
			b.WriteString(":" + strconv.Itoa(p.Line))
		}
		b.WriteString(": ")
		if p.Key != "" {
			b.WriteString(p.Key + ": ")
		}
		b.WriteString(p.Text)
		if p.Cure != "" {
			b.WriteString("; " + p.Cure)
		}
		lines[i] = b.String()
	}
	return strings.Join(lines, "\n")
}

// syntaxError words an error of the YAML library, with the nearest known key
// where one was misspelt.
func syntaxError(err error, file string) error {
	problem := Problem{Text: firstLine(err.Error())}
	var unknown *yaml.UnknownFieldError
	var wrongType *yaml.TypeError
	var typed yaml.Error
	switch {
	case errors.As(err, &wrongType):
		problem.Line = wrongType.Token.Position.Line
		problem.Text = "not a number, or not the kind of value that belongs here"
		problem.Cure = "`cogledger bike new` writes a profile with every key explained"
	case errors.As(err, &unknown):
		key := unknown.Token.Value
		problem.Line = unknown.Token.Position.Line
		problem.Key = key
		problem.Text = "no such key"
		problem.Cure = "did you mean " + nearest(key) + "?"
	case errors.As(err, &typed):
		problem.Text = typed.GetMessage()
		if t := typed.GetToken(); t != nil {
			problem.Line = t.Position.Line
		}
		problem.Cure = "`cogledger bike new` writes a profile with every key explained"
	}
	return &Error{File: file, Problems: []Problem{problem}}
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}

// keysIn lists the dotted keys that the file itself gives.
func keysIn(tree *ast.File) map[string]bool {
	said := make(map[string]bool)
	for _, doc := range tree.Docs {
		if doc.Body == nil {
			continue
		}
		for _, n := range ast.Filter(ast.MappingValueType, doc.Body) {
			said[strings.TrimPrefix(n.GetPath(), "$.")] = true
		}
	}
	return said
}

// lineOf finds the line of a dotted key, or of its nearest parent in the file.
func lineOf(tree *ast.File, key string) int {
	for key != "" {
		if path, err := yaml.PathString("$." + key); err == nil {
			if n, err := path.FilterFile(tree); err == nil && n != nil {
				return n.GetToken().Position.Line
			}
		}
		key = key[:max(0, strings.LastIndexAny(key, ".["))]
	}
	return 0
}

// nearest is the known key with the least edits to the one given.
func nearest(key string) string {
	known := []string{"name", "wheel", "tyre", "rollout_mm", "drivetrain", "chainrings", "cogs", "hub_gears", "drive", "kind", "battery", "motor", "controller", "thermal", "insulation_class", "mass", "road", "legs", "band_rpm", "assist", "shifting", "least_dwell_s", "mechanism", "sensors", "tolerance", "origin", "default", "learnt", "measured"}
	for _, k := range keysOf(Numbers()) {
		known = append(known, k[strings.LastIndex(k, ".")+1:])
	}
	return slices.MinFunc(known, func(a, b string) int { return edits(key, a) - edits(key, b) })
}

// edits is the Levenshtein distance of two words.
func edits(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
