package web

import (
	"time"

	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

// orderRow is an order as lists show it.
func orderRow(o sales.Order, set house.Settings, now time.Time) dealRow {
	cur := currency(set)
	r := dealRow{ID: o.ID, Name: o.Number, Who: o.PartyName, When: show.Date(o.HappenedAt.In(set.Location())), State: o.State(), Due: show.DateOr(o.NextOn, ""), Price: cur.Money(o.PriceMinor)}
	if b := o.BalanceMinor(); b != 0 {
		r.Balance = cur.Money(b)
	}
	r.Late = o.NextOn != nil && o.NextOn.Before(set.Today(now))
	r.What = show.Count(int64(o.Units-o.Gone), "piece", "pieces")
	return r
}

// quoteRow is a quote as lists show it.
func quoteRow(q sales.Quote, set house.Settings, now time.Time) dealRow {
	return dealRow{ID: q.ID, Name: q.Name(), Who: q.PartyName, When: show.Date(q.MadeAt.In(set.Location())), State: q.State(set.Today(now)), Due: show.DateOr(q.ValidUntil, ""), Price: currency(set).Money(q.PriceMinor)}
}
