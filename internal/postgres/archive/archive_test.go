package archive_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/archive"
	"kerfbook/internal/postgres/pgtest"
)

// filled gives a migrated book with rows in every table, texts that COPY has to escape and
// one value larger than a frame.
func filled(t *testing.T) *postgres.DB {
	t.Helper()
	noon := time.Date(2026, 3, 14, 2, 0, 0, 0, time.UTC)
	db := pgtest.DB(t, postgres.WithClock(func() time.Time { return noon }))
	pgtest.Fill(t, db)
	for i, odd := range []string{"tab\tand\nline", `\N`, `\.`, `back\slash`, "", "räuchert 木 \u2028", "\x01\x7f"} {
		_, err := db.Exec(t.Context(), `INSERT INTO sign_in_failure (subject, at) VALUES ($1, $2)`, odd, time.Date(2026, 3, i+1, 1, 2, 3, 456789000, time.UTC))
		require.NoError(t, err)
	}
	_, err := db.Exec(t.Context(), `INSERT INTO idempotency (key, actor_id, route, body_hash, status, headers, body) VALUES ('large', 0, 'r', $1, 200, '{}', $2)`,
		[]byte{1}, bytes.Repeat([]byte("sawdust\x00\xff"), 300_000))
	require.NoError(t, err)
	return db
}

func backup(t *testing.T, db *postgres.DB) []byte {
	t.Helper()
	var file bytes.Buffer
	_, err := archive.Backup(t.Context(), db, &file, nil)
	require.NoError(t, err)
	return file.Bytes()
}

// contents sums up every table: its rows, whatever their order.
func contents(t *testing.T, db *postgres.DB) map[string]string {
	t.Helper()
	tables, err := postgres.Column[string](t.Context(), db, `SELECT relname FROM pg_class
		WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relname NOT IN ('schema_migration', 'sessions')`)
	require.NoError(t, err)
	sums := map[string]string{}
	for _, table := range tables {
		sums[table], err = postgres.Value[string](t.Context(), db, `SELECT count(*) || ' rows ' || coalesce(md5(string_agg(md5(x::text), '' ORDER BY x::text)), '') FROM `+table+` x`)
		require.NoError(t, err)
	}
	return sums
}

// guards lists foreign keys, triggers and counters as they are now.
func guards(t *testing.T, db *postgres.DB) []string {
	t.Helper()
	list, err := postgres.Column[string](t.Context(), db, `
		SELECT conrelid::regclass || ' ' || conname || ' ' || pg_get_constraintdef(oid) || convalidated FROM pg_constraint WHERE connamespace = 'public'::regnamespace
		UNION ALL SELECT pg_get_triggerdef(t.oid) || tgenabled::text FROM pg_trigger t JOIN pg_class c ON c.oid = tgrelid WHERE c.relnamespace = 'public'::regnamespace AND NOT tgisinternal
		UNION ALL SELECT sequencename || ' ' || last_value FROM pg_sequences WHERE schemaname = 'public' AND last_value IS NOT NULL
		ORDER BY 1`)
	require.NoError(t, err)
	return list
}

func tableCount(t *testing.T, db *postgres.DB) int {
	t.Helper()
	n, err := postgres.Value[int](t.Context(), db, `SELECT count(*) FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r'`)
	require.NoError(t, err)
	return n
}

func TestRoundTrip(t *testing.T) {
	t.Parallel()
	from, to := filled(t), pgtest.EmptyDB(t)
	var file bytes.Buffer
	var told []archive.Progress
	made, err := archive.Backup(t.Context(), from, &file, func(p archive.Progress) { told = append(told, p) })
	require.NoError(t, err)
	latest, err := postgres.Latest()
	require.NoError(t, err)
	require.Equal(t, latest, made.SchemaVersion)
	require.Len(t, told, made.Tables)
	require.Equal(t, made.Tables, told[len(told)-1].Done)
	require.NotZero(t, told[0].Rows)

	checked, err := archive.Check(bytes.NewReader(file.Bytes()))
	require.NoError(t, err)
	require.Equal(t, made, checked)
	restored, err := archive.Restore(t.Context(), to, bytes.NewReader(file.Bytes()), archive.Options{})
	require.NoError(t, err)
	require.Equal(t, made, restored)
	require.Equal(t, contents(t, from), contents(t, to))
	require.Equal(t, guards(t, from), guards(t, to))

	again := contents(t, to)
	require.NoError(t, postgres.Migrate(t.Context(), to), "the restored book is at this program's version")
	require.Equal(t, again, contents(t, to))
	var next int
	require.NoError(t, to.QueryRow(t.Context(), `INSERT INTO sign_in_failure (subject) VALUES ('next') RETURNING id - (SELECT max(id) FROM sign_in_failure)`).Scan(&next))
	require.Equal(t, 1, next, "numbers go on where they were")
}

// What others commit while the backup runs is not in it, or is in it in all tables.
func TestBackupIsOneSnapshot(t *testing.T) {
	t.Parallel()
	db := filled(t)
	before := contents(t, db)
	var file bytes.Buffer
	_, err := archive.Backup(t.Context(), db, &file, func(p archive.Progress) {
		if p.Done == 1 {
			_, err := db.Exec(t.Context(), `INSERT INTO sign_in_failure (subject) VALUES ('meanwhile')`)
			require.NoError(t, err)
		}
	})
	require.NoError(t, err)
	require.NotEqual(t, before, contents(t, db))
	to := pgtest.EmptyDB(t)
	_, err = archive.Restore(t.Context(), to, &reader{Reader: bytes.NewReader(file.Bytes())}, archive.Options{})
	require.NoError(t, err)
	require.Equal(t, before, contents(t, to))
}

