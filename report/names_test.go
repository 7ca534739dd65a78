package report

import (
	"bytes"
	"strings"
	"testing"
)

// A ride that is named after its file is called without the file's ending where
// people read, and by its full name where programs do.
func TestRidesAreCalledWithoutTheirFilesEnding(t *testing.T) {
	set := sampleSet(2, 240)
	set.Rides[0].Ride.Name = "1-monday-parcels-along-the-quay.fit"
	set.Rides[1].Ride.Name = "ride-1.CSV.gz"
	var page, doc bytes.Buffer
	if err := writePage(&page, set, Options{}, ""); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`<a class="to-ride" href="#r1"><bdi>1-monday-parcels-along-the-quay</bdi></a>`, `<a class="to-ride" href="#r2"><bdi>ride-1</bdi></a>`} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page lacks %s", want)
		}
	}
	if strings.Contains(page.String(), "the-quay.fit") {
		t.Error("the file's ending is shown")
	}
	if err := JSON(&doc, set, Options{}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(doc.String(), `"name": "1-monday-parcels-along-the-quay.fit"`) {
		t.Error("the document lacks the whole name")
	}
}
