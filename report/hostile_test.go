package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"cogledger/analysis"
)

// pageOf writes the page with a stand-in for the chart library, which is third
// party's and large.
func pageOf(t *testing.T, set *analysis.Set, o Options) string {
	t.Helper()
	var b bytes.Buffer
	if err := writePage(&b, set, o, "/* library */"); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// The page is parsed by an HTML5 parser (golang.org/x/net/html) as a browser
// would, and what it found is looked at: no element or attribute may stem from
// a text of the log.
func TestHostileTextsStayText(t *testing.T) {
	page := pageOf(t, one(hostileResult()), Options{})
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	allowed := map[string]bool{}
	for _, e := range strings.Fields("html head meta title style body svg defs pattern rect path circle g text a header p span bdi h1 h2 h3 main section div dl dt dd strong ol ul li b i em details summary table caption thead tbody tr th td figure figcaption label input output button article footer code script small br") {
		allowed[e] = true
	}
	scripts := 0
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode {
			if !allowed[n.Data] {
				t.Errorf("an element <%s> that the template does not write", n.Data)
			}
			if n.Data == "script" {
				scripts++
			}
			for _, a := range n.Attr {
				if strings.HasPrefix(a.Key, "on") || a.Key == "style" || a.Key == "src" {
					t.Errorf("<%s> has an attribute %s=%q", n.Data, a.Key, a.Val)
				}
				if a.Key == "href" && !strings.HasPrefix(a.Val, "#") {
					t.Errorf("a link leads out of the page: %q", a.Val)
				}
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(root)
	if want := 2 + strings.Count(page, `<script type="application/json"`); scripts != want {
		t.Errorf("%d scripts in the page, want %d", scripts, want)
	}
	if !strings.Contains(page, "&lt;script&gt;alert(1)&lt;/script&gt;") {
		t.Error("the ride's name is not shown as it is")
	}
	if !strings.Contains(page, "שלום עולם") || !strings.Contains(page, "🚴‍♀️") {
		t.Error("letters of other scripts are lost")
	}
}

func TestHostileTextsInJSON(t *testing.T) {
	text := document(t, one(hostileResult()))
	if strings.Contains(text, "</script") {
		t.Error("the document could end a script element")
	}
	var doc Document
	if err := json.Unmarshal([]byte(text), &doc); err != nil {
		t.Fatal(err)
	}
	if doc.Rides[0].Name != hostileName {
		t.Errorf("the name came back as %q", doc.Rides[0].Name)
	}
}

func TestHostileTextsOnTheTerminal(t *testing.T) {
	var b bytes.Buffer
	if err := Summary(&b, one(hostileResult()), Options{}); err != nil {
		t.Fatal(err)
	}
	for _, r := range b.String() {
		if r < ' ' && r != '\n' || r == 0x7f || r == 0x202e {
			t.Errorf("control character %U reaches the terminal", r)
		}
	}
}

// A cell that begins with one of these is computed by spreadsheets (OWASP,
// "CSV Injection").
func TestTablesAreSafeForSpreadsheets(t *testing.T) {
	for _, name := range []string{"=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1", "%0A"} {
		res := sampleResult(120, 0)
		res.Ride.Name = name
		dir := t.TempDir()
		if err := CSV(one(res), Options{}, into(dir)); err != nil {
			t.Fatal(err)
		}
		rows := readCSV(t, filepath.Join(dir, "segments.csv"))
		if got := rows[1][1]; !strings.HasPrefix(got, "'") {
			t.Errorf("%q is written as %q", name, got)
		}
	}
	for _, name := range []string{"Morning", "7 hills", "a=b", ""} {
		if got := safeText(name); got != name {
			t.Errorf("%q became %q", name, got)
		}
	}
}

// into writes tables as files of a folder.
func into(dir string) func(string, func(io.Writer) error) error {
	return func(name string, fill func(io.Writer) error) error {
		var b bytes.Buffer
		if err := fill(&b); err != nil {
			return err
		}
		return os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o600)
	}
}

func readCSV(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// No number that is not one is ever printed, whatever the log lacks.
func TestNaNIsNeverPrinted(t *testing.T) {
	bad := regexp.MustCompile(`\b(NaN|[+-]?Inf(inity)?|undefined|%!\w)`)
	for name, set := range map[string]*analysis.Set{"ride": sampleSet(1, 300), "bare": one(bareResult()), "modelled": one(modelledResult()), "week": sampleSet(3, 300), "empty": one(emptyResult())} {
		for _, o := range []Options{{}, {Privacy: true}, {Imperial: true}} {
			page := pageOf(t, set, o)
			page = strings.Replace(page, startScript, "", 1)
			if at := bad.FindStringIndex(page); at != nil {
				t.Errorf("%s: %q", name, page[max(0, at[0]-80):min(len(page), at[1]+40)])
			}
			dir := t.TempDir()
			if err := CSV(set, o, into(dir)); err != nil {
				t.Fatal(err)
			}
			for _, file := range []string{"seconds.csv", "segments.csv"} {
				data, _ := os.ReadFile(filepath.Join(dir, file))
				if at := bad.FindIndex(data); at != nil {
					t.Errorf("%s %s: %q", name, file, data[max(0, at[0]-80):at[1]])
				}
			}
			var b bytes.Buffer
			if err := Summary(&b, set, o); err != nil {
				t.Fatal(err)
			}
			if bad.Match(b.Bytes()) {
				t.Errorf("%s: summary:\n%s", name, b.String())
			}
		}
	}
}

// Everything outside the library's own code: no address of the network.
func TestPageNamesNoAddress(t *testing.T) {
	page := pageOf(t, sampleSet(2, 600), Options{})
	for _, word := range []string{"http:", "https:", "//cdn", "url(//", "@import", "<link", "<img", "<iframe"} {
		if strings.Contains(page, word) {
			t.Errorf("the page contains %q", word)
		}
	}
}

func TestTwoPagesAreTheSameBytes(t *testing.T) {
	var a, b bytes.Buffer
	for _, w := range []*bytes.Buffer{&a, &b} {
		if err := HTML(w, sampleSet(2, 600), Options{}); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("two runs differ")
	}
}