// reader reads a few bytes at a time, as a slow disk does.
type reader struct{ *bytes.Reader }

func (r *reader) Read(p []byte) (int, error) { return r.Reader.Read(p[:min(len(p), 1000)]) }

func TestDamagedArchiveIsRefusedUntouched(t *testing.T) {
	t.Parallel()
	whole := backup(t, filled(t))
	to := pgtest.EmptyDB(t)
	refuse := func(file []byte, why string, at int) {
		t.Helper()
		_, err := archive.Restore(t.Context(), to, bytes.NewReader(file), archive.Options{})
		require.Equal(t, fault.Invalid, fault.KindOf(err), "%s at %d of %d: %v", why, at, len(whole), err)
	}
	places := []int{0, 1, len(whole) - 1, len(whole) - 2, len(whole) - 80}
	for at := 2; at < len(whole); at += 1 + len(whole)/97 {
		places = append(places, at)
	}
	for at := range 64 { // the heads of the file and of the compressed stream
		places = append(places, at)
	}
	for _, at := range places {
		refuse(whole[:at], "cut short", at)
		flipped := bytes.Clone(whole)
		flipped[at] ^= 0x10
		refuse(flipped, "flipped", at)
	}
	refuse(append(bytes.Clone(whole), '\n'), "lengthened", len(whole))
	require.Zero(t, tableCount(t, to), "nothing was begun")
}

func TestOlderArchiveIsMigrated(t *testing.T) {
	t.Parallel()
	latest, err := postgres.Latest()
	require.NoError(t, err)
	from := pgtest.EmptyDB(t)
	require.NoError(t, postgres.MigrateTo(t.Context(), from, latest-1))
	pgtest.Fill(t, from)
	file := backup(t, from)
	to := pgtest.EmptyDB(t)
	info, err := archive.Restore(t.Context(), to, bytes.NewReader(file), archive.Options{})
	require.NoError(t, err)
	require.Equal(t, latest-1, info.SchemaVersion)
	require.NoError(t, postgres.Migrate(t.Context(), from))
	require.Equal(t, contents(t, from), contents(t, to))
	require.Equal(t, guards(t, from), guards(t, to))
}

func TestBookInTheWay(t *testing.T) {
	t.Parallel()
	from, to := filled(t), pgtest.DB(t)
	pgtest.Fill(t, to)
	file := backup(t, from)
	before := contents(t, to)

	_, err := archive.Restore(t.Context(), to, bytes.NewReader(file), archive.Options{})
	require.Equal(t, fault.Conflict, fault.KindOf(err), "%v", err)
	require.Equal(t, before, contents(t, to))

	ctx, cancel := context.WithCancel(t.Context()) // broken off half-way
	_, err = archive.Restore(ctx, to, bytes.NewReader(file), archive.Options{Replace: true, Progress: func(p archive.Progress) {
		if p.Done == p.Total/2 {
			cancel()
		}
	}})
	require.Error(t, err)
	require.Equal(t, before, contents(t, to), "the old book is still whole")

	_, err = archive.Restore(t.Context(), to, bytes.NewReader(file), archive.Options{Replace: true})
	require.NoError(t, err)
	require.Equal(t, contents(t, from), contents(t, to))
	require.Equal(t, guards(t, from), guards(t, to))
}

func TestNothingToBackUp(t *testing.T) {
	t.Parallel()
	db := pgtest.EmptyDB(t)
	path := filepath.Join(t.TempDir(), "book.kerfbook")
	_, err := archive.BackupFile(t.Context(), db, path, nil)
	require.Equal(t, fault.Conflict, fault.KindOf(err), "%v", err)
	left, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	require.Empty(t, left)
}

func TestFiles(t *testing.T) {
	t.Parallel()
	from, to := filled(t), pgtest.EmptyDB(t)
	path := filepath.Join(t.TempDir(), "book.kerfbook")
	require.NoError(t, os.WriteFile(path, []byte("yesterday's"), 0o600))
	made, err := archive.BackupFile(t.Context(), from, path, nil)
	require.NoError(t, err)
	files, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	require.Len(t, files, 1)
	restored, err := archive.RestoreFile(t.Context(), to, path, archive.Options{})
	require.NoError(t, err)
	require.Equal(t, made, restored)
	_, err = archive.RestoreFile(t.Context(), to, path+".none", archive.Options{})
	require.ErrorIs(t, err, os.ErrNotExist)
}

// full is a disk that takes no more after n bytes.
type full struct{ n int }

var errFull = errors.New("no space left")

func (f *full) Write(p []byte) (int, error) {
	if f.n -= len(p); f.n < 0 {
		return 0, errFull
	}
	return len(p), nil
}

func TestFullDiskIsReported(t *testing.T) {
	t.Parallel()
	db := filled(t)
	whole := backup(t, db)
	require.Equal(t, whole, backup(t, db), "the same book at the same time gives the same bytes")
	size := len(whole)
	for _, n := range []int{0, 10, size / 2, size - 40} {
		_, err := archive.Backup(t.Context(), db, &full{n}, nil)
		require.ErrorIs(t, err, errFull, "at %d", n)
	}
	_, err := archive.Backup(t.Context(), db, io.Discard, nil)
	require.NoError(t, err)
}
