package answer

import (
	"context"
	"fmt"
	"time"

	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
)

// standInMost bounds each table of the stand-in sheet.
const standInMost = 300

// StandInSheet draws the sheet for somebody who stands in for the maker, as things are
// now.
func (r *Room) StandInSheet(ctx context.Context) ([]byte, error) {
	doc, err := r.standInDoc(ctx)
	if err != nil {
		return nil, err
	}
	return paper.StandIn(doc)
}

func (r *Room) standInDoc(ctx context.Context) (paper.StandInDoc, error) {
	set, today, err := r.settings(ctx)
	if err != nil {
		return paper.StandInDoc{}, err
	}
	words, err := r.House.StandInGet(ctx)
	if err != nil {
		return paper.StandInDoc{}, err
	}
	d := paper.StandInDoc{Head: r.head(set, house.TaxState{}, today.Format(time.DateOnly), r.db.Now()), FirstToDo: sentences(words.FirstToDo), WhoDecides: sentences(words.WhoDecides), Backups: sentences(words.Backups), Starting: sentences(words.Starting)}
	for _, fill := range []func(context.Context, house.Settings, *paper.StandInDoc) error{r.standInPromises, r.standInMoney, r.standInBees, r.standInSuppliers} {
		if err := fill(ctx, set, &d); err != nil {
			return d, err
		}
	}
	return d, nil
}

func (r *Room) phoneOf(ctx context.Context, party int64) (string, error) {
	p, err := r.Sales.PartyGet(ctx, party)
	return p.Phone(), err
}

func (r *Room) standInPromises(ctx context.Context, _ house.Settings, d *paper.StandInDoc) error {
	open, err := r.Sales.OpenUnits(ctx, false, standInMost)
	if err != nil {
		return err
	}
	for _, u := range open {
		row := paper.StandInRow{What: u.Line.Description + " (order " + u.OrderNumber + ")", Who: u.PartyName, When: "no day agreed"}
		if u.Unit.BoxSerial != nil {
			row.What += ", box " + *u.Unit.BoxSerial
		}
		if due := u.Unit.DueOn(); due != nil {
			row.When = show.Date(*due)
		}
		if row.Ring, err = r.phoneOf(ctx, u.PartyID); err != nil {
			return err
		}
		d.Promises = append(d.Promises, row)
	}
	return nil
}

func (r *Room) standInMoney(ctx context.Context, set house.Settings, d *paper.StandInDoc) error {
	held, err := r.Books.DepositsHeld(ctx)
	if err != nil {
		return err
	}
	var sum int64
	for _, h := range held {
		o, err := r.Sales.OrderGet(ctx, h.OrderID)
		if err != nil {
			return err
		}
		ring, err := r.phoneOf(ctx, o.PartyID)
		if err != nil {
			return err
		}
		sum += h.PaidMinor
		d.Deposits = append(d.Deposits, paper.StandInRow{What: h.OrderNumber, Who: h.PartyName, Ring: ring, When: show.Date(house.DateIn(h.FirstAt, set.Location())), Amount: currency(set).Money(h.PaidMinor)})
	}
	if len(held) > 0 {
		d.HeldSum = currency(set).Money(sum)
	}
	return nil
}

type visitRow struct {
	Name string    `db:"name"`
	Who  string    `db:"who"`
	Ring string    `db:"ring"`
	On   time.Time `db:"next_visit_on"`
}

// firstPhone is the first phone number of party p.
const firstPhone = `coalesce((SELECT k.value::text FROM contact k WHERE k.party_id = p.id AND k.kind = 'phone' AND k.put_away_at IS NULL ORDER BY k.id LIMIT 1), '')`

func (r *Room) standInBees(ctx context.Context, set house.Settings, d *paper.StandInDoc) error {
	kept, err := r.Apiary.KeepingList(ctx, false)
	if err != nil {
		return err
	}
	for _, k := range kept {
		row := paper.StandInRow{What: k.Called() + ": " + KeepingWords(k, currency(set)), Who: k.Owner, Ring: k.Phone, When: "no day agreed"}
		if k.BackOn != nil {
			row.When = show.Date(*k.BackOn)
		}
		if k.Place != "" {
			row.What += "; stands at: " + k.Place
		}
		if k.Gone != "" {
			row.What += "; gone: " + k.Gone
		}
		d.Keeping = append(d.Keeping, row)
	}
	visits, err := postgres.List[visitRow](ctx, r.db, `SELECT t.name, coalesce(p.name, '') AS who, `+firstPhone+` AS ring, host_tree_due(t) AS next_visit_on FROM host_tree t LEFT JOIN party p ON p.id = t.owner_party_id
WHERE t.put_away_at IS NULL AND host_tree_due(t) IS NOT NULL ORDER BY host_tree_due(t), t.id LIMIT $1`, standInMost)
	for _, v := range visits {
		d.Visits = append(d.Visits, paper.StandInRow{What: v.Name, Who: v.Who, Ring: v.Ring, When: show.Date(v.On)})
	}
	return err
}

func (r *Room) standInSuppliers(ctx context.Context, _ house.Settings, d *paper.StandInDoc) error {
	list, err := r.Timber.SupplierList(ctx)
	for _, s := range list {
		d.Suppliers = append(d.Suppliers, paper.StandInRow{What: oneLine(s.Notes), Who: s.Name, Ring: s.Phone})
		if s.Notes == "" {
			d.Suppliers[len(d.Suppliers)-1].What = fmt.Sprintf("delivers in %s", show.Count(int64(s.LeadDays), "day", "days"))
		}
	}
	return err
}
