package demo

import (
	"slices"

	"kerfbook/internal/house"
	"kerfbook/internal/workshop"
)

// ahead is what a maker has put down for himself: days away, a calendar for the kitchen's phone, and work that was begun
// yesterday and never stopped, about which the evening page asks.
func (w *world) ahead() {
	w.at(7, 20)
	got(w.Workshop.AwayAdd(w.ctx, workshop.Away{FromOn: w.workday(w.last.AddDate(0, 0, 24)), ToOn: w.workday(w.last.AddDate(0, 0, 24)).AddDate(0, 0, 2), Why: "timber fair"}))
	got(w.House.FeedMake(w.ctx, house.Feed{Name: "Phone in the kitchen"}))
	list, _, err := w.Workshop.BuildList(w.ctx, workshop.BuildFilter{Limit: 20})
	ok(err)
	for _, b := range list {
		full := got(w.Workshop.BuildGet(w.ctx, b.ID))
		k := slices.IndexFunc(full.Operations, func(o workshop.Operation) bool { return o.DoneAt == nil })
		if k < 0 || full.FinishedAt != nil {
			continue
		}
		w.day = w.last.AddDate(0, 0, -1)
		at := w.at(15, 10)
		w.day = w.last
		w.at(7, 20)
		got(w.Workshop.SpellStart(w.ctx, full.Operations[k].ID, w.Owner, at))
		return
	}
}
