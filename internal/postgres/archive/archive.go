// Package archive writes the whole book to one file and reads it back.
//
// An archive is a line "kerfbook archive 1", a gzip stream of frames, and a line
// "sha256 …" over everything before it. The frames hold a header (schema version, when it
// was made), then for each table its columns, its rows as PostgreSQL's COPY writes them as
// text, and a count and checksum; last the counters of the identity columns. Backup sees
// one snapshot. Restore checks the whole file before it touches the database, loads at the
// archive's schema version, then migrates, all in one transaction: it happens or it does not.
//
// Who was signed in (table sessions) is no part of the book and is left out.
//
// Start reading at [Backup] and [Restore].
package archive

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/postgres"
)

// Info is what an archive says of itself.
type Info struct {
	SchemaVersion int64     `json:"schema_version"`
	MadeAt        time.Time `json:"made_at"`
	Tables        int       `json:"tables"`
}

// Progress is told after each table.
type Progress struct {
	Table       string
	Done, Total int   // tables
	Rows        int64 // of this table
	Bytes       int64 // of this table, before compression
}

// tableHead opens a table in the file, tableEnd closes it.
type tableHead struct {
	Table   string   `json:"table"`
	Columns []string `json:"columns"`
}

type tableEnd struct {
	Rows   int64  `json:"rows"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// tail closes the frames.
type tail struct {
	Counters map[string]int64 `json:"counters"` // sequence: last value given
}

// textSettings make COPY write and read the same text whatever the server's defaults.
const textSettings = `SET LOCAL DateStyle = 'ISO, YMD'; SET LOCAL IntervalStyle = 'iso_8601'; SET LOCAL timezone = 'UTC';
	SET LOCAL extra_float_digits = 1; SET LOCAL bytea_output = 'hex'; SET LOCAL client_encoding = 'UTF8'`

// skipped are the tables that no archive holds.
var skipped = []string{"schema_migration", "sessions"}

// bookTables lists the tables of the book by name with their columns; computed columns
// are left out, since COPY cannot write them.
func bookTables(ctx context.Context, q postgres.Querier) ([]tableHead, error) {
	rows, err := q.Query(ctx, `
		SELECT c.relname, array_agg(a.attname::text ORDER BY a.attnum)
		FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid
		WHERE c.relnamespace = 'public'::regnamespace AND c.relkind = 'r' AND c.relname <> ALL ($1)
			AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
		GROUP BY c.relname ORDER BY c.relname`, skipped)
	if err != nil {
		return nil, postgres.Translate(err)
	}
	tables, err := pgx.CollectRows(rows, pgx.RowToStructByPos[tableHead])
	return tables, postgres.Translate(err)
}

// copySQL names the table and its columns for COPY, quoted.
func (t tableHead) copySQL() string {
	sql := "COPY " + pgx.Identifier{"public", t.Table}.Sanitize() + " ("
	for i, c := range t.Columns {
		if i > 0 {
			sql += ", "
		}
		sql += pgx.Identifier{c}.Sanitize()
	}
	return sql + ")"
}
