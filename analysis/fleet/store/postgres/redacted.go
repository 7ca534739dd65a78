package postgres

import (
	"net/url"
	"regexp"
	"strings"
)

const hidden = "xxxxx"

// Redacted is an address without its passwords: that of the user and that of
// the key of a client's certificate. Both forms are read, postgres://user@host
// and host=... user=...
func Redacted(address string) string {
	if !strings.Contains(address, "://") {
		return secretPair().ReplaceAllString(address, "${1}"+hidden)
	}
	u, err := url.Parse(address)
	if err != nil {
		return "postgres://…"
	}
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		u.RawQuery = "…" // what is not understood may hold a password
		return u.Redacted()
	}
	for _, secret := range []string{"password", "sslpassword"} {
		if query.Has(secret) {
			query.Set(secret, hidden)
			u.RawQuery = query.Encode()
		}
	}
	return u.Redacted()
}

// secretPair finds passwords among keywords and values. A value may stand in
// quotes; a backslash takes the next byte as it is, and a quote left open
// takes the rest.
func secretPair() *regexp.Regexp {
	return regexp.MustCompile(`(?s)(\b(?:ssl)?password\s*=\s*)(?:'(?:[^'\\]|\\.)*(?:'|\\?$)|(?:[^\s'\\]|\\.)(?:[^\s\\]|\\.)*\\?)`)
}
