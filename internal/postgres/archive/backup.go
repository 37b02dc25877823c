package archive

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Backup writes the book in db to w as one snapshot; others may go on working. progress
// may be nil. Conflict when there is no book in db.
func Backup(ctx context.Context, db *postgres.DB, w io.Writer, progress func(Progress)) (Info, error) {
	conn, err := db.Connect(ctx)
	if err != nil {
		return Info{}, err
	}
	defer conn.Close(context.WithoutCancel(ctx)) // also gives back the lock
	if _, err := conn.Exec(ctx, `SELECT pg_advisory_lock_shared($1)`, postgres.SchemaLock); err != nil {
		return Info{}, postgres.Translate(err)
	}
	tx, err := conn.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err != nil {
		return Info{}, postgres.Translate(err)
	}
	if _, err := tx.Exec(ctx, textSettings); err != nil {
		return Info{}, postgres.Translate(err)
	}
	info := Info{MadeAt: db.Now()}
	if info.SchemaVersion, err = postgres.Version(ctx, tx); err != nil {
		return Info{}, err
	}
	if info.SchemaVersion == 0 {
		return Info{}, fault.New(fault.Conflict, "There is no book in this database to back up.")
	}
	tables, err := bookTables(ctx, tx)
	if err != nil {
		return Info{}, err
	}
	info.Tables = len(tables)
	out, err := newWriter(w)
	if err != nil {
		return Info{}, err
	}
	if err := out.json(info); err != nil {
		return Info{}, err
	}
	for i, t := range tables {
		end, err := backupTable(ctx, tx, out, t)
		if err != nil {
			return Info{}, fmt.Errorf("back up table %s: %w", t.Table, err)
		}
		if progress != nil {
			progress(Progress{Table: t.Table, Done: i + 1, Total: len(tables), Rows: end.Rows, Bytes: end.Bytes})
		}
	}
	counters, err := readCounters(ctx, tx)
	if err != nil {
		return Info{}, err
	}
	if err := out.json(tail{counters}); err != nil {
		return Info{}, err
	}
	return info, out.close()
}

func backupTable(ctx context.Context, tx pgx.Tx, out *writer, t tableHead) (tableEnd, error) {
	if err := out.json(t); err != nil {
		return tableEnd{}, err
	}
	data := &dataWriter{w: out, sum: sha256.New()}
	tag, err := tx.Conn().PgConn().CopyTo(ctx, data, t.copySQL()+" TO STDOUT")
	if err != nil {
		return tableEnd{}, postgres.Translate(err)
	}
	end := tableEnd{Rows: tag.RowsAffected(), Bytes: data.bytes, SHA256: hexSum(data.sum)}
	return end, out.json(end)
}

// readCounters gives the last value of every sequence that was used. Sequences stand
// outside the snapshot, so they are read last: never below a number in the rows.
func readCounters(ctx context.Context, q postgres.Querier) (map[string]int64, error) {
	rows, err := q.Query(ctx, `SELECT sequencename, last_value FROM pg_sequences WHERE schemaname = 'public' AND last_value IS NOT NULL ORDER BY sequencename`)
	if err != nil {
		return nil, postgres.Translate(err)
	}
	counters := map[string]int64{}
	var name string
	var last int64
	_, err = pgx.ForEachRow(rows, []any{&name, &last}, func() error {
		counters[name] = last
		return nil
	})
	return counters, postgres.Translate(err)
}

// BackupFile is Backup into a file at path, which appears there only when it is whole and
// on disk; a file already there is replaced.
func BackupFile(ctx context.Context, db *postgres.DB, path string, progress func(Progress)) (Info, error) {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".part-*")
	if err != nil {
		return Info{}, err
	}
	info, err := Backup(ctx, db, f, progress)
	if err == nil {
		err = f.Sync()
	}
	err = errors.Join(err, f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return Info{}, errors.Join(err, os.Remove(f.Name()))
	}
	return info, nil
}
