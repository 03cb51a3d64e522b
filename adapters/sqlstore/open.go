package sqlstore

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
)

//go:embed migrations
var migrations embed.FS

// versions is goose's table.
const versions = "schema_version"

// Opening is what a command may do to the place of a store.
type Opening int

// The openings.
const (
	MustExist Opening = iota // and have this firn's schema
	ToRead                   // and nothing is written, so that a disk that is full does no harm
	MayCreate                // where there is none
	ToServe                  // and bring an older schema up to date; a file is for one that serves
	asItIs                   // of an older schema, or moved to another place: nothing is noted in it
)

func (o Opening) creates() bool { return o == MayCreate || o == ToServe }

// ErrNone: there is no store where one must be.
var ErrNone = errors.New("there is no store")

// OldError refuses a schema that is older than this program's.
type OldError struct {
	Has, Knows int64
	place, way string // a file or a database, and what brings it up to date
}

// Error says what brings it up to date.
func (e OldError) Error() string {
	return fmt.Sprintf("this %s was written by an older firn (schema %d, this one knows %d); it was left as it is: %s", e.place, e.Has, e.Knows, e.way)
}

// refuseNewer refuses a schema that this program does not know.
func refuseNewer(place string, has, known int64) error {
	if has <= known {
		return nil
	}
	return fmt.Errorf("this %s was written by a newer firn (schema %d, this one knows %d); it was left as it is: run the newer firn, or give this one another %[1]s", place, has, known)
}

// known is the newest schema among a dialect's migrations.
func known(of goose.Dialect) (newest int64, err error) {
	files, err := migrationsOf(of)
	if err != nil {
		return 0, err
	}
	names, err := fs.Glob(files, "*.sql")
	if err != nil {
		return 0, err
	}
	for _, n := range names {
		v, err := goose.NumericComponent(n)
		if err != nil {
			return 0, err
		}
		newest = max(newest, v)
	}
	return newest, nil
}

func migrationsOf(of goose.Dialect) (fs.FS, error) {
	folder := map[goose.Dialect]string{goose.DialectSQLite3: "sqlite", goose.DialectPostgres: "postgres"}[of]
	return fs.Sub(migrations, "migrations/"+folder)
}

// migrate brings a schema up to date.
func migrate(ctx context.Context, of goose.Dialect, db *sql.DB, to int64, options ...goose.ProviderOption) error {
	files, err := migrationsOf(of)
	if err != nil {
		return err
	}
	provider, err := goose.NewProvider(of, db, files, append(options, goose.WithTableName(versions), goose.WithDisableGlobalRegistry(true))...)
	if err != nil {
		return err
	}
	_, err = provider.Up(ctx)
	return wrap(ctx, fmt.Sprintf("bring the schema to version %d", to), err)
}
