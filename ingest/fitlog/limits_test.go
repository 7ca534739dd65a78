package fitlog_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"cogledger/ingest/fitlog"
)

func TestPartsAndMessages(t *testing.T) {
	one := written(t, example())
	chained := bytes.Repeat(one, 5)
	tracks, err := fitlog.Read(chained, "chain.fit", fitlog.Limits{Parts: 2})
	if err != nil || len(tracks) != 2 || !strings.Contains(fmt.Sprint(tracks[1].Notes), "could not be read") {
		t.Errorf("%d parts, %v", len(tracks), err)
	}
	tracks, err = fitlog.Read(one, "chatty.fit", fitlog.Limits{Messages: 8})
	if err != nil && !strings.Contains(err.Error(), "chatty.fit") || err == nil && (len(tracks[0].Time) >= len(example().Time) || len(tracks[0].Notes) == 0) {
		t.Errorf("%v, %v", tracks, err)
	}
}
