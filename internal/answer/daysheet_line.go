package answer

import (
	"context"
	"fmt"
	"slices"
	"time"

	"kerfbook/internal/access"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
)

// line: buyers in the line for a colony whose likely day has moved past the one that was
// promised; one line an order. Promises that are past already stand elsewhere.
func (s *sheet) line(ctx context.Context) error {
	promised, err := postgres.Column[int64](ctx, s.db, `SELECT DISTINCT l.bee_species_id FROM order_unit u JOIN order_line l ON l.id = u.order_line_id
WHERE u.wants_colony AND u.handed_over_at IS NULL AND u.cancelled_at IS NULL AND u.promised_colony_on >= $1 AND l.bee_species_id IS NOT NULL
	AND NOT EXISTS (SELECT FROM claim c WHERE c.order_unit_id = u.id AND c.colony_id IS NOT NULL AND c.ended_at IS NULL)`, s.day)
	if err != nil || len(promised) == 0 {
		return err
	}
	kinds, err := s.Apiary.SpeciesList(ctx)
	if err != nil {
		return err
	}
	told := map[int64]bool{}
	for _, sp := range kinds {
		if !slices.Contains(promised, sp.ID) {
			continue
		}
		l, _, err := s.lineDates(ctx, sp.ID)
		if err != nil {
			return err
		}
		for _, p := range l.Places {
			if !p.Late || p.AnyKind || p.PromisedOn.Before(s.day) || told[p.OrderID] {
				continue
			}
			told[p.OrderID] = true
			likely := "no day can be said now"
			if p.LikelyOn != nil {
				likely = "likely by " + show.Date(*p.LikelyOn)
			}
			s.add("line", access.Bees, fmt.Sprintf("order:%d:line:%s", p.OrderID, p.PromisedOn.Format(time.DateOnly)), s.path("/bees/line/", sp.ID),
				fmt.Sprintf("The colony for %s, order %s, was promised for %s; %s. Tell them.", p.Who, p.Order, show.Date(*p.PromisedOn), likely), *p.PromisedOn, false)
		}
	}
	return nil
}
