package answer

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"kerfbook/internal/calc/planning"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// bench is the free time of the bench behind everything that goes first.
type bench struct {
	*workshop.Bench
	loc     *time.Location
	open    int     // open builds
	ordered int     // boxes that are ordered and not on the bench yet
	held    float64 // minutes that unanswered quotes hold

	orderedMin float64 // minutes of the ordered boxes
	orderedOwn float64 // of them, of the owner alone
	full       bool    // what goes first fills the plan's reach
	guessed    bool    // no working hours are set
}

// orderedSQL counts open builds, and the boxes that are ordered but not on the bench with
// their minutes: those that the line kept, else those of its model; as many times longer as
// a later revision of the same drawing has learnt that the work takes.
const orderedSQL = `WITH open AS MATERIALIZED (
	SELECT l.model_revision_id, (l.needs ->> 'setup_minutes')::float8 AS setup, (l.needs ->> 'piece_minutes')::float8 AS piece,
		coalesce((l.needs ->> 'own_setup_minutes')::float8, 0) AS own_setup, coalesce((l.needs ->> 'own_piece_minutes')::float8, 0) AS own_piece, count(*) AS n
	FROM order_unit u JOIN order_line l ON l.id = u.order_line_id
	WHERE u.wants_box AND NOT u.own_box AND u.handed_over_at IS NULL AND u.cancelled_at IS NULL
		AND NOT EXISTS (SELECT 1 FROM claim c WHERE c.order_unit_id = u.id AND c.box_id IS NOT NULL AND c.ended_at IS NULL)
		AND NOT EXISTS (SELECT 1 FROM build_output x JOIN build y ON y.id = x.build_id WHERE x.order_unit_id = u.id AND x.spoiled_at IS NULL AND x.finished_at IS NULL AND y.cancelled_at IS NULL AND y.finished_at IS NULL)
	GROUP BY l.id), drawn AS (
	SELECT m.id, sum((o ->> 'setup_minutes')::float8) AS setup, sum((o ->> 'piece_minutes')::float8) AS piece,
		sum((o ->> 'setup_minutes')::float8) FILTER (WHERE o -> 'owner_only' = 'true') AS own_setup, sum((o ->> 'piece_minutes')::float8) FILTER (WHERE o -> 'owner_only' = 'true') AS own_piece
	FROM model_revision m, jsonb_array_elements(m.body -> 'operations') o WHERE m.id IN (SELECT model_revision_id FROM open WHERE setup IS NULL OR piece IS NULL) GROUP BY m.id), learnt AS (
	SELECT r.id, sum((p.value ->> 'piece_minutes')::float8) / nullif(sum((o.value ->> 'piece_minutes')::float8), 0) AS times
	FROM (SELECT DISTINCT model_revision_id AS id FROM open) x JOIN model_revision r USING (id) ` + workshop.LaterFiguresSQL + ` GROUP BY r.id)
SELECT (SELECT count(*) FROM build WHERE finished_at IS NULL AND cancelled_at IS NULL)::int, coalesce(sum(o.n), 0)::int,
	coalesce(sum(coalesce(v.times, 1) * (coalesce(o.setup, d.setup, 0) + coalesce(o.piece, d.piece, 0) * o.n)), 0)::float8,
	coalesce(sum(coalesce(v.times, 1) * CASE WHEN d.id IS NULL THEN o.own_setup + o.own_piece * o.n ELSE coalesce(d.own_setup, 0) + coalesce(d.own_piece, 0) * o.n END), 0)::float8,
	NOT EXISTS (SELECT FROM work_week WHERE from_on <= $1)
FROM open o LEFT JOIN drawn d ON d.id = o.model_revision_id LEFT JOIN learnt v ON v.id = o.model_revision_id`

// readBench reads the free time of the bench, and what goes first and no plan has laid.
func (r *Room) readBench(ctx context.Context, set house.Settings, today time.Time) (bench, error) {
	b := bench{loc: set.Location()}
	var err error
	if b.Bench, err = r.Workshop.Bench(ctx, b.loc); err != nil {
		return b, err
	}
	err = r.db.QueryRow(ctx, orderedSQL, today).Scan(&b.open, &b.ordered, &b.orderedMin, &b.orderedOwn, &b.guessed)
	return b, postgres.Translate(err)
}

