package counter

import (
	"context"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// What a killed server has left goes at the next start; what belongs to one
// that runs, or to nobody knows whom, stays.
func TestOrphansAreSwept(t *testing.T) {
	parent := t.TempDir()
	ended := exec.Command(os.Args[0], "-test.run=^$")
	if err := ended.Run(); err != nil {
		t.Fatal(err)
	}
	folder := func(name string, age time.Duration) string {
		dir := filepath.Join(parent, name)
		if err := os.MkdirAll(filepath.Join(dir, "job-1", logs), 0o700); err != nil {
			t.Fatal(err)
		}
		then := time.Now().Add(-age)
		if err := os.Chtimes(dir, then, then); err != nil {
			t.Fatal(err)
		}
		return dir
	}
	gone := []string{
		folder(folderName+strconv.Itoa(ended.Process.Pid)+"-1", 0),
		folder(folderName+"1234567", 2*unsignedAge),
	}
	stay := []string{
		folder(folderName+strconv.Itoa(os.Getppid())+"-3", 2*unsignedAge),
		folder(folderName+"7654321", 0),
		folder("another-program", 2*unsignedAge),
	}
	s, err := New(Options{Work: echo, WorkDir: parent})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, dir := range gone {
		if _, err := os.Stat(dir); err == nil {
			t.Errorf("%s is left", dir)
		}
	}
	for _, dir := range stay {
		if _, err := os.Stat(dir); err != nil {
			t.Errorf("%s is gone", dir)
		}
	}
}

// However many jobs wait at a time, no more finished ones are held than said.
func TestHeldAfterARush(t *testing.T) {
	gate := make(chan struct{})
	slow := func(ctx context.Context, o Order, tell func(Progress)) (Outcome, error) {
		<-gate
		return echo(ctx, o, tell)
	}
	s := open(t, Options{Work: slow, Held: 3, Bikes: []Bike{{Name: "Test bike", YAML: []byte("x")}}})
	for range 12 {
		if code, _ := s.post(newForm(map[string]string{"bike": "Test bike"}, [3]string{"before", "a.fit", "x"})); code != http.StatusAccepted {
			t.Fatalf("status %d", code)
		}
	}
	close(gate)
	held := 0
	for range 1000 {
		s.mu.Lock()
		held = len(s.jobs)
		s.mu.Unlock()
		if held <= 3 {
			return
		}
		time.Sleep(5 * time.Millisecond)
	}
	t.Errorf("%d jobs are held", held)
}

// A form that ends early, and a name with a NUL in it, are the sender's fault.
func TestDamagedForms(t *testing.T) {
	s := open(t, Options{Work: echo})
	part := "--b\r\nContent-Disposition: form-data; name=\"before\"; filename=\"a.fit\"\r\n\r\n"
	for _, body := range []string{
		part + "cut off",
		strings.Replace(part, "a.fit", "a\x00.fit", 1) + "x\r\n--b--\r\n",
		"--b\r\nContent-Disp",
		"--b\r\n: x\r\n\r\n",
		"",
	} {
		resp, text := s.do("POST", "/jobs", strings.NewReader(body), map[string]string{"Content-Type": "multipart/form-data; boundary=b"})
		if resp.StatusCode != http.StatusBadRequest {
			t.Errorf("%q: status %d, %s", body, resp.StatusCode, text)
		}
	}
}
