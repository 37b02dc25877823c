package postgres

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"strconv"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"kerfbook/internal/fault"
	"kerfbook/migrations"
)

// SchemaLock is the advisory lock that lets one program at a time change the schema. An
// archive holds it shared. The bytes spell "kerfbook".
const SchemaLock int64 = 0x6b657266626f6f6b

const createMigrationTable = `
CREATE TABLE IF NOT EXISTS schema_migration (
	version    bigint PRIMARY KEY,
	name       text NOT NULL,
	applied_at timestamptz NOT NULL DEFAULT now(),
	checksum   text NOT NULL
);
COMMENT ON TABLE schema_migration IS 'The numbered SQL files that made this schema, as they were when they ran.';
COMMENT ON COLUMN schema_migration.checksum IS 'SHA-256 of the up file, hexadecimal.';`

// migration is one numbered pair of files.
type migration struct {
	version  int64
	name     string
	up, down string
	checksum string
}

var migrationName = regexp.MustCompile(`^(\d{6})_([a-z0-9_]+)\.(up|down)\.sql$`)

// readMigrations gives the pairs of files in fsys by number. The numbers must run from 1
// without a gap, and each must have both files.
func readMigrations(fsys fs.FS) ([]migration, error) {
	names, err := fs.Glob(fsys, "*.sql")
	if err != nil {
		return nil, err
	}
	byVersion := map[int64]*migration{}
	for _, file := range names {
		m := migrationName.FindStringSubmatch(file)
		if m == nil {
			if file == "schema.sql" {
				continue
			}
			return nil, fmt.Errorf("migration file %s: want a name such as 000012_add_offcut.up.sql", file)
		}
		text, err := fs.ReadFile(fsys, file)
		if err != nil {
			return nil, err
		}
		version, _ := strconv.ParseInt(m[1], 10, 64) // six digits always fit
		mig := byVersion[version]
		if mig == nil {
			mig = &migration{version: version, name: m[2]}
			byVersion[version] = mig
		}
		if mig.name != m[2] {
			return nil, fmt.Errorf("migration %06d has two names: %s and %s", version, mig.name, m[2])
		}
		if m[3] == "up" {
			sum := sha256.Sum256(text)
			mig.up, mig.checksum = string(text), hex.EncodeToString(sum[:])
		} else {
			mig.down = string(text)
		}
	}
	list := make([]migration, 0, len(byVersion))
	for n := int64(1); n <= int64(len(byVersion)); n++ {
		mig := byVersion[n]
		switch {
		case mig == nil:
			return nil, fmt.Errorf("migration %06d is missing: the numbers must run from 000001 without a gap", n)
		case mig.up == "" || mig.down == "":
			return nil, fmt.Errorf("migration %06d_%s needs both an up and a down file that are not empty", n, mig.name)
		}
		list = append(list, *mig)
	}
	return list, nil
}

// Migrate brings the schema to the newest version, each file in a transaction of its
// own. Several programs may call it at once: one works, the others wait. Errors:
// Conflict when the database was written by a newer program or by other files.
func Migrate(ctx context.Context, db *DB) error {
	return migrateTo(ctx, db, migrations.FS, -1)
}

// MigrateTo brings the schema up or down to version; 0 takes everything away, and the
// records with it. Down is for tests and archives of older versions.
func MigrateTo(ctx context.Context, db *DB, version int64) error {
	return migrateTo(ctx, db, migrations.FS, version)
}

// Down takes the schema back to version to, and the records of the newer tables with it.
// It is for tests.
func Down(ctx context.Context, db *DB, to int64) error { return MigrateTo(ctx, db, to) }

// Latest is the newest version this program knows.
func Latest() (int64, error) {
	list, err := readMigrations(migrations.FS)
	return int64(len(list)), err
}

// Version is the version of the schema in the database, 0 for none.
func Version(ctx context.Context, q Querier) (int64, error) {
	var there bool
	if err := q.QueryRow(ctx, `SELECT to_regclass('schema_migration') IS NOT NULL`).Scan(&there); err != nil || !there {
		return 0, Translate(err)
	}
	var version int64
	err := q.QueryRow(ctx, `SELECT coalesce(max(version), 0) FROM schema_migration`).Scan(&version)
	return version, Translate(err)
}

