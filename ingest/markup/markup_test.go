package markup_test

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"cogledger/ingest/markup"
)

// spell writes the tokens of a text as a string.
func spell(text string) (string, *markup.Reader, error) {
	r := markup.NewReader([]byte(text))
	var b strings.Builder
	for {
		token, err := r.Token()
		if err == io.EOF {
			return b.String(), r, nil
		}
		if err != nil {
			return b.String(), r, err
		}
		switch t := token.(type) {
		case xml.StartElement:
			b.WriteString("<" + t.Name.Local)
			for _, a := range t.Attr {
				b.WriteString(" " + a.Name.Local + "=" + a.Value)
			}
			b.WriteString(">")
		case xml.EndElement:
			b.WriteString("</" + t.Name.Local + ">")
		case xml.CharData:
			b.Write(t)
		}
	}
}

func TestToken(t *testing.T) {
	tests := []struct{ reason, text, want, damage string }{
		{"prefixes go", `<a:b xmlns:a="urn:a" a:c="1">x</a:b>`, "<b a=urn:a c=1>x</b>", ""},
		{"comments and instructions go", `<?xml version="1.0"?><!-- c --><b><?p?>x</b>`, "<b>x</b>", ""},
		{"what is open is closed", `<a><b>x`, "<a><b>x</b></a>", "the file ends early"},
		{"cut inside a tag", `<a><b`, "<a></a>", "unexpected EOF"},
		{"a wrong end", `<a><b></a>`, "<a><b></b></a>", "</a> closes nothing that is open"},
		{"undefined entity", `<a>&x;</a>`, "<a></a>", "invalid character entity &x;"},
		{"known entities", `<a>&lt;&#65;</a>`, "<a><A</a>", ""},
		{"text outside", `x<a></a>y`, "<a></a>", ""},
	}
	for _, tt := range tests {
		got, r, err := spell(tt.text)
		if err != nil || got != tt.want {
			t.Errorf("%s: got %q, %v; want %q", tt.reason, got, err, tt.want)
		}
		if _, why, ok := r.Damage(); why != tt.damage || ok != (tt.damage != "") {
			t.Errorf("%s: damage %q, want %q", tt.reason, why, tt.damage)
		}
	}
}

func TestRefused(t *testing.T) {
	if _, _, err := spell(`<!DOCTYPE a [<!ENTITY x "y">]><a>&x;</a>`); !errors.Is(err, markup.ErrEntities) {
		t.Errorf("got %v", err)
	}
	if _, _, err := spell(strings.Repeat("<a>", 65)); !errors.Is(err, markup.ErrTooDeep) {
		t.Errorf("got %v", err)
	}
	if got, _, err := spell("<a>" + strings.Repeat("x", 2<<20) + "</a>"); err != nil || len(got) > 1<<20+10 {
		t.Errorf("%d bytes, %v", len(got), err)
	}
}

func TestLineOfDamage(t *testing.T) {
	_, r, _ := spell("<a>\n<b>\n</c>\n")
	if line, _, ok := r.Damage(); line != 3 || !ok {
		t.Errorf("line %d", line)
	}
}

// Times of ISO 8601 (RFC 3339 and the looser forms of XML Schema).
func TestParseTime(t *testing.T) {
	at := time.Date(2026, 5, 4, 6, 30, 1, 0, time.UTC)
	for text, want := range map[string]time.Time{
		"2026-05-04T06:30:01Z":           at,
		" 2026-05-04T06:30:01Z\n":        at,
		"2026-05-04T06:30:01.250Z":       at.Add(250 * time.Millisecond),
		"2026-05-04T08:30:01+02:00":      at,
		"2026-05-04T08:30:01.5+02:00":    at.Add(500 * time.Millisecond),
		"2026-05-04T01:00:01-0530":       at,
		"2026-05-04T06:30:01":            at,
		"2026-05-04 06:30:01":            at,
		"2026-05-04T06:30Z":              at.Add(-time.Second),
		"2026-05-04T06:30:01.123456789Z": at.Add(123456789),
	} {
		if got, ok := markup.ParseTime([]byte(text)); !ok || !got.Equal(want) {
			t.Errorf("%q: got %v, want %v", text, got, want)
		}
	}
	for _, text := range []string{"", "tomorrow", "04.05.2026", "2026-13-04T06:30:01Z"} {
		if got, ok := markup.ParseTime([]byte(text)); ok {
			t.Errorf("%q is no time, got %v", text, got)
		}
	}
}
