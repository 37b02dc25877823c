package workshop_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/workshop"
)

// second are second hands on some days of the week from a clock minute on.
func second(from string, start, minutes int, weekdays ...int16) workshop.SecondHands {
	return workshop.SecondHands{FromOn: day(from), StartMinute: start, Minutes: minutes, Weekdays: weekdays}
}

func TestSecondHandsAreChecked(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	keep := func(h workshop.SecondHands) (workshop.SecondHands, error) {
		return w.room.SecondHandsSave(t.Context(), h)
	}
	first := second("2026-03-02", 480, 240, 2, 4)
	first.ToOn = ptr(day("2026-03-31"))
	kept, err := keep(first)
	require.NoError(t, err)
	with := func(change func(h *workshop.SecondHands)) workshop.SecondHands {
		h := second("2026-04-01", 480, 240, 2)
		change(&h)
		return h
	}
	tests := []struct {
		name, pointer string
		hands         workshop.SecondHands
	}{
		{"no first day", "/from_on", with(func(h *workshop.SecondHands) { h.FromOn = time.Time{} })},
		{"ends before it begins", "/to_on", with(func(h *workshop.SecondHands) { h.ToOn = ptr(day("2026-03-31")) })},
		{"for a lifetime", "/to_on", with(func(h *workshop.SecondHands) { h.ToOn = ptr(day("2036-04-01")) })},
		{"no such day in between", "/weekdays", with(func(h *workshop.SecondHands) { h.ToOn = ptr(day("2026-04-03")) })}, // Wednesday to Friday
		{"no day of the week", "/weekdays", with(func(h *workshop.SecondHands) { h.Weekdays = nil })},
		{"an eighth day", "/weekdays", with(func(h *workshop.SecondHands) { h.Weekdays = []int16{7} })},
		{"a day twice", "/weekdays", with(func(h *workshop.SecondHands) { h.Weekdays = []int16{3, 3} })},
		{"before midnight", "/start_minute", with(func(h *workshop.SecondHands) { h.StartMinute = -1 })},
		{"hours below zero", "/minutes", with(func(h *workshop.SecondHands) { h.Minutes = -240 })},
		{"no hours", "/minutes", with(func(h *workshop.SecondHands) { h.Minutes = 0 })},
		{"past midnight", "/minutes", with(func(h *workshop.SecondHands) { h.StartMinute = 1300 })},
		{"overlapping by an hour", "/start_minute", with(func(h *workshop.SecondHands) { h.FromOn, h.StartMinute = day("2026-03-25"), 660 })},
		{"overlapping on the last day", "/start_minute", with(func(h *workshop.SecondHands) { h.FromOn = day("2026-03-31") })},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			_, err := keep(tc.hands)
			requireField(t, err, fault.Invalid, tc.pointer)
		})
	}
	for name, change := range map[string]func(h *workshop.SecondHands){
		"somebody else at the same hours": func(h *workshop.SecondHands) { h.FromOn, h.Who = day("2026-03-02"), "Ben" },
		"on another day":                  func(h *workshop.SecondHands) { h.FromOn, h.Weekdays = day("2026-03-02"), []int16{1, 3} },
		"right behind":                    func(h *workshop.SecondHands) { h.FromOn, h.StartMinute = day("2026-03-02"), 720 },
		"once the first has ended":        func(*workshop.SecondHands) {},
	} {
		h, err := keep(with(change))
		require.NoError(t, err, name)
		gone, err := w.room.SecondHandsEnd(t.Context(), h.ID, day("2026-01-01"))
		require.NoError(t, err)
		require.True(t, gone, "it had not begun")
	}
	kept.Minutes = 300
	changed, err := keep(kept)
	require.NoError(t, err, "it does not overlap with itself")
	_, err = keep(kept)
	require.True(t, fault.Is(err, fault.Stale), "%v", err)
	gone, err := w.room.SecondHandsEnd(t.Context(), changed.ID, day("2026-03-12"))
	require.NoError(t, err)
	require.False(t, gone)
	ended, err := w.room.SecondHandsGet(t.Context(), changed.ID)
	require.NoError(t, err)
	require.Equal(t, day("2026-03-11"), *ended.ToOn, "they come no more from that day on")
	list, err := w.room.SecondHandsList(t.Context(), day("2026-03-12"))
	require.NoError(t, err)
	require.Empty(t, list)
	_, err = w.room.SecondHandsEnd(t.Context(), 999, day("2026-03-12"))
	require.True(t, fault.Is(err, fault.NotFound))
}

