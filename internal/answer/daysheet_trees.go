package answer

import (
	"context"
	"fmt"
	"slices"
	"time"

	"kerfbook/internal/access"
	"kerfbook/internal/apiary"
	"kerfbook/internal/show"
)

// treesShown is how many host trees stand on lines of their own; more share one, so that
// a round does not push out what else today asks.
const treesShown = 3

// trees: host trees to be visited, and settled boxes to be fetched; those on a run that is
// still to come are asked for by the run.
func (s *sheet) trees(ctx context.Context) error {
	list, err := s.Apiary.HostTreeList(ctx, apiary.TreeFilter{DueBy: &s.day})
	if err != nil {
		return err
	}
	planned, err := s.Handover.TreesOnRuns(ctx, s.day)
	if err != nil {
		return err
	}
	list = slices.DeleteFunc(list, func(t apiary.HostTree) bool { return slices.Contains(planned, t.ID) })
	for i, t := range list {
		if i == treesShown && len(list) > treesShown+1 {
			s.add("visit", access.Bees, fmt.Sprintf("trees:round:%s:%d", s.day.Format(time.DateOnly), len(list)), "/runs/round", fmt.Sprintf("%d more host trees are due. Make a round of them.", len(list)-i), *t.DueOn, t.DueOn.Before(s.day))
			break
		}
		text, what := fmt.Sprintf("Visit the box at %s.", t.Name), "visit"
		if t.Asks() == "Fetch the box" {
			text, what = fmt.Sprintf("The bees at %s are settled since %s. Fetch the box.", t.Name, show.Date(*t.SettledOn)), "fetch"
		}
		s.add("visit", access.Bees, fmt.Sprintf("tree:%d:%s:%s", t.ID, what, t.DueOn.Format(time.DateOnly)), s.path("/bees/trees/", t.ID), text, *t.DueOn, t.DueOn.Before(s.day))
	}
	return nil
}

// permits: those about to end, and those that have ended while something still stands
// under them.
func (s *sheet) permits(ctx context.Context) error {
	list, err := s.Apiary.PermitsDue(ctx, s.day)
	if err != nil {
		return err
	}
	for _, p := range list {
		late := p.EndsOn.Before(s.day)
		text, what := fmt.Sprintf("Permit %s ends on %s. Ask for the next one.", p.Title(), show.Date(*p.EndsOn)), "ends"
		if late {
			text, what = fmt.Sprintf("Permit %s ended on %s, and %s under it.", p.Title(), show.Date(*p.EndsOn), show.Count(int64(p.Open), "thing stands", "things stand")), "ended"
		}
		s.add("permit", access.Bees, fmt.Sprintf("permit:%d:%s:%s", p.ID, what, p.EndsOn.Format(time.DateOnly)), s.path("/bees/permits/", p.ID), text, *p.EndsOn, late)
	}
	return nil
}
