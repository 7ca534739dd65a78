package counter

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// A shop is a running server for tests.
type shop struct {
	*Server
	t    *testing.T
	base string
}

func open(t *testing.T, o Options) shop {
	t.Helper()
	o.WorkDir = t.TempDir()
	if o.Bikes == nil {
		o.Bikes = []Bike{{"Test bike", []byte("name: Test bike")}}
	}
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	l, err := Listen("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, l) }()
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		if left, _ := os.ReadDir(o.WorkDir); len(left) > 0 {
			t.Errorf("%d folders are left after the end", len(left))
		}
	})
	return shop{s, t, "http://" + l.Addr().String()}
}

// A form is what the page would send.
type form struct {
	body        bytes.Buffer
	contentType string
}

func newForm(fields map[string]string, files ...[3]string) *form {
	f := &form{}
	w := multipart.NewWriter(&f.body)
	for k, v := range fields {
		w.WriteField(k, v)
	}
	for _, file := range files {
		part, _ := w.CreateFormFile(file[0], file[1])
		io.WriteString(part, file[2])
	}
	w.Close()
	f.contentType = w.FormDataContentType()
	return f
}

func (s shop) do(method, path string, body io.Reader, header map[string]string) (*http.Response, []byte) {
	s.t.Helper()
	req, err := http.NewRequest(method, s.base+path, body)
	if err != nil {
		s.t.Fatal(err)
	}
	for k, v := range header {
		if k == "Host" {
			req.Host = v
			continue
		}
		req.Header.Set(k, v)
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		s.t.Fatal(err)
	}
	defer resp.Body.Close()
	data, err := io.ReadAll(resp.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	return resp, data
}

func (s shop) post(f *form) (int, status) {
	s.t.Helper()
	resp, data := s.do("POST", "/jobs", &f.body, map[string]string{"Content-Type": f.contentType})
	var st status
	json.Unmarshal(data, &st)
	return resp.StatusCode, st
}

// until waits for the job to be in the state.
func (s shop) until(id int, want state) status {
	s.t.Helper()
	var st status
	for range 1000 {
		_, data := s.do("GET", fmt.Sprintf("/jobs/%d", id), nil, nil)
		if err := json.Unmarshal(data, &st); err != nil {
			s.t.Fatal(err)
		}
		if st.State == want {
			return st
		}
		time.Sleep(5 * time.Millisecond)
	}
	s.t.Fatalf("job %d is %s, not %s", id, st.State, want)
	return st
}

// echo is work that repeats what it was given.
func echo(_ context.Context, o Order, tell func(Progress)) (Outcome, error) {
	tell(Progress{"reading", 1, 2})
	var b strings.Builder
	for _, f := range append(o.Before, o.After...) {
		data, err := os.ReadFile(f.Path)
		if err != nil {
			return Outcome{}, err
		}
		fmt.Fprintf(&b, "%s=%s;", f.Name, data)
	}
	fmt.Fprintf(&b, "bike=%s learn=%v tyre=%s", o.Bike, o.Learn, o.Tyre)
	return Outcome{
		Documents: []Document{{"report.html", "Report", []byte(b.String())}, {"bike.yaml", "Bike", []byte("name: x")}},
		Problems:  []Problem{{"bad.fit", "not a ride"}},
		Summary:   []string{"One ride."},
	}, nil
}

func TestJobFromDropToDocument(t *testing.T) {
	s := open(t, Options{Work: echo})
	code, st := s.post(newForm(map[string]string{"bike": "Test bike", "learn": "yes", "tyre": " 47-622 "},
		[3]string{"before", "a.fit", "one"}, [3]string{"before", "a.fit", "two"}, [3]string{"after", "b.fit", "three"}))
	if code != http.StatusAccepted {
		t.Fatalf("status %d", code)
	}
	st = s.until(st.ID, done)
	if len(st.Files) != 3 || st.After != 1 || len(st.Problems) != 1 || st.Problems[0].File != "bad.fit" || len(st.Documents) != 2 {
		t.Errorf("status %+v", st)
	}
	resp, data := s.do("GET", "/jobs/1/report.html", nil, nil)
	if want := "a.fit=one;a.fit=two;b.fit=three;bike=name: Test bike learn=true tyre=47-622"; string(data) != want {
		t.Errorf("document %q, want %q", data, want)
	}
	if p := resp.Header.Get("Content-Security-Policy"); !strings.HasPrefix(p, "sandbox ") || strings.Contains(p, "allow-same-origin") {
		t.Errorf("the document is not shut off from the page: %q", p)
	}
	resp, _ = s.do("GET", "/jobs/1/bike.yaml", nil, nil)
	if !strings.HasPrefix(resp.Header.Get("Content-Disposition"), "attachment") {
		t.Error("the profile is not offered for saving")
	}
	<-s.find(1).ended
	if _, err := os.Stat(filepath.Join(s.find(1).dir, logs)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the logs are still there: %v", err)
	}
	for _, path := range []string{"/jobs/1/other.html", "/jobs/1/..%2f..%2freport.html", "/jobs/2", "/jobs/x", "/page/counter.js"} {
		if resp, _ := s.do("GET", path, nil, nil); resp.StatusCode != http.StatusNotFound {
			t.Errorf("%s: status %d", path, resp.StatusCode)
		}
	}
	s.do("DELETE", "/jobs/1", nil, nil)
	if resp, _ := s.do("GET", "/jobs/1/report.html", nil, nil); resp.StatusCode != http.StatusNotFound {
		t.Errorf("a removed job still answers: %d", resp.StatusCode)
	}
}

func TestForeignRequestsAreRefused(t *testing.T) {
	s := open(t, Options{Work: echo})
	_, st := s.post(newForm(map[string]string{"bike": "Test bike"}, [3]string{"before", "a.fit", "one"}))
	s.until(st.ID, done)
	port := s.base[strings.LastIndex(s.base, ":"):]
	for _, c := range []struct {
		name   string
		header map[string]string
		want   bool
	}{
		{"no sign of a browser", nil, true},
		{"own page", map[string]string{"Origin": s.base, "Sec-Fetch-Site": "same-origin"}, true},
		{"typed address", map[string]string{"Sec-Fetch-Site": "none"}, true},
		{"by the name localhost", map[string]string{"Host": "localhost" + port, "Origin": "http://localhost" + port}, true},
		{"foreign host", map[string]string{"Host": "evil.example" + port}, false},
		{"foreign host, own origin there", map[string]string{"Host": "evil.example" + port, "Origin": "http://evil.example" + port}, false},
		{"host with another port", map[string]string{"Host": "127.0.0.1:1"}, false},
		{"host without port", map[string]string{"Host": "127.0.0.1"}, false},
		{"foreign origin", map[string]string{"Origin": "https://evil.example"}, false},
		{"origin of a sandbox or a file", map[string]string{"Origin": "null"}, false},
		{"another server on this machine", map[string]string{"Origin": "http://127.0.0.1:1"}, false},
		{"own origin over another scheme", map[string]string{"Origin": strings.Replace(s.base, "http", "https", 1)}, false},
		{"picture on a foreign page", map[string]string{"Sec-Fetch-Site": "cross-site"}, false},
		{"another port of this host", map[string]string{"Sec-Fetch-Site": "same-site"}, false},
	} {
		for _, path := range []string{"GET /", "GET /offer", "GET /jobs", "GET /jobs/1", "GET /jobs/1/report.html", "POST /jobs", "DELETE /jobs/9"} {
			method, path, _ := strings.Cut(path, " ")
			resp, _ := s.do(method, path, nil, c.header)
			if refused := resp.StatusCode == http.StatusForbidden; refused == c.want {
				t.Errorf("%s: %s %s: status %d", c.name, method, path, resp.StatusCode)
			}
		}
	}
}

// An address that other machines reach is no place for this page.
func TestOnlyThisMachine(t *testing.T) {
	for addr, want := range map[string]bool{"127.0.0.1:8000": true, "[::1]:8000": true, "0.0.0.0:8000": false, "[::]:8000": false, "192.0.2.7:8000": false} {
		a, err := net.ResolveTCPAddr("tcp", addr)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := ownHosts(a); (err == nil) != want {
			t.Errorf("%s: %v", addr, err)
		}
	}
}

// zeros is a body without end that counts what was read of it.
type zeros struct {
	left int64
	read atomic.Int64
}

func (z *zeros) Read(p []byte) (int, error) {
	if z.left == 0 {
		return 0, io.EOF
	}
	n := min(int64(len(p)), z.left)
	clear(p[:n])
	z.left -= n
	z.read.Add(n)
	return int(n), nil
}

// Two gigabytes are refused at the limit, whether their length is told or not,
// and never lie in memory.
func TestTooLargeUpload(t *testing.T) {
	const limit, huge = 64e6, 2e9
	s := open(t, Options{Work: echo, MaxUpload: limit})
	head := "--b\r\nContent-Disposition: form-data; name=\"before\"; filename=\"huge.fit\"\r\n\r\n"
	for _, told := range []bool{true, false} {
		runtime.GC()
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		body := &zeros{left: huge}
		req, err := http.NewRequest("POST", s.base+"/jobs", io.MultiReader(strings.NewReader(head), body))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "multipart/form-data; boundary=b")
		if told {
			req.ContentLength = int64(len(head)) + huge
		}
		resp, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatalf("length told %v: %v", told, err)
		}
		text, _ := io.ReadAll(resp.Body)
		resp.Body.Close()
		runtime.ReadMemStats(&after)
		if resp.StatusCode != http.StatusRequestEntityTooLarge || !strings.Contains(string(text), "64 MB") {
			t.Errorf("length told %v: status %d, %s", told, resp.StatusCode, text)
		}
		most := int64(8e6) // what lies in the sockets' buffers
		if !told {
			most += limit
		}
		if read := body.read.Load(); read > most {
			t.Errorf("length told %v: %d bytes were taken in", told, read)
		}
		if grown := int64(after.TotalAlloc - before.TotalAlloc); grown > 8e6 {
			t.Errorf("length told %v: %d bytes of memory were used", told, grown)
		}
		if left, _ := os.ReadDir(s.dir); len(left) > 0 {
			t.Errorf("length told %v: %d folders are left", told, len(left))
		}
	}
	if code, _ := s.post(newForm(map[string]string{"bike": "Test bike"}, [3]string{"before", "a.fit", "x"})); code != http.StatusAccepted {
		t.Errorf("after the refusal a small upload got %d", code)
	}
}

