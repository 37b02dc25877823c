package answer

import (
	"context"
	"fmt"
	"time"

	"kerfbook/internal/access"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// Slip is a build that will be late as things stand, with those who wait for it.
type Slip struct {
	workshop.Slip
	NewOn  *time.Time // day that could be promised instead, with four-in-five odds, the finish cured; nil: cannot be said
	Buyers []SlipBuyer
}

// SlipBuyer is who was promised a piece of a build that slips.
type SlipBuyer struct {
	BuildID    int64     `db:"build_id"`
	OrderID    int64     `db:"order_id"`
	Order      string    `db:"number"`
	Name       string    `db:"name"`
	Phone      string    `db:"phone"`
	PromisedOn time.Time `db:"promised_on"`
	Pieces     int       `db:"pieces"`
	Words      string    `db:"-"` // what could be said to them
}

// Slips gives what slips, why, what would save it, and the words for those who wait.
func (r *Room) Slips(ctx context.Context) ([]Slip, error) {
	list, err := r.Workshop.Slips(ctx)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	set, _, err := r.settings(ctx)
	if err != nil {
		return nil, err
	}
	ids := make([]int64, len(list))
	for i, s := range list {
		ids[i] = s.BuildID
	}
	buyers, err := postgres.List[SlipBuyer](ctx, r.db, `SELECT x.build_id, o.id AS order_id, o.number, p.name::text AS name, u.promised_box_on AS promised_on, count(*)::int AS pieces,
	`+firstPhone+` AS phone
FROM build_output x JOIN order_unit u ON u.id = x.order_unit_id JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
WHERE x.build_id = ANY ($1) AND x.spoiled_at IS NULL AND u.promised_box_on IS NOT NULL AND u.handed_over_at IS NULL AND u.cancelled_at IS NULL
GROUP BY x.build_id, o.id, p.id, u.promised_box_on ORDER BY u.promised_box_on, o.id LIMIT 500`, ids)
	if err != nil {
		return nil, err
	}
	out := make([]Slip, len(list))
	for i, s := range list {
		out[i].Slip = s
		if s.EndsP80 != nil {
			out[i].NewOn = ptr(s.EndsP80.AddDate(0, 0, s.Cure))
		}
		for _, b := range buyers {
			if b.BuildID == s.BuildID && out[i].NewOn != nil && out[i].NewOn.After(b.PromisedOn) {
				b.Words = slipWords(b, *out[i].NewOn, set.MakerName, set.Name)
				out[i].Buyers = append(out[i].Buyers, b)
			}
		}
	}
	return out, nil
}

// slipWords drafts what is said to a buyer whose box will be late.
func slipWords(b SlipBuyer, on time.Time, maker, workshop string) string {
	from := maker
	if from == "" {
		from = workshop
	}
	box := "box, which was"
	if b.Pieces > 1 {
		box = fmt.Sprintf("%d boxes, which were", b.Pieces)
	}
	return fmt.Sprintf("Hello %s, this is %s. Your %s promised for %s, will be later than I said: I now expect %s. I am sorry. Does that day suit you, or shall we find another way?", b.Name, from, box, show.Date(b.PromisedOn), show.Date(on))
}

// slipsMost is the most open builds whose plan the Day sheet plays through; a workshop of
// one has a tenth of that.
const slipsMost = 200

// slips: builds that will be late as things stand, and those that can never begin.
// The plan of a bench with more open builds than slipsMost is left to its own page.
func (s *sheet) slips(ctx context.Context) error {
	open, err := postgres.Value[int](ctx, s.db, `SELECT count(*)::int FROM (SELECT FROM build WHERE finished_at IS NULL AND cancelled_at IS NULL LIMIT $1) b`, slipsMost+1)
	if err != nil || open == 0 || open > slipsMost {
		return err
	}
	list, err := s.Slips(ctx)
	if err != nil {
		return err
	}
	for _, x := range list {
		if x.LateDays == 0 && x.Units == 0 {
			continue
		}
		text := fmt.Sprintf("Build %s, %s, slips: due %s, done about %s. See what would save it.", x.Number, x.What, show.Date(*x.DueOn), show.Date(x.EndsOn))
		if x.LateDays == 0 {
			text = fmt.Sprintf("Build %s, %s, slips: due %s, and at risk. See what would save it.", x.Number, x.What, show.Date(*x.DueOn))
		}
		s.add("slip", access.Bench, fmt.Sprintf("build:%d:slips:%s", x.BuildID, x.DueOn.Format(time.DateOnly)), "/bench/plan", text, *x.DueOn, false)
	}
	b, err := s.Workshop.Bench(ctx, s.set.Location())
	if err != nil {
		return err
	}
	for _, x := range b.Lost() {
		s.add("slip", access.Bench, fmt.Sprintf("build:%d:never", x.BuildID), s.path("/bench/builds/", x.BuildID), fmt.Sprintf("Build %s cannot begin. %s", x.Number, x.Why), time.Time{}, false)
	}
	return nil
}
