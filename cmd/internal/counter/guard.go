package counter

import (
	"fmt"
	"net"
	"net/http"
	"slices"
)

// A guard lets through only what the page itself asks of the server. A foreign
// site may point its own name at 127.0.0.1, so the Host must be one that
// this server was started under; it may send forms or fetch pictures, so any
// sign that a browser gives of a foreign page is heeded, for every method.
type guard struct {
	hosts []string
	next  http.Handler
}

// Listen opens an address of this machine, such as 127.0.0.1:8735. It refuses
// one that other machines can reach.
func Listen(address string) (net.Listener, error) {
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, err
	}
	if _, err := ownHosts(l.Addr()); err != nil {
		l.Close()
		return nil, err
	}
	return l, nil
}

// ownHosts are the names under which a listener on this machine is reached.
func ownHosts(addr net.Addr) ([]string, error) {
	host, port, err := net.SplitHostPort(addr.String())
	if err != nil {
		return nil, err
	}
	if ip := net.ParseIP(host); ip == nil || !ip.IsLoopback() {
		return nil, fmt.Errorf("%s is open to other machines; the page is for this machine only, such as 127.0.0.1", addr)
	}
	hosts := []string{net.JoinHostPort(host, port), net.JoinHostPort("localhost", port)}
	if port == "80" {
		hosts = append(hosts, host, "localhost")
	}
	return hosts, nil
}

func (g guard) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if why := g.foreign(r); why != "" {
		w.Header().Set("Connection", "close")
		http.Error(w, "Refused: "+why+".", http.StatusForbidden)
		return
	}
	h := w.Header()
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	g.next.ServeHTTP(w, r)
}

func (g guard) foreign(r *http.Request) string {
	if !slices.Contains(g.hosts, r.Host) {
		return "the request is addressed to another host"
	}
	for _, origin := range r.Header.Values("Origin") {
		if origin != "http://"+r.Host {
			return "the request comes from another site"
		}
	}
	switch r.Header.Get("Sec-Fetch-Site") {
	case "", "same-origin", "none":
		return ""
	}
	return "the request comes from another site"
}
