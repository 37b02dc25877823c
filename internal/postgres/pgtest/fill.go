package pgtest

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"kerfbook/internal/postgres"
)

// fillTries bounds the search for one row that a table's checks let in.
const fillTries = 20000

const fillRounds = 3

// Fill puts a row or two into every table that has none, whatever tables there are, so that
// migrations and archives can be tried over rows. The rows satisfy all constraints and
// foreign keys, and mean nothing. Triggers do not fire.
func Fill(t testing.TB, db *postgres.DB) {
	t.Helper()
	ctx := t.Context()
	err := db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		undo, err := suspend(ctx, tx)
		if err != nil {
			return err
		}
		tables, err := fillTables(ctx, tx)
		if err != nil {
			return err
		}
		// Again: later rounds find the rows that the first had nothing to point at.
		for range fillRounds {
			err = nil
			for _, table := range tables {
				if tableErr := fillTable(ctx, tx, table); tableErr != nil {
					err = fmt.Errorf("table %s: %w", table, tableErr)
				}
			}
		}
		if err != nil {
			return err
		}
		if err := moveCounters(ctx, tx); err != nil {
			return err
		}
		return run(ctx, tx, undo)
	})
	if err != nil {
		t.Fatalf("pgtest: fill: %v", err)
	}
}

// fillTables lists the tables, those that others must name first.
func fillTables(ctx context.Context, tx pgx.Tx) ([]string, error) {
	rows, err := tx.Query(ctx, `
		WITH RECURSIVE need AS (
			SELECT DISTINCT k.conrelid AS child, k.confrelid AS parent
			FROM fill_key k JOIN pg_attribute a ON a.attrelid = k.conrelid AND a.attnum = ANY (k.conkey)
			WHERE k.contype = 'f' AND a.attnotnull AND k.conrelid <> k.confrelid
		), depth AS (
			SELECT c.oid, 0 AS d FROM pg_class c WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace
			UNION
			SELECT n.child, depth.d + 1 FROM depth JOIN need n ON n.parent = depth.oid WHERE depth.d < 30
		)
		SELECT c.relname FROM depth JOIN pg_class c USING (oid) WHERE c.relname <> 'schema_migration'
		GROUP BY c.relname ORDER BY max(d), c.relname`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[string])
}

// fillColumn is one column and the literals to try in it; now is the one in use.
type fillColumn struct {
	Name      string
	Type      string // without its domain
	Length    int    // of char(n) and varchar(n), else 0
	Required  bool
	Defaulted bool
	FKTable   *string
	FKColumn  *string
	Checks    []string // the conditions on this column alone
	literals  []string
	now       int
}

// fillTable brings table to two rows, or one where there is no second.
func fillTable(ctx context.Context, tx pgx.Tx, table string) error {
	var n int
	if err := tx.QueryRow(ctx, `SELECT count(*) FROM `+table).Scan(&n); err != nil {
		return err
	}
	if n == 0 {
		if err := fillRow(ctx, tx, table); err != nil {
			return err
		}
	}
	if n < 2 {
		_ = fillRow(ctx, tx, table) // a table of one row refuses
	}
	return nil
}

func fillRow(ctx context.Context, tx pgx.Tx, table string) error {
	cols, err := fillColumns(ctx, tx, table)
	if err != nil {
		return err
	}
	for range fillTries {
		err := tryRow(ctx, tx, table, cols)
		var pg *pgconn.PgError
		if err == nil || !errors.As(err, &pg) || pg.ConstraintName == "" {
			return err
		}
		keys, keyErr := constraintColumns(ctx, tx, table, pg.ConstraintName)
		if keyErr != nil {
			return keyErr
		}
		if !turn(cols, keys) {
			return fmt.Errorf("no row found that %s lets in: %w", pg.ConstraintName, err)
		}
	}
	return errors.New("no row found that all checks let in")
}

// turn moves the columns named in keys to their next combination, as an odometer does.
func turn(cols []*fillColumn, keys []string) bool {
	for _, c := range cols {
		if !slices.Contains(keys, c.Name) {
			continue
		}
		if c.now++; c.now < len(c.literals) {
			return true
		}
		c.now = 0
	}
	return false
}