func TestWrongForms(t *testing.T) {
	s := open(t, Options{Work: echo, MaxFiles: 2})
	file := [3]string{"before", "a.fit", "x"}
	for _, c := range []struct {
		name string
		form *form
		want int
	}{
		{"no file", newForm(map[string]string{"bike": "Test bike"}), http.StatusBadRequest},
		{"only later rides", newForm(map[string]string{"bike": "Test bike"}, [3]string{"after", "a.fit", "x"}), http.StatusBadRequest},
		{"no bike", newForm(nil, file), http.StatusBadRequest},
		{"unknown bike", newForm(map[string]string{"bike": "Other"}, file), http.StatusBadRequest},
		{"too many files", newForm(map[string]string{"bike": "Test bike"}, file, file, file), http.StatusRequestEntityTooLarge},
		{"huge field", newForm(map[string]string{"bike": strings.Repeat("x", 5000)}, file), http.StatusRequestEntityTooLarge},
		{"huge profile", newForm(nil, [3]string{"profile", "b.yaml", strings.Repeat("x", 300_000)}, file), http.StatusRequestEntityTooLarge},
		{"own profile", newForm(nil, [3]string{"profile", "b.yaml", "name: mine"}, file), http.StatusAccepted},
	} {
		if code, _ := s.post(c.form); code != c.want {
			t.Errorf("%s: status %d, want %d", c.name, code, c.want)
		}
	}
	if resp, _ := s.do("POST", "/jobs", strings.NewReader("{}"), map[string]string{"Content-Type": "application/json"}); resp.StatusCode != http.StatusBadRequest {
		t.Errorf("not a form: status %d", resp.StatusCode)
	}
}

