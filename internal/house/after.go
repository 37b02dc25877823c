package house

import (
	"context"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// AfterCare is how long the guarantee runs and when buyers are reminded to fetch what is
// ready. Version 0 is the standard that nobody has changed yet.
type AfterCare struct {
	Version             int     `db:"version"`
	GuaranteeBoxDays    int     `db:"guarantee_box_days"`    // after the handover; 0: none
	GuaranteeColonyDays int     `db:"guarantee_colony_days"` // after the handover; 0: none
	FetchDays           []int32 `db:"fetch_days"`            // after it was ready, ascending; one reminder each
	FetchTerms          string  `db:"fetch_terms"`           // printed by the last reminder
}

// standardAfterCare fits the guarantee of [Standard]; the days and the terms are our
// choices, no source.
func standardAfterCare() AfterCare {
	return AfterCare{GuaranteeBoxDays: 5 * 365, GuaranteeColonyDays: 56, FetchDays: []int32{3, 10, 24},
		FetchTerms: "It stays put aside for you for now, and the bees are looked after. If it is not fetched, the law on goods left uncollected applies: you get a notice in writing, with the time that law gives you, before anything is sold or given to somebody else, and what you paid is settled as the law says."}
}

const afterColumns = `version, guarantee_box_days, guarantee_colony_days, fetch_days, fetch_terms`

// AfterCareGet reads it; the standard when nobody has changed it.
func (r *Room) AfterCareGet(ctx context.Context) (AfterCare, error) { return AfterCareIn(ctx, r.db) }

// AfterCareIn is AfterCareGet by a querier of the caller, such as its transaction.
func AfterCareIn(ctx context.Context, q postgres.Querier) (AfterCare, error) {
	a, err := postgres.One[AfterCare](ctx, q, `SELECT `+afterColumns+` FROM after_care WHERE id = 1`)
	if fault.Is(err, fault.NotFound) {
		return standardAfterCare(), nil
	}
	return a, err
}

// AfterCarePut keeps it; a.Version is the one that was read. Errors: Invalid, Stale.
func (r *Room) AfterCarePut(ctx context.Context, a AfterCare) (AfterCare, error) {
	a.FetchTerms = strings.TrimSpace(a.FetchTerms)
	var l fault.List
	l.Check(a.GuaranteeBoxDays >= 0 && a.GuaranteeBoxDays <= 36500, "/guarantee_box_days", "Days lie between 0 and 36500.")
	l.Check(a.GuaranteeColonyDays >= 0 && a.GuaranteeColonyDays <= 36500, "/guarantee_colony_days", "Days lie between 0 and 36500.")
	l.Check(len(a.FetchDays) <= 20, "/fetch_days", "At most 20 reminders.")
	a.FetchDays = slices.Clone(a.FetchDays)
	slices.Sort(a.FetchDays)
	a.FetchDays = slices.Compact(a.FetchDays)
	for _, d := range a.FetchDays {
		l.Check(d >= 0 && d <= 3650, "/fetch_days", "Days lie between 0 and 3650.")
	}
	l.Text("/fetch_terms", a.FetchTerms, 5000)
	if err := l.Err(); err != nil {
		return a, err
	}
	if a.FetchDays == nil {
		a.FetchDays = []int32{}
	}
	var out AfterCare
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		args := []any{a.GuaranteeBoxDays, a.GuaranteeColonyDays, a.FetchDays, a.FetchTerms, a.Version}
		list, err := postgres.List[AfterCare](ctx, tx, `INSERT INTO after_care (guarantee_box_days, guarantee_colony_days, fetch_days, fetch_terms) SELECT $1, $2, $3, $4 WHERE $5 = 0 ON CONFLICT DO NOTHING RETURNING `+afterColumns, args...)
		if err == nil && len(list) == 0 {
			list, err = postgres.List[AfterCare](ctx, tx, `UPDATE after_care SET guarantee_box_days = $1, guarantee_colony_days = $2, fetch_days = $3, fetch_terms = $4 WHERE id = 1 AND version = $5 RETURNING `+afterColumns, args...)
		}
		if err != nil {
			return err
		}
		if len(list) == 0 {
			return fault.New(fault.Stale, "Somebody changed this meanwhile. Look at it again.")
		}
		out = list[0]
		return nil
	})
	return out, err
}