func tryRow(ctx context.Context, tx pgx.Tx, table string, cols []*fillColumn) error {
	names, values := make([]string, len(cols)), make([]string, len(cols))
	for i, c := range cols {
		names[i], values[i] = c.Name, c.literals[c.now]
	}
	return pgx.BeginFunc(ctx, tx, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, fmt.Sprintf("INSERT INTO %s (%s) OVERRIDING SYSTEM VALUE VALUES (%s)",
			table, strings.Join(names, ", "), strings.Join(values, ", ")))
		if err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `SET CONSTRAINTS ALL IMMEDIATE`) // those that wait for the end
		return err
	})
}

func constraintColumns(ctx context.Context, tx pgx.Tx, table, constraint string) ([]string, error) {
	rows, err := tx.Query(ctx, `
		SELECT a.attname FROM pg_attribute a
		WHERE a.attrelid = $1::regclass AND a.attnum = ANY (
			SELECT unnest(conkey) FROM pg_constraint WHERE conrelid = $1::regclass AND conname = $2
			UNION ALL SELECT unnest(indkey) FROM pg_index i JOIN pg_class c ON c.oid = i.indexrelid WHERE indrelid = $1::regclass AND c.relname = $2)`, table, constraint)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[string])
}

func fillColumns(ctx context.Context, tx pgx.Tx, table string) ([]*fillColumn, error) {
	rows, err := tx.Query(ctx, `
		SELECT a.attname AS name, format_type(coalesce(nullif(y.typbasetype, 0), y.oid), NULL) AS type,
			CASE WHEN y.typname IN ('bpchar', 'varchar') THEN greatest(a.atttypmod - 4, 0) ELSE 0 END AS length,
			a.attnotnull AS required, a.atthasdef AS defaulted, f.relname AS fk_table, p.attname AS fk_column,
			ARRAY(SELECT pg_get_constraintdef(oid) FROM pg_constraint WHERE conrelid = a.attrelid AND contype = 'c' AND conkey = ARRAY[a.attnum]) AS checks
		FROM pg_attribute a JOIN pg_type y ON y.oid = a.atttypid
		LEFT JOIN fill_key k ON k.conrelid = a.attrelid AND k.contype = 'f' AND a.attnum = ANY (k.conkey) AND cardinality(k.conkey) = 1
		LEFT JOIN pg_class f ON f.oid = k.confrelid
		LEFT JOIN pg_attribute p ON p.attrelid = k.confrelid AND p.attnum = k.confkey[1]
		WHERE a.attrelid = $1::regclass AND a.attnum > 0 AND NOT a.attisdropped AND a.attgenerated = ''
		ORDER BY a.attnum`, table)
	if err != nil {
		return nil, err
	}
	cols, err := pgx.CollectRows(rows, pgx.RowToAddrOfStructByName[fillColumn])
	if err != nil {
		return nil, err
	}
	for _, c := range cols {
		if c.literals, err = c.candidates(ctx, tx, table); err != nil {
			return nil, err
		}
	}
	return cols, nil
}

var quoted = regexp.MustCompile(`'([^']*)'::`)

// byType lists what to try in a column of a type.
var byType = map[string][]string{
	"bigint": {"1", "2", "0", "50"}, "integer": {"1", "2", "0", "50"}, "smallint": {"1", "2", "0"},
	"numeric": {"1", "1.5", "0", "50"}, "double precision": {"1", "0.5", "0"}, "real": {"1", "0"},
	"text": {"'a'", "'A'", "'standard'", "'model:1'", "'0012'", "'123456'", "'1234567890'", "''"}, "character": {"'A'", "'AU'", "'AUD'"}, "character varying": {"'a'", "'A'"},
	"boolean": {"true", "false"}, "date": {"'2026-03-14'", "'2026-03-16'"},
	"timestamp with time zone": {"'2026-03-14 09:26:53.589793+00'", "'2026-03-16 00:00+00'"},
	"time without time zone":   {"'08:00'", "'16:30'"}, "interval": {"'1 day'"},
	"jsonb": {`'[1, "b\\nc", 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]'`, `'{"a": [1, "b\\nc"]}'`, `'[]'`, `'{}'`}, "json": {"'{}'"},
	"bytea":      {`'\x000102030405060708090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f'`, `'\x00'`},
	"smallint[]": {"'{1,2}'"}, "integer[]": {"'{1,2}'"}, "bigint[]": {"'{1,2}'"}, "text[]": {"'{a,NULL}'", "'{a}'"}, "uuid": {"'00000000-0000-4000-8000-000000000001'"},
	"tsvector": {"'a'"}, "inet": {"'127.0.0.1'"}, "daterange": {"'[2026-03-14,2026-03-16)'"}, "int4range": {"'[1,3)'"},
}