// byName is work that blocks, fails or panics as the log's name says.
func byName(ctx context.Context, o Order, tell func(Progress)) (Outcome, error) {
	switch o.Before[0].Name {
	case "slow":
		<-ctx.Done()
		return Outcome{}, ctx.Err()
	case "bad":
		return Outcome{Problems: []Problem{{"bad", "not a ride"}}}, errors.New("no ride could be read")
	case "fault":
		panic("boom")
	}
	return echo(ctx, o, tell)
}

func TestOneJobDoesNotBlockAnother(t *testing.T) {
	s := open(t, Options{Work: byName, AtOnce: 2})
	send := func(name string) int {
		_, st := s.post(newForm(map[string]string{"bike": "Test bike"}, [3]string{"before", name, "x"}))
		return st.ID
	}
	slow := send("slow")
	s.until(slow, working)
	s.until(send("quick"), done)
	if st := s.until(send("bad"), failed); st.Trouble != "no ride could be read" || len(st.Problems) != 1 {
		t.Errorf("a bad log: %+v", st)
	}
	if st := s.until(send("fault"), failed); !strings.Contains(st.Trouble, "boom") {
		t.Errorf("a fault: %+v", st)
	}

	second := send("slow")
	s.until(second, working)
	third := send("quick") // both places are taken
	s.until(third, waiting)
	s.do("DELETE", fmt.Sprintf("/jobs/%d", second), nil, nil)
	if st := s.until(second, cancelled); len(st.Documents) != 0 {
		t.Errorf("a cancelled job has documents: %+v", st)
	}
	s.until(third, done)
	fourth := send("slow")
	s.until(fourth, working)
	fifth := send("quick")
	s.do("DELETE", fmt.Sprintf("/jobs/%d", fifth), nil, nil)
	s.until(fifth, cancelled) // while it waited
}

