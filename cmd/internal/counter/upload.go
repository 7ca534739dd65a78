package counter

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// A refusal is an answer to a request that cannot be served, with what to do.
type refusal struct {
	status int
	text   string
}

func (r *refusal) Error() string { return r.text }

func refuse(status int, format string, args ...any) error {
	return &refusal{status, fmt.Sprintf(format, args...)}
}

const (
	maxField   = 1 << 10
	maxProfile = 256 << 10
)

// receive writes an upload to dir, part by part, and holds none of it in
// memory. It stops at the limits.
func (s *Server) receive(w http.ResponseWriter, r *http.Request, dir string) (Order, bool, error) {
	tooLarge := refuse(http.StatusRequestEntityTooLarge, "The files are larger than %s together. Drop fewer at a time.", size(s.o.MaxUpload))
	if r.ContentLength > s.o.MaxUpload {
		return Order{}, false, tooLarge
	}
	if err := http.NewResponseController(w).SetReadDeadline(time.Now().Add(s.o.UploadTime)); err != nil {
		return Order{}, false, err
	}
	r.Body = http.MaxBytesReader(w, r.Body, s.o.MaxUpload)
	parts, err := r.MultipartReader()
	if err != nil {
		return Order{}, false, refuse(http.StatusBadRequest, "This is not a form with files.")
	}
	u := upload{server: s, dir: dir}
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			break
		}
		if err == nil {
			err = u.take(part)
		}
		if large := (*http.MaxBytesError)(nil); errors.As(err, &large) {
			return Order{}, false, tooLarge
		}
		if own := (*refusal)(nil); err != nil && !errors.As(err, &own) && !ours(err) {
			return Order{}, false, refuse(http.StatusBadRequest, "The form ends early or is damaged. Send it again.")
		}
		if err != nil {
			return Order{}, false, err
		}
	}
	if len(u.order.Before) == 0 {
		return Order{}, false, refuse(http.StatusBadRequest, "No log was dropped.")
	}
	if u.order.Bike == nil {
		return Order{}, false, refuse(http.StatusBadRequest, "No bike was picked.")
	}
	return u.order, u.keep, nil
}

// ours reports errors of this machine's disk; all others are of the form.
func ours(err error) bool {
	var disk *fs.PathError
	return errors.As(err, &disk)
}

// An upload is a form as it comes in.
type upload struct {
	server *Server
	dir    string
	order  Order
	keep   bool
	files  int
}

func (u *upload) take(part *multipart.Part) error {
	switch part.FormName() {
	case "before":
		return u.file(part, &u.order.Before)
	case "after":
		return u.file(part, &u.order.After)
	case "second":
		return u.file(part, &u.order.Second)
	case "profile":
		data, err := limited(part, maxProfile)
		if len(data) > 0 {
			u.order.Bike, u.order.BikeFile = data, cleanName(part.FileName())
		}
		return err
	}
	data, err := limited(part, maxField)
	if err != nil {
		return err
	}
	switch value := string(data); part.FormName() {
	case "bike":
		for _, b := range u.server.o.Bikes {
			if b.Name == value && u.order.Bike == nil {
				u.order.Bike, u.order.BikeFile = b.YAML, b.Name
			}
		}
	case "learn":
		u.order.Learn = value == "yes"
	case "tyre":
		u.order.Tyre = strings.TrimSpace(value)
	case "keep":
		u.keep = value == "yes" && u.server.o.KeepDir != ""
	}
	return nil
}

// file streams one log to disk, in a folder of its own so that two logs of one
// name do not meet.
func (u *upload) file(part *multipart.Part, list *[]File) error {
	if part.FileName() == "" {
		return nil // an empty file field
	}
	if u.files++; u.files > u.server.o.MaxFiles {
		return refuse(http.StatusRequestEntityTooLarge, "More than %d files at once. Drop fewer at a time.", u.server.o.MaxFiles)
	}
	name := cleanName(part.FileName())
	path := filepath.Join(u.dir, fmt.Sprintf("%03d", u.files), name)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(f, part)
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	*list = append(*list, File{Name: name, Path: path})
	return nil
}

func limited(part *multipart.Part, most int64) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(part, most+1))
	if err != nil {
		return nil, err
	}
	if int64(len(data)) > most {
		return nil, refuse(http.StatusRequestEntityTooLarge, "%q is larger than %s.", part.FormName(), size(most))
	}
	return data, nil
}

// cleanName makes a name from a browser fit for any file system, and keeps what
// the user knows the file by.
func cleanName(name string) string {
	name = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsLetter(r), unicode.IsDigit(r), strings.ContainsRune("._-+()@ ", r):
			return r
		}
		return '_'
	}, name)
	for len(name) > 120 { // the end holds the kind of file
		_, first := utf8.DecodeRuneInString(name)
		name = name[first:]
	}
	name = strings.Trim(name, ". ")
	if name == "" {
		return "unnamed"
	}
	return name
}

// size words a number of bytes.
func size(n int64) string {
	switch {
	case n >= 1e9:
		return fmt.Sprintf("%.3g GB", float64(n)/1e9)
	case n >= 1e6:
		return fmt.Sprintf("%.3g MB", float64(n)/1e6)
	default:
		return fmt.Sprintf("%.3g kB", float64(n)/1e3)
	}
}
