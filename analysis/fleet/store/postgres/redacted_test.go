package postgres_test

import (
	"strings"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"

	"cogledger/analysis/fleet/store/postgres"
)

// No address tells a password, in whatever form and place it stands.
func TestRedacted(t *testing.T) {
	for _, test := range []struct{ address, want string }{
		{"postgres://ann:hush@db:5433/fleet?sslmode=require", "postgres://ann:xxxxx@db:5433/fleet?sslmode=require"},
		{"postgresql://ann@db/fleet", "postgresql://ann@db/fleet"},
		{"postgres://ann@db/fleet?password=hush", "postgres://ann@db/fleet?password=xxxxx"},
		{"postgres://ann@db/fleet?sslkey=k.pem&sslpassword=hush", "postgres://ann@db/fleet?sslkey=k.pem&sslpassword=xxxxx"},
		{"postgres://ann:hush@db/fleet?password=hush&sslpassword=hush", "postgres://ann:xxxxx@db/fleet?password=xxxxx&sslpassword=xxxxx"},
		{"postgres://ann@db/fleet?sslpassword=hush&sslpassword=hush", "postgres://ann@db/fleet?sslpassword=xxxxx"},
		{"postgres://ann@db/fleet?sslpassword=hu;hush", "postgres://ann@db/fleet?…"},
		{"postgres://ann:hush@db:port/fleet", "postgres://…"},
		{"host=db user=ann password=hush sslmode=require", "host=db user=ann password=xxxxx sslmode=require"},
		{"host=db sslkey=k.pem sslpassword = hush user=ann", "host=db sslkey=k.pem sslpassword = xxxxx user=ann"},
		{`password='hush, \'hush\'' host=db sslpassword=hu\ hush`, "password=xxxxx host=db sslpassword=xxxxx"},
		{"host=db password='hush hush", "host=db password=xxxxx"},
		{"host=db password= hush user=ann", "host=db password= xxxxx user=ann"},
	} {
		got := postgres.Redacted(test.address)
		if got != test.want || strings.Contains(got, "hu") {
			t.Errorf("%s\nreads %s\nwant  %s", test.address, got, test.want)
		}
	}
	// What the library takes for the password is what is masked.
	config, err := pgconn.ParseConfig(`host=db user=ann password='hu, \'sh\'' sslmode=disable`)
	must(t, err)
	if config.Password != "hu, 'sh'" {
		t.Errorf("the library reads the password as %q", config.Password)
	}
}
