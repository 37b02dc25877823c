package answer

import (
	"context"
	"fmt"
	"slices"
	"time"

	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

// source is boards that are not on the rack yet, and when they will be.
type source struct {
	gives     float64 // mm of board nobody has claimed
	longestMM int
	when      step
	words     string // up to the day
}

// sources lists what will give boards of a size, the soonest first: packs that dry, and
// boards that are on order.
func (w *working) sources(ctx context.Context, sizeID int64) ([]source, error) {
	packs, err := w.packs(ctx, sizeID)
	if err != nil {
		return nil, err
	}
	orders, err := w.boardsOrdered(ctx, sizeID)
	if err != nil {
		return nil, err
	}
	list := make([]source, 0, len(packs)+len(orders))
	for _, p := range packs {
		list = append(list, source{float64(p.FreeMM), p.LongestMM, drySteps(p, w.day), fmt.Sprintf("pack %s gives the rest; with four-in-five odds it is dry on", p.Number)})
	}
	for _, o := range orders {
		list = append(list, source{float64(o.LengthMM * o.Count), o.LengthMM, deliverySteps(o.ExpectedOn, w.day), "boards on order give the rest; with four-in-five odds they are here by"})
	}
	slices.SortStableFunc(list, func(a, b source) int { return a.when.day().Compare(b.when.day()) })
	return list, nil
}

// deliverySteps makes a step curve of a delivery expected on a day: seven in ten come by
// then, the rest within a week (our estimate). What is late by today may come today.
func deliverySteps(expected, today time.Time) step {
	come := laterDay(expected, today)
	return step{{come, 0.7}, {come.AddDate(0, 0, 2), 0.9}, {come.AddDate(0, 0, 7), 0.99}}
}

// fittingShort says when what is missing of an item comes: with an order that is on its
// way, where it brings enough, else after the days an order takes. missing is 0 for bulk
// that runs low.
func (w *working) fittingShort(ctx context.Context, item timber.Item, missing int) error {
	orders, err := w.itemsOrdered(ctx, item.ID)
	if err != nil {
		return err
	}
	text := fmt.Sprintf("%s runs low", item.Name)
	if missing > 0 {
		text = fmt.Sprintf("%s: %d short", item.Name, missing)
	}
	left := max(1, missing)
	for _, o := range orders {
		if left -= o.Count; left <= 0 {
			w.fitting = w.fitting.later(deliverySteps(o.ExpectedOn, w.day))
			w.saySelf(Reason{Part: PartFittings, Text: fmt.Sprintf("%s; more is on order, expected on %s.", text, show.Date(o.ExpectedOn)), Short: true, Late: true})
			return nil
		}
	}
	w.fitting = w.fitting.later(deliverySteps(w.day.AddDate(0, 0, item.ComingDays), w.day))
	days := show.Count(int64(item.ComingDays), "day", "days")
	if missing > 0 {
		text += "; they take " + days + " to come."
	} else {
		text += "; more comes in " + days + "."
	}
	w.saySelf(Reason{Part: PartFittings, Text: text, Short: true, Late: true})
	return nil
}
