package answer

import (
	"context"
	"fmt"
	"slices"
	"time"

	"kerfbook/internal/access"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
)

// builds: those due, and those whose cutting plan found no board for all parts.
func (s *sheet) builds(ctx context.Context) error {
	list, err := postgres.List[struct {
		ID     int64      `db:"id"`
		Number string     `db:"number"`
		What   string     `db:"what"`
		DueOn  *time.Time `db:"due_on"`
		Short  bool       `db:"short"`
	}](ctx, s.db, `SELECT b.id, b.number, b.quantity || ' ' || m.name AS what, b.due_on, EXISTS (SELECT 1 FROM cutting_plan c WHERE c.build_id = b.id AND c.replaced_at IS NULL
		AND (c.answered -> 'unplaced' NOT IN ('[]', 'null') OR c.answered -> 'too_long' NOT IN ('[]', 'null'))) AS short
FROM build b JOIN model_revision r ON r.id = b.model_revision_id JOIN box_model m ON m.id = r.model_id
WHERE b.finished_at IS NULL AND b.cancelled_at IS NULL ORDER BY b.due_on NULLS LAST, b.id LIMIT 500`)
	if err != nil {
		return err
	}
	for _, b := range list {
		href := s.path("/bench/builds/", b.ID)
		if b.DueOn != nil && !b.DueOn.After(s.day.AddDate(0, 0, deadlineAhead)) {
			s.add("build", access.Bench, fmt.Sprintf("build:%d:due:%s", b.ID, b.DueOn.Format(time.DateOnly)), href, fmt.Sprintf("Build %s, %s, is due.", b.Number, b.What), *b.DueOn, b.DueOn.Before(s.day))
		}
		if b.Short {
			s.add("timber", access.Bench, fmt.Sprintf("build:%d:short", b.ID), href, fmt.Sprintf("Build %s, %s, lacks boards. Dress some, or lay its cutting plan anew.", b.Number, b.What), time.Time{}, false)
		}
	}
	return nil
}

// stock: fittings and finishes that run low.
func (s *sheet) stock(ctx context.Context) error {
	list, err := s.Timber.ItemsLow(ctx)
	if err != nil {
		return err
	}
	for _, i := range list {
		text := fmt.Sprintf("%s runs low.", i.Name)
		if i.Counted {
			text = fmt.Sprintf("%s runs low: %d free, the mark is %d. It takes %s to come.", i.Name, i.Free(), i.LowMark, show.Count(int64(i.ComingDays), "day", "days"))
		}
		s.add("timber", access.Timber, fmt.Sprintf("item:%d:low", i.ID), s.path("/timber/items/", i.ID), text, time.Time{}, false)
	}
	return nil
}

// packs: those that should be dry by now, and those that ask for a reading.
func (s *sheet) packs(ctx context.Context) error {
	list, err := postgres.List[struct {
		ID     int64     `db:"id"`
		Number string    `db:"number"`
		What   string    `db:"what"`
		Dry    bool      `db:"dry"`
		On     time.Time `db:"due"`
	}](ctx, s.db, `SELECT * FROM (SELECT k.id, k.number, z.name || ' ' || trim_scale(w.width_mm) || ' x ' || trim_scale(w.thickness_mm) AS what, k.ready_on_p80 <= $1 AS dry,
	CASE WHEN k.ready_on_p80 <= $1 THEN k.ready_on_p80 ELSE coalesce((SELECT max(x.read_on) FROM pack_reading x WHERE x.pack_id = k.id), k.stacked_on) + $2::int END AS due
FROM pack k JOIN timber_species z ON z.id = k.species_id JOIN board_size w ON w.id = k.board_size_id
WHERE k.finished_at IS NULL AND NOT k.never_dry AND k.ready_on_p80 <= $1::date + $3::int) t WHERE due <= $1 ORDER BY dry DESC, due, id LIMIT $4`, s.day, readingAfter, readingNear, dayLinesOfSort)
	if err != nil {
		return err
	}
	for _, k := range list {
		kind, text := "reading", fmt.Sprintf("Take a reading of pack %s, %s.", k.Number, k.What)
		subject := fmt.Sprintf("pack:%d:reading:%s", k.ID, k.On.Format(time.DateOnly))
		if k.Dry {
			kind, text, subject = "dry", fmt.Sprintf("Pack %s, %s, should be dry. Measure it, and dress it.", k.Number, k.What), fmt.Sprintf("pack:%d:dry", k.ID)
		}
		s.add(kind, access.Timber, subject, s.path("/timber/packs/", k.ID), text, k.On, false)
	}
	return nil
}

// runs: those of today and tomorrow, and those that were not done.
func (s *sheet) runs(ctx context.Context) error {
	list, err := postgres.List[struct {
		ID     int64     `db:"id"`
		Number string    `db:"number"`
		On     time.Time `db:"run_on"`
		Stops  int       `db:"stops"`
	}](ctx, s.db, `SELECT id, number, run_on, (SELECT count(*) FROM run_stop x WHERE x.run_id = run.id)::int AS stops FROM run
WHERE run_on BETWEEN $1::date - 14 AND $1::date + $2::int AND done_at IS NULL AND cancelled_at IS NULL ORDER BY run_on, id LIMIT $3`, s.day, deadlineAhead, dayLinesOfSort)
	if err != nil {
		return err
	}
	for _, n := range list {
		late := n.On.Before(s.day)
		text := fmt.Sprintf("Run %s on %s: %s.", n.Number, show.Date(n.On), show.Count(int64(n.Stops), "stop", "stops"))
		if late {
			text = fmt.Sprintf("Run %s of %s is not done. Note what happened, or put it off.", n.Number, show.Date(n.On))
		}
		s.add("run", access.Runs, fmt.Sprintf("run:%d:%s", n.ID, n.On.Format(time.DateOnly)), s.path("/runs/", n.ID), text, n.On, late)
	}
	return nil
}