// migrateTo does the work on a connection of its own, under the advisory lock; to -1
// means the newest.
func migrateTo(ctx context.Context, db *DB, fsys fs.FS, to int64) error {
	list, err := readMigrations(fsys)
	if err != nil {
		return err
	}
	conn, err := db.Connect(ctx)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx)) // which also gives the lock back
	if _, err := conn.Exec(ctx, `SELECT pg_advisory_lock($1)`, SchemaLock); err != nil {
		return Translate(err)
	}
	return runTo(ctx, conn, list, to)
}

// MigrateIn is [MigrateTo] within the caller's transaction, who holds [SchemaLock]; to -1
// means the newest version.
func MigrateIn(ctx context.Context, tx pgx.Tx, to int64) error {
	list, err := readMigrations(migrations.FS)
	if err != nil {
		return err
	}
	return runTo(ctx, tx, list, to)
}

// session is a connection or a transaction.
type session interface {
	Querier
	Begin(ctx context.Context) (pgx.Tx, error)
}

func runTo(ctx context.Context, conn session, list []migration, to int64) error {
	if to < 0 {
		to = int64(len(list))
	}
	if to > int64(len(list)) {
		return fault.New(fault.Conflict, "Schema version %d is newer than this program, which knows %d. Use the newer program.", to, len(list))
	}
	if _, err := conn.Exec(ctx, createMigrationTable); err != nil {
		return fmt.Errorf("create schema_migration: %w", Translate(err))
	}
	have, err := appliedVersion(ctx, conn, list)
	if err != nil {
		return err
	}
	for ; have < to; have++ {
		if err := apply(ctx, conn, list[have], true); err != nil {
			return err
		}
	}
	for ; have > to; have-- {
		if err := apply(ctx, conn, list[have-1], false); err != nil {
			return err
		}
	}
	return nil
}

// appliedVersion compares what the database went through with list.
func appliedVersion(ctx context.Context, conn session, list []migration) (int64, error) {
	rows, err := conn.Query(ctx, `SELECT version, checksum FROM schema_migration ORDER BY version`)
	if err != nil {
		return 0, Translate(err)
	}
	type appliedRow struct {
		Version  int64
		Checksum string
	}
	applied, err := pgx.CollectRows(rows, pgx.RowToStructByName[appliedRow])
	if err != nil {
		return 0, Translate(err)
	}
	if len(applied) > len(list) {
		return 0, fault.New(fault.Conflict, "The database has schema version %d, this program knows %d. Use the newer program.", applied[len(applied)-1].Version, len(list))
	}
	for i, a := range applied {
		if m := list[i]; a.Version != m.version || a.Checksum != m.checksum {
			return 0, fault.New(fault.Conflict, "Migration %06d was another file when this database ran it. Use the program that made this database, or restore a backup into an empty one.", m.version)
		}
	}
	return int64(len(applied)), nil
}

// apply runs one file and notes it, in one transaction.
func apply(ctx context.Context, conn session, m migration, up bool) error {
	text, note, way := m.up, `INSERT INTO schema_migration (version, name, checksum) VALUES ($1, $2, $3)`, "up"
	args := []any{m.version, m.name, m.checksum}
	if !up {
		text, note, way = m.down, `DELETE FROM schema_migration WHERE version = $1`, "down"
		args = args[:1]
	}
	err := pgx.BeginFunc(ctx, conn, func(tx pgx.Tx) error {
		// Without arguments this is the simple protocol, which takes many statements.
		if _, err := tx.Exec(ctx, text); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, note, args...)
		return err
	})
	if err != nil {
		return fmt.Errorf("migration %06d_%s %s%s: %w", m.version, m.name, way, lineOf(text, err), err)
	}
	return nil
}

// lineOf says in which line of text the server found the mistake, "" when unknown.
func lineOf(text string, err error) string {
	var pg *pgconn.PgError
	if !errors.As(err, &pg) || pg.Position == 0 {
		return ""
	}
	line, n := 1, int32(0)
	for _, r := range text {
		if n++; n >= pg.Position {
			break
		}
		if r == '\n' {
			line++
		}
	}
	return fmt.Sprintf(", line %d", line)
}