func (c *fillColumn) candidates(ctx context.Context, tx pgx.Tx, table string) ([]string, error) {
	if c.FKTable != nil {
		return c.foreign(ctx, tx, table)
	}
	if strings.HasSuffix(c.Name, "_id") && !c.Required { // a later migration may say what it names
		return []string{"NULL"}, nil
	}
	var list []string
	for _, check := range c.Checks { // such as (kind = ANY (ARRAY['phone'::text, 'email'::text]))
		for _, m := range quoted.FindAllStringSubmatch(check, -1) {
			list = append(list, "'"+m[1]+"'")
		}
	}
	for _, l := range byType[c.Type] {
		if c.Length == 0 || len(l)-2 <= c.Length {
			list = append(list, l)
		}
	}
	if len(list) == 0 {
		return nil, fmt.Errorf("column %s: add literals of type %s to byType", c.Name, c.Type)
	}
	if c.Defaulted {
		list = append(list, "DEFAULT")
	}
	if !c.Required {
		list = slices.Insert(list, 1, "NULL")
	}
	return list, nil
}

// foreign gives the values of rows that may be named; without one, NULL or a guess that
// the row named will be number 1.
func (c *fillColumn) foreign(ctx context.Context, tx pgx.Tx, table string) ([]string, error) {
	rows, err := tx.Query(ctx, fmt.Sprintf(`SELECT quote_literal(%[1]s) FROM %[2]s ORDER BY %[1]s LIMIT 2`, *c.FKColumn, *c.FKTable))
	if err != nil {
		return nil, err
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[string])
	switch {
	case err != nil:
		return nil, err
	case len(list) == 0 && c.Required:
		return []string{"1"}, nil
	case len(list) == 0 || *c.FKTable == table && !c.Required:
		return []string{"NULL"}, nil
	case c.Required:
		return list, nil
	}
	return append(list, "NULL"), nil
}

// moveCounters lets the next row of each table have the next number.
func moveCounters(ctx context.Context, tx pgx.Tx) error {
	rows, err := tx.Query(ctx, `
		SELECT format('SELECT setval(%L, m) FROM (SELECT max(%I) AS m FROM %s) x WHERE m IS NOT NULL', pg_get_serial_sequence(c.oid::regclass::text, a.attname), a.attname, c.oid::regclass)
		FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid WHERE c.relnamespace = 'public'::regnamespace AND a.attidentity <> ''`)
	if err != nil {
		return err
	}
	sets, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return err
	}
	return run(ctx, tx, sets)
}

// suspend stops the triggers and takes off the foreign keys, which table fill_key keeps. It
// gives the statements that undo this; putting a foreign key back checks it.
func suspend(ctx context.Context, tx pgx.Tx) ([]string, error) {
	if _, err := tx.Exec(ctx, `CREATE TEMP TABLE fill_key ON COMMIT DROP AS SELECT * FROM pg_constraint
		WHERE contype = 'f' AND connamespace = 'public'::regnamespace`); err != nil {
		return nil, err
	}
	both := make([][]string, 2)
	for i, list := range []string{
		`SELECT format('ALTER TABLE %s DROP CONSTRAINT %I', conrelid::regclass, conname) FROM fill_key
		UNION ALL SELECT format('ALTER TABLE %s DISABLE TRIGGER USER', oid::regclass) FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace`,
		`SELECT format('ALTER TABLE %s ADD CONSTRAINT %I %s', conrelid::regclass, conname, pg_get_constraintdef(oid)) FROM fill_key
		UNION ALL SELECT format('ALTER TABLE %s ENABLE TRIGGER USER', oid::regclass) FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace`,
	} {
		rows, err := tx.Query(ctx, list)
		if err != nil {
			return nil, err
		}
		if both[i], err = pgx.CollectRows(rows, pgx.RowTo[string]); err != nil {
			return nil, err
		}
	}
	return both[1], run(ctx, tx, both[0])
}

func run(ctx context.Context, tx pgx.Tx, statements []string) error {
	for _, sql := range statements {
		if _, err := tx.Exec(ctx, sql); err != nil {
			return fmt.Errorf("%s: %w", sql, err)
		}
	}
	return nil
}
