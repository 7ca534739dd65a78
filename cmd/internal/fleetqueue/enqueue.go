package fleetqueue

import (
	"context"
	"fmt"
	"log/slog"
	"path"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"gocloud.dev/blob"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store/postgres"
	"cogledger/cmd/internal/fleetrun"
)

// page is how many objects are listed, looked up and queued at once.
const page = 1000

// Listed is what one pass over a bucket found.
type Listed struct {
	Logs    int // objects that are logs by their names
	Current int // of them stored as they are now, by this version of the analysis
	Queued  int // put into the queue
	Waiting int // in the queue already
	Later   int // of them done by a later version of the analysis, and left to it
	Others  int // passed over because of their names
	Zips    int // passed over: in a bucket each log is an object
}

// enqueue lists a place and queues what the store does not hold as it is.
//
// Every pass lists everything. A mark that is moved forward past what was seen
// would lose an object that arrives late under an early name; what is known of
// each object is in the store instead. One listing call and one look-up serve a
// thousand objects.
func enqueue(ctx context.Context, s *postgres.Store, at place, round int64, version string, logger *slog.Logger) (Listed, error) {
	var done Listed
	bucket, err := openBucket(ctx, at.Bucket)
	if err != nil {
		return done, err
	}
	defer bucket.Close()
	client, err := inserter(s, logger)
	if err != nil {
		return done, fmt.Errorf("queue: %w", err)
	}
	if err := adopt(ctx, s, client, version); err != nil {
		return done, err
	}
	every, err := doubtEvery(ctx, s, bucket, at)
	if err != nil {
		return done, err
	}
	token := blob.FirstPageToken
	for {
		objects, next, err := bucket.ListPage(ctx, token, page, &blob.ListOptions{Prefix: at.Prefix})
		if err != nil {
			return done, fmt.Errorf("bucket %s: listing it: %s%w", at.Bucket, cure(err), err)
		}
		if err := done.queue(ctx, s, client, objects, Review{Bucket: at.Bucket, Round: round, DoubtEvery: every, Version: version}); err != nil {
			return done, err
		}
		if len(next) == 0 {
			return done, nil
		}
		token = next
	}
}

// queue puts those of a page into the queue that are new or have changed. Each
// holds what all have in common.
func (l *Listed) queue(ctx context.Context, s *postgres.Store, client *river.Client[pgx.Tx], objects []*blob.ListObject, each Review) error {
	var logs []Review
	var paths []string
	for _, o := range objects {
		switch base := path.Base(o.Key); {
		case o.IsDir, strings.HasPrefix(base, "."):
		case isZip(base):
			l.Zips++
		case !fleetrun.IsLog(base):
			l.Others++
		default:
			l.Logs++
			each.Key, each.Fingerprint, each.Bytes = o.Key, fleetrun.Fingerprint(o.Size, o.ModTime), o.Size
			logs = append(logs, each)
			paths = append(paths, pathOf(each.Bucket, o.Key))
		}
	}
	if len(logs) == 0 {
		return nil
	}
	known, err := s.Known(ctx, paths)
	if err != nil {
		return err
	}
	var jobs []river.InsertManyParams
	for i, log := range logs {
		k, ok := known[paths[i]]
		switch {
		case ok && fleet.Newer(k.Version, log.Version):
			l.Later++
			continue
		case ok && log.Round == 0 && k.Fingerprint == log.Fingerprint && k.Version == log.Version:
			l.Current++
			continue
		}
		jobs = append(jobs, river.InsertManyParams{Args: log})
	}
	if len(jobs) == 0 {
		return nil
	}
	results, err := client.InsertMany(ctx, jobs)
	if err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	for _, r := range results {
		if r.UniqueSkippedAsDuplicate {
			l.Waiting++
		} else {
			l.Queued++
		}
	}
	return nil
}

// doubtEvery tells from the number of logs, stored or listed, one in how many is
// to be reviewed with intervals. It lists no more than need be counted.
func doubtEvery(ctx context.Context, s *postgres.Store, bucket *blob.Bucket, at place) (int, error) {
	var stored int
	if err := s.Pool().QueryRow(ctx, "SELECT COUNT(*) FROM (SELECT 1 FROM logs LIMIT $1) AS counted", fleetrun.EnoughToCount).Scan(&stored); err != nil {
		return 0, fmt.Errorf("counting the logs stored: %w", err)
	}
	listed := 0
	for token := blob.FirstPageToken; len(token) > 0 && max(stored, listed) < fleetrun.EnoughToCount; {
		objects, next, err := bucket.ListPage(ctx, token, page, &blob.ListOptions{Prefix: at.Prefix})
		if err != nil {
			return 0, fmt.Errorf("bucket %s: listing it: %s%w", at.Bucket, cure(err), err)
		}
		for _, o := range objects {
			if base := path.Base(o.Key); !o.IsDir && !strings.HasPrefix(base, ".") && !isZip(base) && fleetrun.IsLog(base) {
				listed++
			}
		}
		token = next
	}
	return fleetrun.DoubtEvery(max(stored, listed)), nil
}

func isZip(name string) bool { return strings.HasSuffix(strings.ToLower(name), ".zip") }
