package counter

import (
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
)

//go:embed page
var pages embed.FS

// pagePolicy lets the page load its own script and style and nothing else.
const pagePolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"

// documentPolicy shuts what a job made into a box of its own: should a log
// ever get a script past the report's own policy, it still is a foreign origin
// to this server.
const documentPolicy = "sandbox allow-scripts allow-modals allow-downloads; frame-ancestors 'none'"

func (s *Server) routes() http.Handler {
	files, err := fs.Sub(pages, "page")
	if err != nil {
		panic(err) // the folder is embedded
	}
	mux := http.NewServeMux()
	static := http.FileServerFS(files)
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", pagePolicy)
		static.ServeHTTP(w, r)
	})
	mux.Handle("GET /counter.css", static)
	mux.Handle("GET /counter.js", static)
	mux.HandleFunc("GET /offer", s.offer)
	mux.HandleFunc("GET /jobs", s.list)
	mux.HandleFunc("POST /jobs", s.submit)
	mux.HandleFunc("GET /jobs/{id}", s.withJob(func(w http.ResponseWriter, _ *http.Request, j *job) { answer(w, http.StatusOK, j.status()) }))
	mux.HandleFunc("DELETE /jobs/{id}", s.withJob(s.drop))
	mux.HandleFunc("GET /jobs/{id}/{document}", s.withJob(document))
	return mux
}

// offer tells the page what there is to pick, and the limits.
func (s *Server) offer(w http.ResponseWriter, _ *http.Request) {
	names := []string{}
	for _, b := range s.o.Bikes {
		names = append(names, b.Name)
	}
	answer(w, http.StatusOK, map[string]any{
		"bikes": names, "keep": s.o.KeepDir, "maxUpload": s.o.MaxUpload, "maxUploadText": size(s.o.MaxUpload), "maxFiles": s.o.MaxFiles,
	})
}

func (s *Server) list(w http.ResponseWriter, _ *http.Request) {
	s.mu.Lock()
	jobs := append([]*job(nil), s.jobs...)
	s.mu.Unlock()
	all := []status{}
	for _, j := range jobs {
		all = append(all, j.status())
	}
	answer(w, http.StatusOK, all)
}

func (s *Server) submit(w http.ResponseWriter, r *http.Request) {
	j, err := s.accept(w, r)
	if err != nil {
		w.Header().Set("Connection", "close")
		complain(w, err)
		return
	}
	answer(w, http.StatusAccepted, j.status())
}

func (s *Server) drop(w http.ResponseWriter, _ *http.Request, j *job) {
	if err := s.remove(j); err != nil {
		complain(w, err)
		return
	}
	answer(w, http.StatusOK, j.status())
}

func document(w http.ResponseWriter, r *http.Request, j *job) {
	name := r.PathValue("document")
	for _, d := range j.status().Documents {
		if d.Name != name {
			continue
		}
		f, err := os.Open(filepath.Join(j.dir, documents, name))
		if err != nil {
			complain(w, err)
			return
		}
		defer f.Close()
		info, err := f.Stat()
		if err != nil {
			complain(w, err)
			return
		}
		kind := mime.TypeByExtension(filepath.Ext(name))
		if filepath.Ext(name) != ".html" {
			kind = "text/plain; charset=utf-8"
			w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name))
		}
		w.Header().Set("Content-Type", kind)
		w.Header().Set("Content-Security-Policy", documentPolicy)
		http.ServeContent(w, r, name, info.ModTime(), f)
		return
	}
	complain(w, refuse(http.StatusNotFound, "There is no such document."))
}

func (s *Server) withJob(h func(http.ResponseWriter, *http.Request, *job)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		id, err := strconv.Atoi(r.PathValue("id"))
		j := s.find(id)
		if err != nil || j == nil {
			complain(w, refuse(http.StatusNotFound, "There is no such job. Perhaps the server was started anew."))
			return
		}
		h(w, r, j)
	}
}

func answer(w http.ResponseWriter, code int, v any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(code)
	json.NewEncoder(w).Encode(v) // fails only when the browser has gone
}

func complain(w http.ResponseWriter, err error) {
	code := http.StatusInternalServerError
	if no := (*refusal)(nil); errors.As(err, &no) {
		code = no.status
	}
	answer(w, code, map[string]string{"trouble": err.Error()})
}
