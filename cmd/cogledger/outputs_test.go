package main

import (
	"bytes"
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"cogledger/cmd/internal/fleetmade"
	"cogledger/cmd/internal/plain"
)

// No input changes a byte, whatever command, output flag and name it is asked to
// be overwritten by. All is refused before anything is read, so the inputs need
// hold no ride.
func TestNoOutputDestroysAnInput(t *testing.T) {
	inputs := []string{"own.fit", "second.csv", "bike.yaml", "other.yaml", "columns.yaml"}
	commands := []struct {
		args    string
		reads   []string
		outputs []string
	}{
		{"review own.fit --join second.csv --bike bike.yaml --columns columns.yaml", []string{"own.fit", "second.csv", "bike.yaml", "columns.yaml"}, []string{"-o", "--json"}},
		{"coach own.fit --bike bike.yaml --columns columns.yaml", []string{"own.fit", "bike.yaml", "columns.yaml"}, []string{"-o"}},
		{"replay own.fit --bike bike.yaml --with other.yaml --columns columns.yaml", []string{"own.fit", "bike.yaml", "other.yaml", "columns.yaml"}, []string{"-o", "--json"}},
		{"bike curves bike.yaml", []string{"bike.yaml"}, []string{"-o", "--csv"}},
		{"bike learn own.fit --bike bike.yaml --columns columns.yaml", []string{"own.fit", "bike.yaml", "columns.yaml"}, []string{"-o", "--picture"}},
	}
	names := map[string]func(dir, file string) (string, error){
		"by its name":     func(_, file string) (string, error) { return file, nil },
		"by another path": func(dir, file string) (string, error) { return filepath.Join(dir, "sub", "..", file), nil },
		"by a hard link":  func(_, file string) (string, error) { return "hard", os.Link(file, "hard") },
		"by a link":       func(_, file string) (string, error) { return "soft", os.Symlink(file, "soft") },
		"by a linked folder": func(dir, file string) (string, error) {
			return filepath.Join("folder", file), os.Symlink(dir, "folder")
		},
		"by other letters": func(_, file string) (string, error) { return strings.ToUpper(file), nil },
	}
	tried := 0
	for _, c := range commands {
		for _, flag := range c.outputs {
			for _, target := range c.reads {
				for how, name := range names {
					for _, force := range []bool{false, true} {
						dir := t.TempDir()
						t.Chdir(dir)
						if err := os.Mkdir("sub", 0o700); err != nil {
							t.Fatal(err)
						}
						for _, in := range inputs {
							if err := os.WriteFile(in, []byte("kept: "+in), 0o600); err != nil {
								t.Fatal(err)
							}
						}
						path, err := name(dir, target)
						if err != nil {
							continue // a system without such links
						}
						if _, err := os.Stat(path); err != nil {
							continue // a system that tells letters apart
						}
						args := append(strings.Fields(c.args), flag, path)
						if force {
							args = append(args, "--force")
						}
						var out, said bytes.Buffer
						if code := run(context.Background(), strings.NewReader(""), &out, &said, args); code == exitDone || !strings.Contains(said.String(), "refused: it is the input") {
							t.Errorf("%v, %s %s: exit %d, %s", args, flag, how, code, said.String())
						}
						for _, in := range inputs {
							if now, err := os.ReadFile(in); err != nil || string(now) != "kept: "+in {
								t.Errorf("%v: %s holds %q, %v", args, in, now, err)
							}
						}
						tried++
					}
				}
			}
		}
	}
	if tried < 150 {
		t.Errorf("%d ways tried", tried)
	}
}

