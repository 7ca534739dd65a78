package fleetqueue

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"path"
	"path/filepath"
	"strings"
	"sync"

	"gocloud.dev/blob"
	_ "gocloud.dev/blob/azureblob" // azblob://
	"gocloud.dev/blob/fileblob"
	_ "gocloud.dev/blob/gcsblob" // gs://
	_ "gocloud.dev/blob/s3blob"  // s3://
	"gocloud.dev/gcerrors"
)

// A place is a bucket and a prefix in it, as a URL names them.
type place struct {
	Bucket string // what opens it: the URL without the path of the prefix
	Prefix string
}

// parsePlace takes a URL apart. Of file URLs the whole path is the bucket; of
// the others the path is the prefix.
func parsePlace(text string) (place, error) {
	u, err := url.Parse(text)
	if err != nil {
		return place{}, fmt.Errorf("%s: this is no URL: %w", text, err)
	}
	switch u.Scheme {
	case "file":
		if u.Host != "" || !strings.HasPrefix(u.Path, "/") {
			return place{}, fmt.Errorf("%s: a folder is written file:///path/to/folder", text)
		}
		return place{Bucket: text}, nil
	case "s3", "gs", "azblob":
		if u.Host == "" {
			return place{}, fmt.Errorf("%s: no bucket is named; write %s://bucket/prefix", text, u.Scheme)
		}
		prefix := strings.TrimPrefix(u.Path, "/")
		u.Path = ""
		return place{Bucket: u.String(), Prefix: prefix}, nil
	case "":
		return place{}, fmt.Errorf("%s: this is no URL; a folder is written file:///path/to/folder", text)
	}
	return place{}, fmt.Errorf("%s: no bucket begins with %s://; file, s3, gs and azblob are known", text, u.Scheme)
}

// pathOf is the path of an object in the store: its URL without the query. The
// objects of file URLs have the paths of the files, so that a store holds the
// same rows whether a folder was walked or queued.
func pathOf(bucket, key string) string {
	u, err := url.Parse(bucket)
	if err != nil {
		return bucket + "/" + key
	}
	if u.Scheme == "file" {
		return path.Join(u.Path, key)
	}
	return u.Scheme + "://" + path.Join(u.Host, key)
}

// keyIn is the key of a path in a bucket, if it lies there.
func keyIn(bucket, logPath string) (string, bool) {
	root := strings.TrimSuffix(pathOf(bucket, ""), "/") + "/"
	return strings.CutPrefix(logPath, root)
}

// buckets opens each bucket once.
type buckets struct {
	mu   sync.Mutex
	open map[string]*blob.Bucket
}

func (b *buckets) get(ctx context.Context, address string) (*blob.Bucket, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if bucket := b.open[address]; bucket != nil {
		return bucket, nil
	}
	bucket, err := openBucket(ctx, address)
	if err != nil {
		return nil, err
	}
	if b.open == nil {
		b.open = map[string]*blob.Bucket{}
	}
	b.open[address] = bucket
	return bucket, nil
}

func (b *buckets) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	var err error
	for _, bucket := range b.open {
		err = errors.Join(err, bucket.Close())
	}
	b.open = nil
	return err
}

func openBucket(ctx context.Context, address string) (*blob.Bucket, error) {
	u, err := url.Parse(address)
	if err != nil {
		return nil, fmt.Errorf("bucket %s: %w", address, err)
	}
	var bucket *blob.Bucket
	if u.Scheme == "file" {
		// Without sidecar files the folder stays as it is.
		bucket, err = fileblob.OpenBucket(filepath.FromSlash(u.Path), &fileblob.Options{Metadata: fileblob.MetadataDontWrite})
	} else {
		bucket, err = blob.OpenBucket(context.WithoutCancel(ctx), address)
	}
	if err != nil {
		return nil, fmt.Errorf("bucket %s: %w", address, err)
	}
	there, err := bucket.IsAccessible(ctx)
	if err == nil && !there {
		err = errors.New("there is no such bucket")
	}
	if err != nil {
		bucket.Close()
		return nil, fmt.Errorf("bucket %s: %s%w", address, cure(err), err)
	}
	return bucket, nil
}

// cure says in plain words what may be done about an error of a bucket.
func cure(err error) string {
	switch gcerrors.Code(err) {
	case gcerrors.PermissionDenied:
		return "these credentials may not read it: "
	case gcerrors.NotFound:
		return "it is not there: "
	}
	return ""
}

// fetch reads an object, at most limit bytes of it.
func fetch(ctx context.Context, bucket *blob.Bucket, key string, limit int64) ([]byte, error) {
	from, err := bucket.NewReader(ctx, key, nil)
	if err != nil {
		return nil, err
	}
	defer from.Close()
	return io.ReadAll(io.LimitReader(from, limit+1))
}