// followUpsShown is how many buyers to ask stand on lines of their own; the rest share
// one, so that questions of last year do not push out what today asks.
const followUpsShown = 3

// followUps: the questions after a handover, those that came due last first, because the
// first weeks are when help still helps.
func (s *sheet) followUps(ctx context.Context) error {
	list, err := s.Handover.FollowUpsDue(ctx, s.day)
	if err != nil {
		return err
	}
	slices.SortStableFunc(list, func(a, b handover.FollowUp) int { return b.DueOn.Compare(a.DueOn) })
	for i, f := range list {
		if i == followUpsShown && len(list) > followUpsShown+1 {
			last := list[len(list)-1]
			s.add("follow-up", access.Orders, fmt.Sprintf("follow-ups:%d:%d", last.ID, len(list)), "/runs/asks", fmt.Sprintf("Ask %d more buyers how their hives are; the longest since %s.", len(list)-i, show.Date(last.DueOn)), f.DueOn, true)
			break
		}
		about := "box"
		if f.WithColony {
			about = "colony"
		}
		text := fmt.Sprintf("Ask %s how the %s of order %s is.", f.PartyName, about, f.OrderNumber)
		if f.PartyPhone != "" {
			text = fmt.Sprintf("Ask %s (%s) how the %s of order %s is.", f.PartyName, f.PartyPhone, about, f.OrderNumber)
		}
		s.add("follow-up", access.Orders, fmt.Sprintf("follow-up:%d", f.ID), fmt.Sprintf("/runs/asks#ask-%d", f.ID), text, f.DueOn, f.DueOn.Before(s.day))
	}
	return nil
}

// guarantees: claims on the guarantee without a decision.
func (s *sheet) guarantees(ctx context.Context) error {
	list, err := s.Handover.GuaranteeList(ctx, false)
	if err != nil {
		return err
	}
	for _, g := range list {
		s.add("guarantee", access.Orders, fmt.Sprintf("guarantee:%d", g.ID), s.path("/runs/claims/", g.ID), "The claim of "+g.PartyName+" on the guarantee waits for your decision: "+g.What, time.Time{}, false)
	}
	return nil
}

// invoices: those whose day to pay is past.
func (s *sheet) invoices(ctx context.Context) error {
	list, err := s.Books.InvoicesOverdue(ctx, s.day)
	if err != nil {
		return err
	}
	money := currency(s.set)
	for _, i := range list {
		s.add("invoice", access.Books, fmt.Sprintf("invoice:%d:overdue", i.ID), s.path("/books/invoices/", i.ID), fmt.Sprintf("Invoice %s to %s over %s was due on %s.", i.Number, i.PartyName, money.Money(i.PriceMinor), show.Date(i.DueOn)), i.DueOn, true)
	}
	return nil
}

// time that somebody forgot to stop.
func (s *sheet) time(ctx context.Context) error {
	list, err := s.Workshop.SpellsForgotten(ctx, 0)
	for _, f := range list {
		on := house.DateIn(f.StartedAt, s.set.Location())
		s.add("time", access.Bench, fmt.Sprintf("spell:%d:open", f.ID), "/bench/evening?on="+on.Format(time.DateOnly), fmt.Sprintf("%s: %s of %s still runs since %s. When did it stop?", f.Who, f.OperationName, f.BuildNumber, show.Time(f.StartedAt, s.set.Location())), on, true)
	}
	return err
}

// noDayMost bounds the pieces that are looked at.
const noDayMost = 60

// noDay: orders that were taken while nobody could say a day, such as when timber was
// short; the buyer waits for one.
func (s *sheet) noDay(ctx context.Context) error {
	list, err := postgres.List[struct {
		ID     int64     `db:"id"`
		Number string    `db:"number"`
		Who    string    `db:"who"`
		Pieces int       `db:"pieces"`
		At     time.Time `db:"happened_at"`
	}](ctx, s.db, `SELECT o.id, o.number, coalesce(nullif(p.name::text, ''), 'somebody') AS who, x.pieces, o.happened_at
FROM (SELECT l.order_id, count(*)::int AS pieces FROM (SELECT order_line_id FROM order_unit
	WHERE handed_over_at IS NULL AND cancelled_at IS NULL AND (wants_box AND NOT own_box AND promised_box_on IS NULL OR wants_colony AND promised_colony_on IS NULL) ORDER BY id LIMIT $1) u
	JOIN order_line l ON l.id = u.order_line_id GROUP BY l.order_id) x
JOIN sale_order o ON o.id = x.order_id JOIN party p ON p.id = o.party_id ORDER BY o.id`, noDayMost)
	if err != nil {
		return err
	}
	for _, o := range list {
		s.add("no day", access.Orders, fmt.Sprintf("order:%d:noday", o.ID), s.path("/orders/", o.ID), fmt.Sprintf("No day is agreed yet for %s of order %s (%s). Say one as soon as timber and bees allow.", show.Count(int64(o.Pieces), "piece", "pieces"), o.Number, o.Who), house.DateIn(o.At, s.set.Location()), false)
	}
	return nil
}
