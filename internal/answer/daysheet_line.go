package answer

import (
	"context"
	"fmt"
	"slices"
	"time"

	"kerfbook/internal/access"
	"kerfbook/internal/show"
)

// line: buyers in the line for a colony whose likely day has moved past the one that was
// promised; one line an order. Promises that are past already stand elsewhere.
func (s *sheet) line(ctx context.Context) error {
	waits, _, err := s.waitingFor(ctx, 0)
	if err != nil {
		return err
	}
	kinds, err := s.Apiary.SpeciesList(ctx)
	if err != nil {
		return err
	}
	told := map[int64]bool{}
	for _, sp := range kinds {
		if !slices.ContainsFunc(waits, func(u waitingUnit) bool {
			return u.SpeciesID != nil && *u.SpeciesID == sp.ID && u.PromisedOn != nil && !u.PromisedOn.Before(s.day)
		}) {
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
