package archive

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Options say how a restore goes.
type Options struct {
	// Replace takes away the book that is in the database, if there is one. Without it a
	// database with tables is refused.
	Replace bool
	// Progress hears of each table; may be nil.
	Progress func(Progress)
}

// Check reads the whole of r and says what it is. Invalid: it is no archive, or it is cut
// short or altered.
func Check(r io.ReadSeeker) (Info, error) {
	_, info, err := open(r)
	return info, err
}

func open(r io.ReadSeeker) (*reader, Info, error) {
	if err := verify(r); err != nil {
		return nil, Info{}, err
	}
	in, err := newReader(r)
	if err != nil {
		return nil, Info{}, err
	}
	var info Info
	if err := in.json(&info); err != nil {
		return nil, Info{}, err
	}
	return in, info, nil
}

// Restore puts the book of archive r into db and migrates it to this program's schema, in
// one transaction: after an error db is as it was. Invalid: r is no archive or is damaged.
// Conflict: r is of a newer program, or db is not empty and o.Replace not set. Unavailable:
// others are using the tables that are to be replaced.
func Restore(ctx context.Context, db *postgres.DB, r io.ReadSeeker, o Options) (Info, error) {
	in, info, err := open(r)
	if err != nil {
		return Info{}, err
	}
	latest, err := postgres.Latest()
	if err != nil {
		return Info{}, err
	}
	if info.SchemaVersion < 1 || info.SchemaVersion > latest {
		return Info{}, fault.New(fault.Conflict, "The archive has schema version %d, this program knows 1 to %d. Use the program that made the archive, or a newer one.", info.SchemaVersion, latest)
	}
	conn, err := db.Connect(ctx)
	if err != nil {
		return Info{}, err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	tx, err := conn.Begin(ctx) // closing rolls back
	if err != nil {
		return Info{}, postgres.Translate(err)
	}
	if err := restoreIn(ctx, tx, in, info, o); err != nil {
		return Info{}, err
	}
	return info, postgres.Translate(tx.Commit(ctx))
}

func restoreIn(ctx context.Context, tx pgx.Tx, in *reader, info Info, o Options) error {
	if _, err := tx.Exec(ctx, textSettings+`; SET LOCAL lock_timeout = '15s'`); err != nil {
		return postgres.Translate(err)
	}
	if _, err := tx.Exec(ctx, `SELECT pg_advisory_xact_lock($1)`, postgres.SchemaLock); err != nil {
		return postgres.Translate(err)
	}
	if err := makeRoom(ctx, tx, o.Replace); err != nil {
		return err
	}
	if err := postgres.MigrateIn(ctx, tx, info.SchemaVersion); err != nil {
		return err
	}
	if err := load(ctx, tx, in, info, o.Progress); err != nil {
		return err
	}
	if err := postgres.MigrateIn(ctx, tx, -1); err != nil {
		return err
	}
	_, err := tx.Exec(ctx, `ANALYZE`)
	return postgres.Translate(err)
}

// makeRoom looks that there are no tables, or takes away what there is.
func makeRoom(ctx context.Context, tx pgx.Tx, replace bool) error {
	var tables int
	err := tx.QueryRow(ctx, `SELECT count(*) FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p', 'v', 'm', 'f')`).Scan(&tables)
	if err != nil {
		return postgres.Translate(err)
	}
	if tables == 0 {
		return nil
	}
	if !replace {
		return fault.New(fault.Conflict, "There is a book in this database already. Restore into an empty database, or say that it is to be replaced.")
	}
	for _, list := range []string{
		`SELECT format('DROP %s IF EXISTS %s CASCADE', CASE relkind WHEN 'v' THEN 'VIEW' WHEN 'm' THEN 'MATERIALIZED VIEW' ELSE 'TABLE' END, oid::regclass)
			FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p', 'v', 'm') ORDER BY relkind DESC, relname`,
		`SELECT format('DROP ROUTINE IF EXISTS %s CASCADE', oid::regprocedure) FROM pg_proc p WHERE pronamespace = 'public'::regnamespace
			AND NOT EXISTS (SELECT FROM pg_depend d WHERE d.objid = p.oid AND d.deptype = 'e') ORDER BY oid`,
		`SELECT format('DROP TYPE IF EXISTS %s CASCADE', oid::regtype) FROM pg_type t WHERE typnamespace = 'public'::regnamespace AND typtype IN ('d', 'e')
			AND NOT EXISTS (SELECT FROM pg_depend d WHERE d.objid = t.oid AND d.deptype = 'e') ORDER BY oid`,
	} {
		drops, err := postgres.Column[string](ctx, tx, list)
		if err != nil {
			return err
		}
		for _, drop := range drops {
			if _, err := tx.Exec(ctx, drop); err != nil {
				return fmt.Errorf("%s: %w", drop, postgres.Translate(err))
			}
		}
	}
	return nil
}

// load fills the tables of the archive. Triggers rest meanwhile, or history and counts
// would be written twice; foreign keys are taken off and put back, which checks them, so
// that the order of the tables does not matter.
func load(ctx context.Context, tx pgx.Tx, in *reader, info Info, progress func(Progress)) error {
	tables, err := bookTables(ctx, tx)
	if err != nil {
		return err
	}
	if len(tables) != info.Tables {
		return errDamaged(fmt.Errorf("%d tables, schema version %d has %d", info.Tables, info.SchemaVersion, len(tables)))
	}
	restoreKeys, err := suspend(ctx, tx, tables)
	if err != nil {
		return err
	}
	for i, t := range tables {
		end, err := loadTable(ctx, tx, in, t)
		if err != nil {
			return fmt.Errorf("restore table %s: %w", t.Table, err)
		}
		if progress != nil {
			progress(Progress{Table: t.Table, Done: i + 1, Total: len(tables), Rows: end.Rows, Bytes: end.Bytes})
		}
	}
	var last tail
	if err := in.json(&last); err != nil {
		return err
	}
	if err := in.end(); err != nil {
		return err
	}
	for name, value := range last.Counters {
		if _, err := tx.Exec(ctx, `SELECT setval(format('public.%I', $1::text)::regclass, $2)`, name, value); err != nil {
			return fmt.Errorf("restore counter %s: %w", name, postgres.Translate(err))
		}
	}
	for _, sql := range restoreKeys {
		if _, err := tx.Exec(ctx, sql); err != nil {
			return fmt.Errorf("restore: %s: %w", sql, postgres.Translate(err))
		}
	}
	return nil
}

// suspend empties the tables (migrations may have put rows there), stops their triggers
// and takes off their foreign keys. It gives the statements that undo the latter two.
func suspend(ctx context.Context, tx pgx.Tx, tables []tableHead) ([]string, error) {
	names := make([]string, len(tables))
	for i, t := range tables {
		names[i] = pgx.Identifier{"public", t.Table}.Sanitize()
	}
	do := []string{"TRUNCATE " + strings.Join(names, ", ")}
	undo := []string{"SET CONSTRAINTS ALL IMMEDIATE"} // tables with checks outstanding cannot be altered
	keys, err := tx.Query(ctx, `SELECT format('ALTER TABLE %s DROP CONSTRAINT %I', conrelid::regclass, conname),
		format('ALTER TABLE %s ADD CONSTRAINT %I %s', conrelid::regclass, conname, pg_get_constraintdef(oid))
		FROM pg_constraint WHERE contype = 'f' AND connamespace = 'public'::regnamespace ORDER BY oid`)
	if err != nil {
		return nil, postgres.Translate(err)
	}
	var off, on string
	if _, err := pgx.ForEachRow(keys, []any{&off, &on}, func() error {
		do, undo = append(do, off), append(undo, on)
		return nil
	}); err != nil {
		return nil, postgres.Translate(err)
	}
	for _, name := range names {
		do = append(do, "ALTER TABLE "+name+" DISABLE TRIGGER USER")
		undo = append(undo, "ALTER TABLE "+name+" ENABLE TRIGGER USER")
	}
	for _, sql := range do {
		if _, err := tx.Exec(ctx, sql); err != nil {
			return nil, fmt.Errorf("restore: %s: %w", sql, postgres.Translate(err))
		}
	}
	return undo, nil
}

func loadTable(ctx context.Context, tx pgx.Tx, in *reader, t tableHead) (tableEnd, error) {
	var head tableHead
	if err := in.json(&head); err != nil {
		return tableEnd{}, err
	}
	// The order of columns may differ where a table was altered along another way.
	if head.Table != t.Table || !slices.Equal(slices.Sorted(slices.Values(head.Columns)), slices.Sorted(slices.Values(t.Columns))) {
		return tableEnd{}, errDamaged(fmt.Errorf("table %s %v where the schema has %s %v", head.Table, head.Columns, t.Table, t.Columns))
	}
	data := &dataReader{r: in, sum: sha256.New()}
	tag, err := tx.Conn().PgConn().CopyFrom(ctx, data, head.copySQL()+" FROM STDIN")
	if data.err != nil && data.err != io.EOF { // it is behind whatever the server says
		return tableEnd{}, data.err
	}
	if err != nil {
		return tableEnd{}, postgres.Translate(err)
	}
	var end tableEnd
	if err := in.decode(&end); err != nil {
		return tableEnd{}, err
	}
	if got := (tableEnd{Rows: tag.RowsAffected(), Bytes: data.bytes, SHA256: hexSum(data.sum)}); got != end {
		return tableEnd{}, errDamaged(fmt.Errorf("%+v where %+v was written", got, end))
	}
	return end, nil
}

// RestoreFile is [Restore] from the file at path.
func RestoreFile(ctx context.Context, db *postgres.DB, path string, o Options) (Info, error) {
	f, err := os.Open(path)
	if err != nil {
		return Info{}, err
	}
	defer f.Close()
	return Restore(ctx, db, f, o)
}