// By hand: the owner from 8 to 12 on weekdays; work of 480 minutes asked for on Monday.
func TestSecondHandsBringDatesForward(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	ends := func(minutes float64) time.Time {
		t.Helper()
		b, err := w.room.Bench(t.Context(), time.FixedZone("Brisbane", 10*60*60))
		require.NoError(t, err)
		got, err := b.Fit(minutes, 0, day("2026-03-02"), false)
		require.NoError(t, err)
		return got.EndsAt
	}
	for range 2 { // two builds of 240 minutes: Monday and Tuesday are full
		w.build(5, func(n *workshop.BuildNew) { n.Makes, n.Piece = workshop.MakesBox, "" })
	}
	alone := ends(120)
	hands, err := w.room.SecondHandsSave(t.Context(), second("2026-03-02", 480, 240, 1, 2, 3, 4, 5))
	require.NoError(t, err)
	two := ends(120)
	require.True(t, two.Before(alone), "two at the bench are sooner through: %v, alone %v", two, alone)

	_, err = w.room.AwayAdd(t.Context(), workshop.Away{FromOn: day("2026-03-02"), ToOn: day("2026-03-04")})
	require.NoError(t, err)
	require.False(t, ends(1).Before(brisbane("2026-03-05", 8, 0)), "nobody comes while the owner is away")
	hands.WhileAway = true
	hands, err = w.room.SecondHandsSave(t.Context(), hands)
	require.NoError(t, err)
	require.Equal(t, brisbane("2026-03-02", 8, 0), func() time.Time {
		b, err := w.room.Bench(t.Context(), time.FixedZone("Brisbane", 10*60*60))
		require.NoError(t, err)
		jobs, err := b.Jobs()
		require.NoError(t, err)
		return jobs[0].StartsAt
	}(), "unless they are said to")
	_, err = w.room.SecondHandsEnd(t.Context(), hands.ID, day("2026-01-01"))
	require.NoError(t, err)
	require.False(t, ends(1).Before(brisbane("2026-03-05", 8, 0)))
}

// judged is a step of the plan in the words of the judge.
type judged struct {
	Build    string    `db:"number"`
	Name     string    `db:"name"`
	Setup    int       `db:"setup_min"`
	Standard float64   `db:"standard"`
	Owner    bool      `db:"owner_only"`
	Needs    []string  `db:"needs"`
	From     time.Time `db:"starts_at"`
	To       time.Time `db:"ends_at"`
}

// judge looks at a plan from outside, minute by minute of the clock on the wall, from the
// records alone: it knows nothing of the planning calculation. Never are more at work than
// there are people, never is the owner's work done without the owner or twice at once,
// never is more of a thing held than there is, and every step has its minutes.
func (w *world) judge(plan int64, week []workshop.Hours, away []workshop.Away, hands []workshop.SecondHands) {
	w.t.Helper()
	steps, err := postgres.List[judged](w.t.Context(), w.db, `SELECT b.number, o.name, o.setup_min, (o.setup_min + o.piece_min * b.quantity)::float8 AS standard, o.owner_only, ARRAY(SELECT jsonb_array_elements_text(o.needs)) AS needs, s.starts_at, s.ends_at
		FROM bench_plan_step s JOIN build_operation o ON o.id = s.build_operation_id JOIN build b ON b.id = o.build_id WHERE s.plan_id = $1 ORDER BY s.id`, plan)
	require.NoError(w.t, err)
	require.NotEmpty(w.t, steps)
	counts := map[string]int{}
	things, err := w.room.ThingList(w.t.Context(), false)
	require.NoError(w.t, err)
	for _, x := range things {
		counts[x.Name] = x.Count
	}
	first, last := steps[0].From, steps[0].To
	for _, s := range steps {
		first, last = minTime(first, s.From), maxTime(last, s.To)
	}
	minutes := make([]float64, len(steps))
	for at := first; at.Before(last); at = at.Add(time.Minute) {
		wall := at.In(time.FixedZone("Brisbane", 10*60*60))
		date, minute := day(wall.Format(time.DateOnly)), wall.Hour()*60+wall.Minute()
		gone := slices.ContainsFunc(away, func(a workshop.Away) bool { return !date.Before(a.FromOn) && !date.After(a.ToOn) })
		owner, people, rests := false, 0, false
		before, after := false, false // the owner's hours of that weekday lie before this minute, and behind it
		for _, h := range week {
			if h.Weekday != int(wall.Weekday()) {
				continue
			}
			before, after = before || h.EndMinute <= minute, after || h.StartMinute > minute
			if h.StartMinute <= minute && minute < h.EndMinute {
				before, after, rests = false, false, false
				if !gone {
					owner, people = true, people+h.Hands
				}
				break
			}
			rests = before && after
		}
		for _, h := range hands {
			comes := !date.Before(h.FromOn) && (h.ToOn == nil || !date.After(*h.ToOn)) && slices.Contains(h.Weekdays, int16(wall.Weekday()))
			if comes && (!gone || h.WhileAway) && !rests && h.StartMinute <= minute && minute < h.StartMinute+h.Minutes {
				people++
			}
		}
		working, owners, held := 0, 0, map[string]int{}
		for i, s := range steps {
			if at.Before(s.From) || !at.Before(s.To) {
				continue
			}
			for _, need := range s.Needs {
				held[need]++
			}
			if s.Owner && !owner || people == 0 {
				continue // it waits
			}
			working++
			minutes[i]++
			if s.Owner {
				owners++
			}
		}
		require.LessOrEqual(w.t, working, people, "%v: hours are overbooked", wall)
		require.LessOrEqual(w.t, owners, 1, "%v: the owner has one pair of hands", wall)
		for name, n := range held {
			require.LessOrEqual(w.t, n, counts[name], "%v: more of %s than there is", wall, name)
		}
	}
	for i, s := range steps {
		require.LessOrEqual(w.t, minutes[i], s.Standard+1, "%s %s", s.Build, s.Name)
		require.GreaterOrEqual(w.t, minutes[i], s.Standard-float64(s.Setup), "%s %s: its minutes, less a set-up that it shares", s.Build, s.Name)
	}
}

