// Licences lists the modules that the programs and their tests are built from,
// each with its version and licence, and fails where a licence is unknown or
// does not go with the project's own.
//
//	go run ./.ci/licences -o docs/licences.md         writes the list
//	go run ./.ci/licences -check docs/licences.md     fails if the list is out of date
//	go run ./.ci/licences -notices THIRD-PARTY.txt    writes the texts that go with the programs
package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// platforms are what releases are built for; some modules serve one only.
var platforms = []string{"linux/amd64", "linux/arm64", "darwin/amd64", "darwin/arm64", "windows/amd64", "windows/arm64"}

// licences are told by a phrase of their text, the first that fits, white space
// apart. All but the MPL, which is kept to cogledger-fleet and tests, let a program under the MIT
// licence link the module; what they ask for is that their text goes with it.
var licences = []struct{ phrase, id string }{
	{"Mozilla Public License Version 2.0", "MPL-2.0"},
	{"Apache License Version 2.0", "Apache-2.0"},
	{"Neither the name of", "BSD-3-Clause"},
	{"may be used to endorse or promote products", "BSD-3-Clause"},
	{"Redistribution and use in source and binary forms", "BSD-2-Clause"},
	{"Permission is hereby granted, free of charge, to any person obtaining a copy", "MIT"},
	{"Permission to use, copy, modify, and/or distribute this software for any purpose with or without fee", "ISC"},
	{"Permission to use, copy, modify, and distribute this software for any purpose with or without fee", "ISC"},
	{"This is free and unencumbered software released into the public domain", "Unlicense"},
	{"CC0 1.0 Universal", "CC0-1.0"},
}

type module struct {
	path, version, dir string
	where              where
	ids                []string
	texts              []string // names of the files
}

// where tells the nearest place to a rider that a module gets to.
type where int

const (
	inTests  where = iota // and tools
	inFleet               // cogledger-fleet, the operators' program
	inRiders              // cogledger
)

func main() {
	out := flag.String("o", "", "write the list to this file")
	check := flag.String("check", "", "compare the list with this file")
	notices := flag.String("notices", "", "write the licences' texts to this file")
	flag.Parse()
	if err := run(*out, *check, *notices); err != nil {
		fmt.Fprintln(os.Stderr, "licences:", err)
		os.Exit(1)
	}
}

func run(out, check, notices string) error {
	modules, err := gather()
	if err != nil {
		return err
	}
	list := table(modules)
	switch {
	case out != "":
		return os.WriteFile(out, list, 0o644)
	case check != "":
		was, err := os.ReadFile(check)
		if err != nil {
			return err
		}
		if !bytes.Equal(was, list) {
			return fmt.Errorf("%s is out of date: go run ./.ci/licences -o %s", check, check)
		}
		return nil
	case notices != "":
		return writeNotices(notices, modules)
	}
	_, err = os.Stdout.Write(list)
	return err
}

// gather asks the Go tool what is built in, on every platform, and reads the
// licences.
func gather() ([]*module, error) {
	all := map[string]*module{}
	for _, platform := range platforms {
		if err := add(all, platform, inRiders, "./cmd/cogledger"); err != nil {
			return nil, err
		}
		if err := add(all, platform, inFleet, "./cmd/cogledger-fleet"); err != nil {
			return nil, err
		}
	}
	if err := add(all, platforms[0], inTests, "-test", "./..."); err != nil {
		return nil, err
	}
	var failed error
	modules := slices.SortedFunc(maps.Values(all), func(a, b *module) int { return strings.Compare(a.path, b.path) })
	for _, m := range modules {
		failed = errors.Join(failed, m.read())
	}
	return modules, failed
}

func add(all map[string]*module, platform string, at where, what ...string) error {
	system, machine, _ := strings.Cut(platform, "/")
	cmd := exec.Command("go", append([]string{"list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}}\t{{.Version}}\t{{.Dir}}{{end}}{{end}}"}, what...)...)
	cmd.Env = append(os.Environ(), "GOOS="+system, "GOARCH="+machine, "CGO_ENABLED=0")
	cmd.Stderr = os.Stderr
	listed, err := cmd.Output()
	if err != nil {
		return fmt.Errorf("go list for %s: %w", platform, err)
	}
	for line := range strings.Lines(string(listed)) {
		fields := strings.Split(strings.TrimSpace(line), "\t")
		if len(fields) != 3 {
			continue
		}
		m := all[fields[0]]
		if m == nil {
			m = &module{path: fields[0], version: fields[1], dir: fields[2]}
			all[fields[0]] = m
		}
		m.where = max(m.where, at)
	}
	return nil
}