func TestTimeLimit(t *testing.T) {
	s := open(t, Options{Work: byName, JobTime: 30 * time.Millisecond})
	_, st := s.post(newForm(map[string]string{"bike": "Test bike"}, [3]string{"before", "slow", "x"}))
	if st := s.until(st.ID, failed); !strings.Contains(st.Trouble, "30ms") {
		t.Errorf("%q does not tell the limit", st.Trouble)
	}
}

func TestOldJobsAreDropped(t *testing.T) {
	s := open(t, Options{Work: byName, Held: 2, AtOnce: 8})
	for _, name := range []string{"slow", "a", "b", "c"} {
		_, st := s.post(newForm(map[string]string{"bike": "Test bike"}, [3]string{"before", name, "x"}))
		if name != "slow" {
			s.until(st.ID, done)
		}
	}
	_, data := s.do("GET", "/jobs", nil, nil)
	var all []status
	if err := json.Unmarshal(data, &all); err != nil {
		t.Fatal(err)
	}
	if len(all) != 2 || all[0].ID != 1 || all[1].ID != 4 {
		t.Errorf("held: %+v", all)
	}
}

func TestKeptOnlyIfAsked(t *testing.T) {
	keep := filepath.Join(t.TempDir(), "kept")
	s := open(t, Options{Work: echo, KeepDir: keep, Now: func() time.Time { return time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC) }})
	file := [3]string{"before", "../../evil dir/a.fit", "one"}
	_, st := s.post(newForm(map[string]string{"bike": "Test bike"}, file))
	s.until(st.ID, done)
	if _, err := os.Stat(keep); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("kept without being asked: %v", err)
	}
	_, st = s.post(newForm(map[string]string{"bike": "Test bike", "keep": "yes"}, file))
	st = s.until(st.ID, done)
	for _, name := range []string{"report.html", "bike.yaml", "logs/001/a.fit"} {
		if _, err := os.Stat(filepath.Join(keep, "2026-03-04 05.06.07 job 2", name)); err != nil {
			t.Error(err)
		}
	}
	if st.Kept == "" {
		t.Error("the page is not told where")
	}
}

// Whatever a browser sends, a name is one plain element of a path.
func TestCleanName(t *testing.T) {
	for in, want := range map[string]string{"ride 1.fit": "ride 1.fit", "": "unnamed", "..": "unnamed", "a\x00b\n.fit": "a_b_.fit", `c:\x.fit`: "c__x.fit", "Tür-è.gpx": "Tür-è.gpx", "<b>.csv": "_b_.csv"} {
		if got := cleanName(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		name := cleanName(rapid.String().Draw(t, "name"))
		if name == "" || name == "." || name == ".." || len(name) > 120 || strings.ContainsAny(name, `/\:*?"<>|`) || filepath.Base(name) != name {
			t.Fatalf("%q", name)
		}
		if again := cleanName(name); again != name {
			t.Fatalf("%q becomes %q", name, again)
		}
	})
}