func minTime(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func maxTime(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// Plans of drawn workshops, laid in the program over its own records, before the judge.
func TestPlansWithSecondHandsBeforeTheJudge(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.haveScrews(100000)
	for round := range 4 {
		rng := rand.New(rand.NewPCG(uint64(round), 7))
		drawn := body()
		drawn.Operations = []hive.Operation{{ID: "cut", SetupMinutes: 20, PieceMinutes: 10, OwnerOnly: rng.IntN(2) == 0}, {ID: "glue", PieceMinutes: 25, WaitMinutes: 300, Needs: []string{"clamps"}},
			{ID: "paint", SetupMinutes: 5, PieceMinutes: float64(5 + rng.IntN(20)), Needs: []string{"rack"}, OwnerOnly: rng.IntN(2) == 0}}
		var err error
		w.rev, err = w.room.RevisionAdd(t.Context(), workshop.Drawing{ModelID: w.model.ID, Body: drawn, Reason: "drawn"})
		require.NoError(t, err)
		for _, name := range []string{"clamps", "rack"} {
			x := w.thing(name)
			x.Count = 1 + rng.IntN(3)
			_, err := w.room.ThingSave(t.Context(), x)
			require.NoError(t, err)
		}
		week := workshop.Week{FromOn: day("2026-01-01").AddDate(0, 0, round)}
		for d := 1; d <= 5; d++ {
			if rng.IntN(5) > 0 || d == 1 {
				week.Hours = append(week.Hours, workshop.Hours{Weekday: d, StartMinute: 480, EndMinute: 660 + 60*rng.IntN(2), Hands: 1 + rng.IntN(4)/3}, workshop.Hours{Weekday: d, StartMinute: 780, EndMinute: 900, Hands: 1})
			}
		}
		require.NoError(t, w.room.WeekSet(t.Context(), week))
		var hands []workshop.SecondHands
		for n := range 1 + rng.IntN(3) {
			h := second("2026-03-02", 420+60*rng.IntN(5), 120+60*rng.IntN(6), int16(rng.IntN(3)), int16(3+rng.IntN(4)))
			h.Who, h.WhileAway = fmt.Sprint("helper ", n), rng.IntN(2) == 0
			if h.FromOn = h.FromOn.AddDate(0, 0, rng.IntN(4)); rng.IntN(2) == 0 {
				h.ToOn = ptr(h.FromOn.AddDate(0, 0, 14+rng.IntN(20)))
			}
			h, err := w.room.SecondHandsSave(t.Context(), h)
			require.NoError(t, err)
			hands = append(hands, h)
		}
		var away []workshop.Away
		from := day("2026-03-02").AddDate(0, 0, rng.IntN(6))
		a, err := w.room.AwayAdd(t.Context(), workshop.Away{FromOn: from, ToOn: from.AddDate(0, 0, rng.IntN(4))})
		require.NoError(t, err)
		away = append(away, a)
		var builds []workshop.Build
		for range 3 + rng.IntN(4) {
			builds = append(builds, w.build(1+rng.IntN(7), func(n *workshop.BuildNew) {
				if rng.IntN(2) == 0 {
					n.DueOn = ptr(day("2026-03-02").AddDate(0, 0, rng.IntN(12)))
				}
			}))
		}
		p, err := w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
		require.NoError(t, err)
		require.Empty(t, p.Left)
		w.judge(p.ID, week.Hours, away, hands)
		_, err = w.room.PlanAccept(t.Context(), p.ID)
		require.NoError(t, err)
		w.now = w.now.Add(3 * time.Hour) // and once more, later in the day, with that one in force
		builds = append(builds, w.build(2))
		p, err = w.room.PlanLay(t.Context(), "", workshop.PlanChange{})
		require.NoError(t, err)
		w.judge(p.ID, week.Hours, away, hands)

		for _, b := range builds { // clear the bench for the next round
			_, err := w.room.BuildCancel(t.Context(), b.ID, b.Version, "done with")
			require.NoError(t, err)
		}
		for _, h := range hands {
			_, err := w.room.SecondHandsEnd(t.Context(), h.ID, day("2020-01-01"))
			require.NoError(t, err)
		}
		require.NoError(t, w.room.AwayRemove(t.Context(), a.ID))
	}
}

// What is asked keeps to the owner's hours and to the counts of things. By hand: the owner
// from 8 to 12 on weekdays, a second pair from 8 to 14.
func TestAskKeepsToTheOwnerAndToThings(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.hours()
	w.haveScrews(1000)
	_, err := w.room.SecondHandsSave(t.Context(), second("2026-03-02", 480, 360, 1, 2, 3, 4, 5))
	require.NoError(t, err)
	bench := func() *workshop.Bench {
		b, err := w.room.Bench(t.Context(), time.FixedZone("Brisbane", 10*60*60))
		require.NoError(t, err)
		return b
	}
	part := func(minutes float64, owner bool, needs ...string) workshop.AskPart {
		return workshop.AskPart{Minutes: minutes, OwnerOnly: owner, Needs: needs}
	}
	ends := func(b *workshop.Bench, hold bool, parts ...workshop.AskPart) time.Time {
		t.Helper()
		a := workshop.Ask{Parts: parts}
		for _, p := range parts {
			a.Minutes += p.Minutes
		}
		got, err := b.FitAsk(a, day("2026-03-02"), hold)
		require.NoError(t, err)
		return got.EndsAt
	}
	b := bench()
	require.Equal(t, brisbane("2026-03-02", 13, 0), ends(b, false, part(300, false)), "anybody's: five hours from 8 on")
	require.Equal(t, brisbane("2026-03-03", 9, 0), ends(b, false, part(300, true)), "the owner's: four on Monday, one on Tuesday")
	require.Equal(t, brisbane("2026-03-03", 9, 0), ends(b, false, part(200, false), part(100, true)), "40 minutes till 12, the rest on Tuesday")
	require.Equal(t, brisbane("2026-03-03", 9, 0), ends(b, true, part(300, true)))
	require.Equal(t, brisbane("2026-03-03", 10, 0), ends(b, false, part(60, true)), "behind what is held: there is one owner")
	require.Equal(t, brisbane("2026-03-02", 9, 0), ends(b, false, part(60, false)), "beside it")

	b = bench()
	require.Equal(t, brisbane("2026-03-02", 10, 0), ends(b, true, part(120, false, "clamps")))
	require.Equal(t, brisbane("2026-03-02", 12, 0), ends(b, false, part(120, false, "Clamps")), "one set of clamps, free at ten")
	require.Equal(t, brisbane("2026-03-02", 10, 0), ends(b, false, part(120, false)))
	require.Contains(t, b.Lacks([]workshop.AskPart{part(10, false, "clamps", "clamps")}), "needs clamps")
	clamps := w.thing("clamps")
	clamps.PutAwayAt = ptr(w.now)
	_, err = w.room.ThingSave(t.Context(), clamps)
	require.NoError(t, err)
	days, err := bench().FitDraws(workshop.Ask{Minutes: 60, Parts: []workshop.AskPart{part(60, false, "clamps")}}, []workshop.Start{{On: day("2026-03-02"), Draws: []int{0}}}, 1)
	require.NoError(t, err)
	require.Equal(t, workshop.Never, days[0], "there are no clamps")

	// In every course of luck the owner's work ends in the owner's hours of weekdays: on none
	// of the Saturdays on which only the second hands are there.
	_, err = w.room.SecondHandsSave(t.Context(), workshop.SecondHands{Who: "Ben", FromOn: day("2026-03-02"), StartMinute: 480, Minutes: 600, Weekdays: []int16{0, 6}})
	require.NoError(t, err)
	all := make([]int, 150)
	for i := range all {
		all[i] = i
	}
	days, err = bench().FitDraws(workshop.Ask{Minutes: 900, Parts: []workshop.AskPart{part(900, true)}}, []workshop.Start{{On: day("2026-03-02"), Draws: all}}, len(all))
	require.NoError(t, err)
	for _, on := range days {
		require.False(t, on.Weekday() == time.Saturday || on.Weekday() == time.Sunday, "%v", on)
	}
	days, err = bench().FitDraws(workshop.Ask{Minutes: 900, Parts: []workshop.AskPart{part(900, false)}}, []workshop.Start{{On: day("2026-03-02"), Draws: all}}, len(all))
	require.NoError(t, err)
	require.True(t, slices.ContainsFunc(days, func(on time.Time) bool { return on.Weekday() == time.Saturday || on.Weekday() == time.Sunday }), "what anybody does may end then")
}