// read finds the licences of a module.
func (m *module) read() error {
	entries, err := os.ReadDir(m.dir)
	if err != nil {
		return fmt.Errorf("%s: %w", m.path, err)
	}
	for _, e := range entries {
		name := strings.ToUpper(e.Name())
		if e.IsDir() || strings.HasSuffix(name, ".GO") {
			continue
		}
		switch {
		case strings.HasPrefix(name, "LICENSE"), strings.HasPrefix(name, "LICENCE"), strings.HasPrefix(name, "COPYING"):
			text, err := os.ReadFile(filepath.Join(m.dir, e.Name()))
			if err != nil {
				return err
			}
			m.texts = append(m.texts, e.Name())
			if id := classify(string(text)); id != "" && !slices.Contains(m.ids, id) {
				m.ids = append(m.ids, id)
			}
		case strings.HasPrefix(name, "NOTICE"), strings.HasPrefix(name, "PATENTS"), strings.HasPrefix(name, "AUTHORS"):
			m.texts = append(m.texts, e.Name())
		}
	}
	if len(m.ids) == 0 {
		return fmt.Errorf("%s %s: no licence that is known to go with ours in %v; read it, and add it or leave the module", m.path, m.version, m.texts)
	}
	if m.where == inRiders && slices.Contains(m.ids, "MPL-2.0") {
		return fmt.Errorf("%s %s: its licence asks that users are told where its source is; keep it to cogledger-fleet", m.path, m.version)
	}
	return nil
}

func classify(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	for _, l := range licences {
		if strings.Contains(strings.ToLower(text), strings.ToLower(l.phrase)) {
			return l.id
		}
	}
	return ""
}

func table(modules []*module) []byte {
	var b bytes.Buffer
	b.WriteString(`# Licences of what the programs are built from

Made by ` + "`go run ./.ci/licences -o docs/licences.md`" + `; continuous integration fails when the list is out of date or a licence is
not known to go with the project's own, which is MIT. Every module is pinned by version in go.mod and by content in go.sum.
Release archives carry the full texts in THIRD-PARTY.txt. The Go library itself is under BSD-3-Clause. The chart script that
` + "`make script`" + ` fetches is Apache ECharts 6.1.0 under Apache-2.0, pinned by its SHA-256; its notice stays in the file.
Modules under MPL-2.0 are in cogledger-fleet alone, unchanged; their source is what the Go module proxy and their repositories
serve under the path and version that stand here.

`)
	for _, part := range []struct {
		title string
		where where
	}{{"In cogledger", inRiders}, {"In cogledger-fleet only", inFleet}, {"In tests and tools only", inTests}} {
		fmt.Fprintf(&b, "## %s\n\n| module | version | licence |\n|---|---|---|\n", part.title)
		for _, m := range modules {
			if m.where == part.where {
				fmt.Fprintf(&b, "| %s | %s | %s |\n", m.path, m.version, strings.Join(m.ids, ", "))
			}
		}
		b.WriteString("\n")
	}
	return append(bytes.TrimRight(b.Bytes(), "\n"), '\n')
}

// writeNotices puts the texts of all that is linked into one file, with that of
// the Go library.
func writeNotices(path string, modules []*module) error {
	var b bytes.Buffer
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return err
	}
	all := append([]*module{{path: "The Go library", dir: strings.TrimSpace(string(root)), texts: []string{"LICENSE"}, where: inRiders}}, modules...)
	for _, m := range all {
		if m.where == inTests {
			continue
		}
		fmt.Fprintf(&b, "%s\n%s %s\n\n", strings.Repeat("=", 78), m.path, m.version)
		for _, name := range m.texts {
			text, err := os.Open(filepath.Join(m.dir, name))
			if err != nil {
				return err
			}
			_, err = io.Copy(&b, text)
			text.Close()
			if err != nil {
				return err
			}
			b.WriteString("\n")
		}
	}
	return os.WriteFile(path, b.Bytes(), 0o644)
}
