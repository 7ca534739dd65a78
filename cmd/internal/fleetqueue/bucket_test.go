package fleetqueue

import (
	"context"
	"io"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
	"gocloud.dev/blob"

	"cogledger/analysis/fleet/store/postgres/pgtest"
	"cogledger/analysis/fleet/store/storetest"
	"cogledger/cmd/internal/fleetmade"
)

// The service is gofakes3, a library that speaks S3's protocol; what it does not
// have is a real service's rights and delays.
func TestQueueFromS3(t *testing.T) {
	objects := s3mem.New()
	service := httptest.NewServer(gofakes3.New(objects).Server())
	defer service.Close()
	t.Setenv("AWS_ACCESS_KEY_ID", "nobody")
	t.Setenv("AWS_SECRET_ACCESS_KEY", "nothing")
	query := "?endpoint=" + service.URL + "&use_path_style=true&disable_https=true&region=eu-central-1"
	none := command(context.Background(), NewEnqueue, io.Discard, io.Discard, "s3://rides/2026"+query, "--store", pgtest.Start(t).Database(t))
	if none == nil || !strings.Contains(none.Error(), "rides") || !strings.Contains(none.Error(), "there is no such bucket") {
		t.Errorf("without the bucket: %v", none)
	}
	must(t, objects.CreateBucket("rides"))
	queueFrom(t, "s3://rides", query)
}

// COGLEDGER_BUCKET names a bucket of any service, s3://name?…, gs://name?… or
// azblob://name?…, that the test may fill under 2026/ and leave so.
func TestQueueFromBucket(t *testing.T) {
	address := os.Getenv("COGLEDGER_BUCKET")
	if address == "" {
		t.Skip("COGLEDGER_BUCKET names no bucket to be filled")
	}
	name, query, asked := strings.Cut(address, "?")
	if asked {
		query = "?" + query
	}
	queueFrom(t, name, query)
}

// queueFrom fills a bucket under a prefix. The logs must end as the same rows as
// those in a folder, and be known when they are listed again.
func queueFrom(t *testing.T, name, query string) {
	t.Helper()
	address := pgtest.Start(t).Database(t)
	folder := madeFleet(t, 12, 2)
	fill(t, name+query, filepath.Join(folder, fleetmade.LogFolder), "2026")
	ctx := context.Background()
	var said strings.Builder
	must(t, command(ctx, NewEnqueue, &said, io.Discard, name+"/2026"+query, "--store", address))
	must(t, command(ctx, NewWork, io.Discard, io.Discard, "--store", address, "--bikes", profiles(folder), "--until-empty"))
	must(t, command(ctx, NewEnqueue, &said, io.Discard, name+"/2026"+query, "--store", address))
	for _, part := range []string{"15 logs, 15 queued", "15 logs, 0 queued, 0 in the queue already, 15 up to date"} {
		if !strings.Contains(said.String(), part) {
			t.Errorf("no %q in:\n%s", part, &said)
		}
	}
	want, got := inSQLite(t, folder), stored(t, address)
	from, to := filepath.ToSlash(filepath.Join(folder, fleetmade.LogFolder)), name+"/2026"
	for i := range want.Rides {
		want.Rides[i].Path = strings.Replace(want.Rides[i].Path, from, to, 1)
	}
	for i := range want.Logs {
		want.Logs[i].Path = strings.Replace(want.Logs[i].Path, from, to, 1)
		want.Logs[i].Fingerprint = "" // a file's is its size and time, an object's what the service says
	}
	for i := range got.Logs {
		if got.Logs[i].Fingerprint == "" && got.Logs[i].Problem == "" {
			t.Errorf("%s has no fingerprint", got.Logs[i].Path)
		}
		got.Logs[i].Fingerprint = ""
	}
	if d := storetest.Diff(want, got); d != "" {
		t.Errorf("the database differs (-folder +bucket):\n%s", d)
	}
}

// fill puts every file of a folder into a bucket.
func fill(t *testing.T, address, folder, prefix string) {
	t.Helper()
	bucket, err := blob.OpenBucket(context.Background(), address)
	must(t, err)
	defer bucket.Close()
	must(t, filepath.WalkDir(folder, func(path string, entry os.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		key, err := filepath.Rel(folder, path)
		if err != nil {
			return err
		}
		return bucket.WriteAll(context.Background(), prefix+"/"+filepath.ToSlash(key), data, nil)
	}))
}
