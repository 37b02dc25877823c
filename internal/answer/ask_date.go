package answer

import (
	"context"
	"fmt"
	"time"

	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/promise"
	"kerfbook/internal/calc/waiting"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// deciding are the parts of a promise in words.
var deciding = map[string]string{PartTimber: "the timber", PartBench: "the bench", PartFittings: "the fittings", PartFinish: "the finish, which must cure",
	PartColony: "the colony", PartShelf: "the box"}

// boxDates works out when the boxes from work under way and the new ones are there.
func (w *working) boxDates(ctx context.Context) error {
	cure := workshop.CureDays(w.options)
	if len(w.needs.Outputs) > 0 {
		if err := w.buildDates(ctx, cure); err != nil {
			return err
		}
	}
	if w.fresh == 0 {
		w.closeBoxes()
		return nil
	}
	w.benchReason()
	parts, err := w.newParts(cure)
	if err != nil {
		return err
	}
	on, decides, err := promised(ctx, parts)
	if err != nil {
		return err
	}
	w.freshParts = parts
	if cure > 0 {
		w.say(PartFinish, "The finish cures %s before bees may live in it.", show.Count(int64(cure), "day", "days"))
	}
	for i := range w.out.Units {
		if w.out.Units[i].From == FromNew {
			w.out.Units[i].BoxOn = on
		}
	}
	if on == nil {
		w.saySelf(Reason{Part: decides, Late: true, Short: true, Text: "No date can be promised for the boxes: " + deciding[decides] + " decides."})
	}
	w.out.Decides = decides
	w.closeBoxes()
	return nil
}

// partOrder keeps answers the same from run to run.
var partOrder = []string{PartTimber, PartFittings, PartBench, PartShelf, PartColony}

// promised joins parts into the first day with four-in-five certainty, nil for never, and
// the part that decides.
func promised(ctx context.Context, parts map[string]step) (*time.Time, string, error) {
	var in promise.In
	for _, id := range partOrder {
		s, ok := parts[id]
		if !ok {
			continue
		}
		p := promise.Part{ID: id, Curve: []promise.Point{}}
		best := 0.0
		byDay := map[string]float64{}
		var days []string
		for _, x := range s {
			best = max(best, x.chance)
			day := x.on.Format(time.DateOnly)
			if _, ok := byDay[day]; !ok {
				days = append(days, day)
			}
			byDay[day] = best
		}
		for _, day := range days {
			p.Curve = append(p.Curve, promise.Point{On: day, Chance: byDay[day]})
		}
		in.Parts = append(in.Parts, p)
	}
	if len(in.Parts) == 0 {
		return nil, "", nil
	}
	out, err := promise.Promise(ctx, in)
	if err != nil {
		return nil, "", fmt.Errorf("join the parts of a promise: %w", err)
	}
	if out.Never {
		return nil, out.Decides, nil
	}
	day, err := time.Parse(time.DateOnly, out.On)
	if err != nil {
		return nil, "", fmt.Errorf("read a promised day: %w", err)
	}
	return &day, out.Decides, nil
}

// buildDates dates the pieces of builds under way: by playing the plan in force through.
func (w *working) buildDates(ctx context.Context, cure int) error {
	for i := range w.out.Units {
		u := &w.out.Units[i]
		if u.From != FromBuild {
			continue
		}
		parts, ok := w.buildParts[u.BuildID]
		if !ok {
			days, err := w.bench.BuildDraws(u.BuildID, courses)
			if err != nil {
				return err
			}
			if days == nil { // nothing is left to do at the bench
				days = []time.Time{w.day}
			}
			parts = map[string]step{PartBench: curve(days, cure)}
			w.buildParts[u.BuildID] = parts
		}
		on, decides, err := promised(ctx, parts)
		if err != nil {
			return err
		}
		u.BoxOn, w.out.Decides = on, decides
	}
	return nil
}

// closeBoxes gives the day on which all boxes are there.
func (w *working) closeBoxes() {
	var all *time.Time
	for _, u := range w.out.Units {
		if u.BoxOn == nil {
			w.out.BoxOn = nil
			return
		}
		all = latest(all, u.BoxOn)
	}
	w.out.BoxOn = all
}

// colonyDatesMost is how many different days the colonies of one answer are given; of
// more colonies, neighbours share the later day.
const colonyDatesMost = 12

// colonyDates works out when the colonies are there: those that live in a box of the
// shelf first, then by the place in the line.
func (w *working) colonyDates(ctx context.Context) error {
	w.rangeReason()
	herd := w.herd
	if w.rev != nil {
		herd = w.housed()
	}
	supply, before := waiting.Reckon(w.rates, herd.Reckoned()), w.ahead.before(w.buyers)
	w.needs.Colonies, w.needs.BeeSpeciesID, w.needs.OwnBox = w.n, w.bees.ID, w.q.Wish.OwnBox
	w.colonyReason()
	place, open := 0, 0
	for _, u := range w.out.Units {
		if u.ColonyOn == nil {
			open++
		}
	}
	stride := (open + colonyDatesMost - 1) / colonyDatesMost
	var all *time.Time
	var on *time.Time
	var group step
	var err error
	decides, never, last := "", false, ""
	for i := range w.out.Units {
		u := &w.out.Units[i]
		if w.q.Wish.OwnBox {
			u.From = FromOwn
		}
		if u.ColonyOn != nil {
			all = latest(all, u.ColonyOn)
			continue
		}
		if place%stride == 0 {
			group, last = colonyStep(supply, before, min(place+stride, open)), ""
		}
		place++
		if from := fmt.Sprint(u.From, u.BuildID, u.BoxOn); from != last {
			last = from
			if on, decides, err = promised(ctx, w.wholeParts(*u, group)); err != nil {
				return err
			}
		}
		u.ColonyOn = on
		never = never || u.ColonyOn == nil
		all = latest(all, u.ColonyOn)
		w.out.Decides = decides
	}
	if !never {
		w.out.ColonyOn = all
		return nil
	}
	w.saySelf(Reason{Part: PartColony, Late: true, Short: true, Text: fmt.Sprintf("No date can be promised for all of the colonies of %s: too few are ready or to come.%s", w.bees.Name, keepHint(herd))})
	return nil
}

// housed gives units whose box on the shelf has a colony in it their day, as far as those
// ahead in the line leave colonies that are ready, and the herd that is left.
func (w *working) housed() apiary.Herd {
	spare := len(w.herd.Ready) - w.ahead.all()
	taken := map[int64]bool{}
	for i := range w.out.Units {
		u := &w.out.Units[i]
		if u.ColonyID == 0 {
			continue
		}
		if spare <= 0 {
			u.ColonyID = 0 // those who wait longer come first
			continue
		}
		spare--
		u.ColonyOn = u.BoxOn
		taken[u.ColonyID] = true
	}
	return w.herd.Without(taken)
}

// certainty is the certainty of every date that is told to a buyer: four in five.
const certainty = 0.8

// colonyStep is the curve of the place-th colony behind those before.
func colonyStep(s *waiting.Supply, before waiting.Before, place int) step {
	points, _ := s.Curve(before, place, certainty)
	curve := make(step, len(points))
	for i, p := range points {
		curve[i] = point{p.On, p.Chance}
	}
	return curve
}

func (w *working) colonyReason() {
	ready, line := len(w.herd.Ready), "nobody waits"
	if n := w.ahead.all(); n > 0 {
		line = show.Count(int64(n), "other waits", "others wait") + " first"
	}
	w.saySelf(Reason{Part: PartColony, Short: ready < w.ahead.all()+w.n, Text: fmt.Sprintf("%s: %s ready, %d settling, %d kept to be split; %s.", w.bees.Name, show.Count(int64(ready), "colony is", "colonies are"),
		len(w.herd.Settling), len(w.herd.Kept), line)})
	if ready < w.ahead.all()+w.n {
		w.say(PartColony, "%s", learntBees(w.rates))
	}
}

// rangeReason points out that the buyer lives outside the natural range.
func (w *working) rangeReason() {
	if text := w.bees.AskOutOfRange(w.region); text != "" {
		w.saySelf(Reason{Part: PartColony, Text: text})
	}
}