// first takes off what goes first: boxes that are ordered but not on the bench, and what
// unanswered quotes hold.
func (b *bench) first(today time.Time, heldMin, heldOwn float64) error {
	b.held = heldMin
	if b.orderedMin+heldMin <= 0 {
		return nil
	}
	_, err := b.FitAsk(lump(b.orderedMin+heldMin, b.orderedOwn+heldOwn), today, true)
	if fault.Is(err, fault.Conflict) {
		b.full = true
		return nil
	}
	return err
}

// freeFrom is the day on which new work could begin.
func (b bench) freeFrom(today time.Time) (time.Time, bool) {
	if b.full {
		return time.Time{}, false
	}
	t, err := b.Fit(1, 0, today, false)
	return house.DateIn(t.StartsAt, b.loc), err == nil
}

// benchReason says how the bench stands.
func (w *working) benchReason() {
	if w.bench.guessed {
		w.short(PartBench, "No working hours are set yet; a usual week is assumed.")
	}
	day, ok := w.bench.freeFrom(w.day)
	if !ok {
		w.saySelf(Reason{Part: PartBench, Late: true, Short: true, Text: "The bench is full as far ahead as work can be laid."})
		return
	}
	var after []string
	if w.bench.open > 0 {
		after = append(after, show.Count(int64(w.bench.open), "open build", "open builds"))
	}
	if w.bench.ordered > 0 {
		after = append(after, show.Count(int64(w.bench.ordered), "box", "boxes")+" ordered before")
	}
	if w.bench.held > 0 {
		after = append(after, "the hours that unanswered quotes hold")
	}
	text := "The bench is free from " + show.Date(day)
	if len(after) > 0 {
		text += " after " + inWords(after)
	}
	w.say(PartBench, "%s.", text)
	w.say(PartBench, "%s to build: %s at the bench.", boxes(w.fresh), show.Minutes(int64(math.Ceil(w.needs.minutes(w.fresh)))))
	if lack := w.bench.Lacks(w.ask().Parts); lack != "" {
		w.saySelf(Reason{Part: PartBench, Late: true, Short: true, Text: lack})
	}
	if own := w.needs.ownMinutes(w.fresh); own > 0 && w.bench.Shared() {
		w.say(PartBench, "%s of that only the owner does.", show.Minutes(int64(math.Ceil(own))))
	}
	if dry := w.ask().DryMinutes; dry > 0 {
		w.say(PartBench, "%s of that needs dry weather; the date leaves room for wet days.", show.Minutes(int64(math.Ceil(dry))))
	}
	w.say(PartBench, "%s", learntWords(w.bench.Luck()))
}

// ask is the work of the boxes that are built anew.
func (w *working) ask() workshop.Ask {
	a := workshop.Ask{Minutes: w.needs.minutes(w.fresh), WaitMinutes: w.needs.WaitMinutes}
	for _, o := range w.model.Operations {
		minutes := o.SetupMinutes + o.PieceMinutes*float64(w.fresh)
		if slices.Contains(w.dry, o.ID) {
			a.DryMinutes, a.DryOwner = a.DryMinutes+minutes, a.DryOwner || o.OwnerOnly
			continue
		}
		a.Parts = append(a.Parts, workshop.AskPart{Minutes: minutes, OwnerOnly: o.OwnerOnly, Needs: o.Needs})
	}
	return a
}

// learntWords says how far the rates are known.
func learntWords(l planning.Luck) string {
	if l.Known() == 0 {
		return "No finished build has its times written down yet, so the date leaves room for a guess."
	}
	pct := int(math.Round(100 * (l.Middle() - 1)))
	how := "as the standard says"
	switch {
	case pct > 2:
		how = fmt.Sprintf("about %d in 100 longer than the standard", pct)
	case pct < -2:
		how = fmt.Sprintf("about %d in 100 shorter than the standard", -pct)
	}
	return fmt.Sprintf("Work takes %s, as far as %s; the date leaves room for what that does not tell, and for bad weeks.", how, show.Count(int64(l.Known()), "finished build tells", "finished builds tell"))
}

// inWords joins a list as a sentence does: one, two and three.
func inWords(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}
