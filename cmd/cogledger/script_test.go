package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "write the golden parts of the scripts anew")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"cogledger": func() {
			os.Exit(run(context.Background(), os.Stdin, os.Stdout, os.Stderr, os.Args[1:]))
		},
	})
}

// The scripts in testdata/script are what a user types, with what must come of it.
func TestScripts(t *testing.T) {
	modules := map[string]string{}
	for name, path := range map[string]string{
		"TORMODER":  "github.com/tormoder/fit",
		"MUKTIHARI": "github.com/muktihari/fit",
		"GPXGO":     "github.com/tkrajina/gpxgo",
	} {
		out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", path).Output()
		if err != nil {
			t.Fatalf("where is module %s: %v", path, err)
		}
		modules[name] = strings.TrimSpace(string(out))
	}
	testscript.Run(t, testscript.Params{
		Dir:           "testdata/script",
		UpdateScripts: *update,
		Setup: func(env *testscript.Env) error {
			for name, dir := range modules {
				env.Setenv(name, dir)
			}
			env.Setenv("NO_COLOR", "1")
			return nil
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"exits":    exits,
			"jsonhas":  jsonHas,
			"truncate": truncate,
			"flipbyte": flipByte,
			"jpeg":     jpegFile,
		},
	})
}

// exits CODE PROGRAM ARGS... runs a program and wants that exit code; stdout
// and stderr are kept for the next lines.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE PROGRAM ARGS...")
	}
	err := ts.Exec(args[1], args[2:]...)
	code := 0
	if err != nil {
		code = -1
		if exit, ok := err.(*exec.ExitError); ok {
			code = exit.ExitCode()
		}
	}
	if fmt.Sprint(code) != args[0] {
		ts.Fatalf("exit code %d, want %s", code, args[0])
	}
}

// jsonhas FILE KEY... wants the dotted keys in the JSON, finite where numbers.
func jsonHas(ts *testscript.TestScript, neg bool, args []string) {
	var doc any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(args[0])), &doc))
	for _, key := range args[1:] {
		if at := find(doc, strings.Split(key, ".")); (at == nil) != neg {
			ts.Fatalf("%s: key %s: %v", args[0], key, at)
		}
	}
}

func find(at any, path []string) any {
	for _, step := range path {
		switch node := at.(type) {
		case map[string]any:
			at = node[step]
		case []any:
			var i int
			if _, err := fmt.Sscan(step, &i); err != nil || i >= len(node) {
				return nil
			}
			at = node[i]
		default:
			return nil
		}
	}
	if x, ok := at.(float64); ok && (math.IsNaN(x) || math.IsInf(x, 0)) {
		return nil
	}
	return at
}

// truncate FROM TO SHARE keeps the first share (0..1) of a file.
func truncate(ts *testscript.TestScript, neg bool, args []string) {
	data := []byte(ts.ReadFile(args[0]))
	var share float64
	_, err := fmt.Sscan(args[2], &share)
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), data[:int(share*float64(len(data)))], 0o666))
}

// flipbyte FROM TO OFFSET inverts one byte, counted from the end where negative.
func flipByte(ts *testscript.TestScript, neg bool, args []string) {
	data := bytes.Clone([]byte(ts.ReadFile(args[0])))
	var at int
	_, err := fmt.Sscan(args[2], &at)
	ts.Check(err)
	if at < 0 {
		at += len(data)
	}
	data[at] ^= 0xff
	ts.Check(os.MkdirAll(filepath.Dir(ts.MkAbs(args[1])), 0o777))
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), data, 0o666))
}

// jpeg FILE writes a small picture.
func jpegFile(ts *testscript.TestScript, neg bool, args []string) {
	var b bytes.Buffer
	ts.Check(jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 64)), nil))
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b.Bytes(), 0o666))
}
