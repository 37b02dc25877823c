package answer

import (
	"context"
	"fmt"
	"time"

	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/promise"
	"kerfbook/internal/calc/supply"
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

// colonyHorizon is how far ahead splits are counted.
const colonyHorizonYears = 4

// colonyDatesMost is how many different days the colonies of one answer are given; of
// more colonies, neighbours share the later day.
const colonyDatesMost = 12

// colonyDates works out when the colonies are there: those that live in a box of the
// shelf first, then by the place in the line.
func (w *working) colonyDates(ctx context.Context) error {
	w.rangeReason()
	coming, ahead := w.coming, w.ahead
	if w.rev != nil {
		coming, ahead = w.housed(coming, ahead)
	}
	w.needs.Colonies, w.needs.BeeSpeciesID, w.needs.OwnBox = w.n, w.bees.ID, w.q.Wish.OwnBox
	w.colonyReason(ahead)
	place, waiting := 0, 0
	for _, u := range w.out.Units {
		if u.ColonyOn == nil {
			waiting++
		}
	}
	stride := (waiting + colonyDatesMost - 1) / colonyDatesMost
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
			if group, err = w.colonyStep(ctx, coming, ahead+min(place+stride, waiting)); err != nil {
				return err
			}
			last = ""
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
	w.saySelf(Reason{Part: PartColony, Late: true, Short: true, Text: fmt.Sprintf("No date can be promised for all of the colonies of %s: too few are ready or to come.", w.bees.Name)})
	return nil
}

// housed gives units whose box on the shelf has a colony in it their day, as far as those
// ahead in the line leave colonies that are ready.
func (w *working) housed(coming []apiary.Coming, ahead int) ([]apiary.Coming, int) {
	ready := 0
	for _, c := range coming {
		if c.ColonyID != 0 && !c.ReadyOn.After(w.day) {
			ready++
		}
	}
	spare := ready - ahead
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
	var left []apiary.Coming
	for _, c := range coming {
		if c.ColonyID == 0 || !taken[c.ColonyID] {
			left = append(left, c)
		}
	}
	return left, ahead
}

// colonyStep is the curve of the place-th colony.
func (w *working) colonyStep(ctx context.Context, coming []apiary.Coming, place int) (step, error) {
	if len(coming) < place {
		return nil, nil
	}
	in := supply.In{PlaceInLine: place, SharedBadSeasonChance: apiary.BadSeasonChance, BadSeasonFactor: apiary.BadSeasonFactor}
	last := min(len(coming), 4*place+40) // later ones cannot bring the day forward by much
	for i, c := range coming[:last] {
		in.Colonies = append(in.Colonies, supply.Colony{ID: fmt.Sprint(i), ReadyOn: c.ReadyOn.Format(time.DateOnly), Chance: c.Chance})
	}
	out, err := supply.Supply(ctx, in)
	if err != nil {
		return nil, fmt.Errorf("colonies to come: %w", err)
	}
	var s step
	for _, p := range out.Curve {
		day, err := time.Parse(time.DateOnly, p.On)
		if err != nil {
			return nil, fmt.Errorf("read the day of a colony: %w", err)
		}
		s = append(s, point{day, p.Chance})
	}
	return s, nil
}

func (w *working) colonyReason(ahead int) {
	ready := 0
	for _, c := range w.coming {
		if c.ColonyID != 0 && !c.ReadyOn.After(w.day) {
			ready++
		}
	}
	line := "nobody waits"
	if ahead > 0 {
		line = show.Count(int64(ahead), "other waits", "others wait") + " first"
	}
	w.saySelf(Reason{Part: PartColony, Short: ready < ahead+w.n, Text: fmt.Sprintf("%s: %s ready, %s to come; %s.", w.bees.Name, show.Count(int64(ready), "colony is", "colonies are"),
		show.Count(int64(len(w.coming)-ready), "is", "are"), line)})
}

// rangeReason points out kindly that the buyer lives outside the natural range.
func (w *working) rangeReason() {
	if w.site == nil || w.bees.InRange(w.site.Region) {
		return
	}
	w.saySelf(Reason{Part: PartColony, Text: fmt.Sprintf("%s does not live in %s by nature. It may not do well there, and moving it may need a permit: talk it over with the buyer, and think of a kind that belongs there.", w.bees.Name, w.site.Region)})
}