// An old table is named with its flag before anything is computed, and neither
// the page nor the other table is written.
func TestOldTableStopsReviewAtOnce(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.Mkdir("tables", 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("tables/segments.csv", []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	var out, said bytes.Buffer
	code := run(context.Background(), strings.NewReader(""), &out, &said, strings.Fields("review ride.fit --bike bike.yaml --csv tables"))
	if code != exitFailed || !strings.Contains(said.String(), "--csv tables/segments.csv") || !strings.Contains(said.String(), "--force") {
		t.Errorf("exit %d, %s", code, said.String())
	}
	for _, path := range []string{"report.html", "tables/seconds.csv"} {
		if _, err := os.Stat(path); err == nil {
			t.Errorf("%s was written", path)
		}
	}
}

// A fleet's page and exports replace no log, profile, map or store, and no folder
// that happens to be called as a table is.
func TestNoFleetOutputDestroysAnInput(t *testing.T) {
	for _, args := range []string{
		"-o rides/a.fit", "-o bikes/fleet.csv", "-o bikes/x.yaml", "-o fleet.sqlite", "-o rides", "-o notes.html",
		"--parquet .", "--csv tables", "--csv rides/a.fit", "--parquet both --csv both",
	} {
		t.Run(args, func(t *testing.T) {
			t.Chdir(t.TempDir())
			inputs := []string{"rides/a.fit", "bikes/x.yaml", "bikes/fleet.csv", "fleet.sqlite", "notes.html", "tables/rides.csv", "tables/COLUMNS.md"}
			for _, path := range inputs {
				if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(path, []byte("kept"), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			var out, said bytes.Buffer
			line := "fleet rides --bikes bikes --store fleet.sqlite --force " + args
			if code := run(context.Background(), strings.NewReader(""), &out, &said, strings.Fields(line)); code == exitDone {
				t.Errorf("exit %d", code)
			}
			if flag, _, _ := strings.Cut(strings.TrimLeft(args, "-"), " "); !strings.Contains(said.String(), "-"+flag) && !(flag == "o" && strings.Contains(said.String(), "--output")) {
				t.Errorf("the flag is not named: %s", said.String())
			}
			for _, path := range inputs {
				if now, err := os.ReadFile(path); err != nil || string(now) != "kept" {
					t.Errorf("%s holds %q, %v", path, now, err)
				}
			}
			for _, path := range []string{"both", "fleet.html"} {
				if _, err := os.Stat(path); err == nil {
					t.Errorf("%s was made", path)
				}
			}
		})
	}
}

// A run that was asked to stop says so by its exit code, and writes nothing.
func TestStoppedRun(t *testing.T) {
	t.Chdir(t.TempDir())
	var out, said bytes.Buffer
	if code := run(context.Background(), strings.NewReader(""), &out, &said, []string{"bike", "new", "-o", "bike.yaml"}); code != exitDone {
		t.Fatal(said.String())
	}
	if err := os.WriteFile("ride.csv", []byte("time,speed\n0,5\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancelCause(context.Background())
	cancel(&plain.Stop{Signal: os.Interrupt})
	if code := run(ctx, strings.NewReader(""), &out, &said, strings.Fields("review ride.csv --bike bike.yaml")); code != plain.Interrupted {
		t.Errorf("exit %d, %s", code, said.String())
	}
	if _, err := os.Stat("report.html"); err == nil {
		t.Error("a page was written")
	}
}

// Commands that fill a folder refuse one in which a file of theirs is another's,
// and then write nothing.
func TestFilledFoldersKeepWhatIsThere(t *testing.T) {
	for _, c := range []struct{ args, file, says string }{
		{"demo d", "d/bike.yaml", "add --force"},
		{"demo d", "d/report.html", "add --force"},
		{"demo d --rides 4 --bikes 2", "d/bikes/default.yaml", "add --force"},
		{"demo d --rides 4 --bikes 2", "d/rides/bike-0001/000001.fit", "add --force"},
		{"bike new -o d/bike.yaml", "d/bike.yaml", "add --force"},
		{"review d/seconds.csv --bike bike.yaml --csv d --force", "d/seconds.csv", "it is the input"},
		{"man d", "d/cogledger-bike-check.1", "another folder"},
	} {
		t.Run(c.args+" over "+c.file, func(t *testing.T) {
			t.Chdir(t.TempDir())
			if c.file == "d/rides/bike-0001/000001.fit" {
				c.file = fleetmade.Paths("d", fleetmade.Options{Rides: 4, Bikes: 2, Seed: 1})[2]
			}
			if err := os.MkdirAll(filepath.Dir(c.file), 0o700); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(c.file, []byte("kept"), 0o600); err != nil {
				t.Fatal(err)
			}
			var out, said bytes.Buffer
			if code := run(context.Background(), strings.NewReader(""), &out, &said, strings.Fields(c.args)); code != exitFailed || !strings.Contains(said.String(), c.says) {
				t.Errorf("exit %d, %s", code, said.String())
			}
			if now, err := os.ReadFile(c.file); err != nil || string(now) != "kept" {
				t.Errorf("%q, %v", now, err)
			}
			files := 0
			filepath.WalkDir("d", func(_ string, e fs.DirEntry, _ error) error {
				if !e.IsDir() {
					files++
				}
				return nil
			})
			if files != 1 {
				t.Errorf("%d files", files)
			}
		})
	}
}

// Every flag that takes a text is known to read, to write or to do neither, so
// that a new output cannot go by the tests above unnoticed; so is every command
// that fills a folder.
func TestEveryOutputFlagIsTried(t *testing.T) {
	kinds := map[string]string{
		"output": "writes", "json": "writes", "csv": "writes", "parquet": "writes", "picture": "writes",
		"keep": "writes beside", // numbers its files anew: cmd/internal/counter
		"bike": "reads", "bikes": "reads", "map": "reads", "store": "reads", "columns": "reads", "join": "reads", "with": "reads", "after": "reads",
	}
	for _, other := range strings.Fields("name tyre chainrings cogs title units paper address forget forget-before max-time offset drift mechanism") {
		kinds[other] = "neither"
	}
	tried := map[string]bool{ // by the tests of this file
		"review --output": true, "review --json": true, "review --csv": true, "coach --output": true, "replay --output": true, "replay --json": true,
		"curves --output": true, "curves --csv": true, "learn --output": true, "learn --picture": true, "new --output": true,
		"fleet --output": true, "fleet --csv": true, "fleet --parquet": true,
	}
	var walk func(cmd *cobra.Command)
	walk = func(cmd *cobra.Command) {
		cmd.LocalFlags().VisitAll(func(f *pflag.Flag) {
			switch f.Value.Type() {
			case "bool", "int", "int64", "uint64", "float64", "float64Slice":
				return
			}
			kind, known := kinds[f.Name]
			if place := cmd.Name() + " --" + f.Name; !known || kind == "writes" && !tried[place] {
				t.Errorf("%s (%s) is not tried", place, f.Value.Type())
			}
		})
		for _, sub := range cmd.Commands() {
			walk(sub)
		}
	}
	walk(newRoot())
}
