package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
)

// List runs a query and gives its rows as structs of type T, column by column by name
// (db tags). A column without a field, or the reverse, is an error. An empty answer is
// an empty slice. Errors come back through [Translate].
func List[T any](ctx context.Context, q Querier, sql string, args ...any) ([]T, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, Translate(err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByName[T])
	return list, Translate(err)
}

// One is [List] for exactly one row; NotFound when there is none.
func One[T any](ctx context.Context, q Querier, sql string, args ...any) (T, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		var none T
		return none, Translate(err)
	}
	one, err := pgx.CollectExactlyOneRow(rows, pgx.RowToStructByName[T])
	return one, Translate(err)
}

// Column runs a query of one column and gives its values.
func Column[T any](ctx context.Context, q Querier, sql string, args ...any) ([]T, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, Translate(err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[T])
	return list, Translate(err)
}

// Value runs a query of one row and one column, such as INSERT … RETURNING id; NotFound
// when there is no row.
func Value[T any](ctx context.Context, q Querier, sql string, args ...any) (T, error) {
	var v T
	err := q.QueryRow(ctx, sql, args...).Scan(&v)
	return v, Translate(err)
}

// Changed says why an UPDATE … WHERE id AND version RETURNING … had no row: it turns
// NotFound into Stale when the record is there, and names it as what ("this log") in
// either case. Every other err, nil too, is given back as it is.
func Changed(ctx context.Context, q Querier, err error, table string, id int64, what string) error {
	if !fault.Is(err, fault.NotFound) {
		return err
	}
	there, err := Value[bool](ctx, q, `SELECT EXISTS (SELECT FROM `+table+` WHERE id = $1)`, id)
	switch {
	case err != nil:
		return err
	case !there:
		return fault.New(fault.NotFound, "There is no such record: %s.", what)
	}
	return fault.New(fault.Stale, "Somebody changed %s in the meantime. Look at it again, then store your change.", what)
}
