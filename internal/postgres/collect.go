package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"
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
