package answer

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// putting is what is put aside for an order while it is worked out.
type putting struct {
	set    house.Settings
	day    time.Time
	held   held
	wants  []claims.Want
	boxes  map[int64]bool // taken in this round
	colony map[int64]bool
	lots   map[int64]int
	items  map[int64]int
	makes  []assignment
	short  []string
}

type assignment struct {
	output workshop.FreeOutput
	unit   int64
}

// putTries is how often what is free is read anew when somebody else was quicker.
const putTries = 3

// putAside claims what there is for the open units of an order: boxes and colonies of the
// shelf, pieces of builds under way, and timber and fittings of what must be built, on
// the first such unit of each line. It never goes beyond the book; what is short comes
// back in plain sentences. quote is the quote it came from, whose own hold does not count.
func (r *Room) putAside(ctx context.Context, order sales.Order, quote int64) ([]string, error) {
	for try := 1; ; try++ {
		short, err := r.putOnce(ctx, order, quote)
		var lack *claims.ShortError
		if err == nil || try == putTries || !errors.As(err, &lack) {
			return short, err
		}
	}
}

func (r *Room) putOnce(ctx context.Context, order sales.Order, quote int64) ([]string, error) {
	p := &putting{boxes: map[int64]bool{}, colony: map[int64]bool{}, lots: map[int64]int{}, items: map[int64]int{}}
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var err error
		if p.set, p.day, err = r.settings(ctx); err != nil {
			return err
		}
		if p.held, err = r.readHeld(ctx, p.day, quote); err != nil {
			return err
		}
		for _, l := range order.Lines {
			if err := r.putLine(ctx, p, l); err != nil {
				return err
			}
		}
		for _, m := range p.makes {
			if err := r.Workshop.OutputAssignTx(ctx, tx, m.output.BuildID, m.output.N, &m.unit); err != nil {
				return err
			}
		}
		_, err = claims.Put(ctx, tx, r.db.Now(), p.wants)
		return err
	})
	return p.short, err
}

func (p *putting) want(unit sales.Unit, t claims.Thing, n int, on *time.Time) {
	p.wants = append(p.wants, claims.Want{For: claims.Unit(unit.ID), Thing: t, Quantity: n, Strength: claims.PutAside, PromisedOn: on})
}

func (p *putting) lack(format string, args ...any) {
	p.short = append(p.short, fmt.Sprintf(format, args...))
}

func (r *Room) putLine(ctx context.Context, p *putting, l sales.OrderLine) error {
	open := slices.DeleteFunc(slices.Clone(l.Units), func(u sales.Unit) bool { return !u.Open() || u.BoxID != nil && u.ColonyID != nil })
	boxes, bees := unitsWhere(open, lacksBox), unitsWhere(open, lacksBees)
	switch l.Kind {
	case "box":
		if len(boxes) > 0 {
			if err := r.putBoxes(ctx, p, l, boxes); err != nil {
				return err
			}
		}
		return r.putColonies(ctx, p, l, unitsWhere(bees, func(u sales.Unit) bool { return !lacksBox(u) }))
	case "colony":
		return r.putColonies(ctx, p, l, bees)
	case "goods":
		return r.putGoods(ctx, p, l, open)
	}
	return nil
}

// lacksBox reports whether neither a box nor a piece of a build is there for a unit that
// wants a box of ours.
func lacksBox(u sales.Unit) bool {
	return u.WantsBox && !u.OwnBox && u.BoxID == nil && u.BuildID == nil
}

// lacksBees reports whether a unit still waits for its colony.
func lacksBees(u sales.Unit) bool { return u.WantsColony && u.ColonyID == nil }

func unitsWhere(list []sales.Unit, is func(sales.Unit) bool) []sales.Unit {
	return slices.DeleteFunc(slices.Clone(list), func(u sales.Unit) bool { return !is(u) })
}

// putBoxes goes the way of the answer: shelf, work under way, new work.
func (r *Room) putBoxes(ctx context.Context, p *putting, l sales.OrderLine, open []sales.Unit) error {
	if l.ModelRevisionID == nil {
		return nil
	}
	rev, err := r.Workshop.RevisionGet(ctx, *l.ModelRevisionID)
	if err != nil {
		return err
	}
	shelf, err := r.shelfFor(ctx, p, l, rev)
	if err != nil {
		return err
	}
	var bare []sales.Unit
	for _, b := range shelf {
		at := slices.IndexFunc(open, func(u sales.Unit) bool { return u.ColonyID == nil || b.ColonyID == nil })
		if at < 0 {
			continue
		}
		u := open[at]
		open = slices.Delete(slices.Clone(open), at, at+1)
		p.boxes[b.BoxID] = true
		p.want(u, claims.Box(b.BoxID), 1, u.PromisedBoxOn)
		switch {
		case !lacksBees(u):
		case b.ColonyID != nil:
			p.colony[*b.ColonyID] = true
			p.want(u, claims.Colony(*b.ColonyID), 1, u.PromisedColonyOn)
		default:
			bare = append(bare, u)
		}
	}
	if open, err = r.putOutputs(ctx, p, l, rev, open, &bare); err != nil {
		return err
	}
	if len(open) > 0 {
		if err := r.putTimber(ctx, p, l, rev, open); err != nil {
			return err
		}
		for _, u := range open {
			if lacksBees(u) {
				bare = append(bare, u)
			}
		}
	}
	if len(bare) > 0 {
		return r.putColonies(ctx, p, l, bare)
	}
	return nil
}

// shelfFor gives the boxes on the shelf for a line: those its quote kept come first, with
// a colony where one is wanted, and none that another quote keeps.
func (r *Room) shelfFor(ctx context.Context, p *putting, l sales.OrderLine, rev workshop.Revision) ([]workshop.ShelfBox, error) {
	species := deref(l.TimberSpeciesID)
	var list []workshop.ShelfBox
	if l.WithColony && l.BeeSpeciesID != nil {
		lived, err := r.livedIn(ctx, &working{facts: facts{set: p.set, rev: &rev, bees: speciesOnly(*l.BeeSpeciesID), day: p.day}, q: Question{Wish: sales.Wish{OptionIDs: l.Options()}}}, species)
		if err != nil {
			return nil, err
		}
		list = lived
	}
	empty, err := workshop.ShelfBoxes(ctx, r.db, rev.ModelID, species, l.Options(), false)
	if err != nil {
		return nil, err
	}
	list = slices.DeleteFunc(append(list, empty...), func(b workshop.ShelfBox) bool {
		_, kept := p.held.boxes[b.BoxID]
		return kept || p.boxes[b.BoxID] || b.ColonyID != nil && p.colony[*b.ColonyID]
	})
	kept := readNeeds(l.NeedsJSON).Shelf
	slices.SortStableFunc(list, func(a, b workshop.ShelfBox) int {
		return boolOrder(slices.Contains(kept, a.BoxID), slices.Contains(kept, b.BoxID))
	})
	return list, nil
}

func boolOrder(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

func (r *Room) putOutputs(ctx context.Context, p *putting, l sales.OrderLine, rev workshop.Revision, open []sales.Unit, bare *[]sales.Unit) ([]sales.Unit, error) {
	if len(open) == 0 {
		return open, nil
	}
	list, err := workshop.OutputsFree(ctx, r.db, rev.ModelID, deref(l.TimberSpeciesID), l.Options())
	if err != nil {
		return nil, err
	}
	for _, o := range list {
		if len(open) == 0 {
			break
		}
		taken := slices.Contains(p.held.outputs, OutputNeed{o.BuildID, o.N}) ||
			slices.ContainsFunc(p.makes, func(m assignment) bool { return m.output.BuildID == o.BuildID && m.output.N == o.N })
		if taken {
			continue
		}
		p.makes = append(p.makes, assignment{o, open[0].ID})
		if lacksBees(open[0]) {
			*bare = append(*bare, open[0])
		}
		open = open[1:]
	}
	return open, nil
}

// putTimber claims boards and fittings of the boxes that must be built, all on the first
// unit; a build takes them over.
func (r *Room) putTimber(ctx context.Context, p *putting, l sales.OrderLine, rev workshop.Revision, open []sales.Unit) error {
	options, err := workshop.OptionsByID(ctx, r.db, l.Options())
	if err != nil {
		return err
	}
	model, err := workshop.Compose(rev, options)
	if err != nil {
		return err
	}
	parts, err := hive.Parts(model, model.WallMM)
	if err != nil {
		return fmt.Errorf("parts of model %s: %w", rev.ModelCode, err)
	}
	if l.TimberSpeciesID != nil {
		if err := r.putBoards(ctx, p, *l.TimberSpeciesID, parts, open); err != nil {
			return err
		}
	}
	return r.putFittings(ctx, p, model.Fittings, open)
}

func (r *Room) putBoards(ctx context.Context, p *putting, species int64, parts []hive.CutPart, open []sales.Unit) error {
	timberKind, err := r.Timber.SpeciesGet(ctx, species)
	if err != nil {
		return err
	}
	w := &working{facts: facts{set: p.set, day: p.day, held: p.held, parts: parts, species: &timberKind}}
	w.q.Wish.TimberID = species
	if err := r.readTimber(ctx, w); err != nil {
		return err
	}
	needs := hive.Boards(parts)
	for _, need := range needs {
		free := w.freeOf(need.BoardSize)
		for i := range free {
			free[i].Free -= p.lots[free[i].LotID]
		}
		free = slices.DeleteFunc(free, func(f timber.FreeLot) bool { return f.Free <= 0 })
		plan := layGrades(ctx, p.set, p.day, parts, need.BoardSize, len(open), free, 4*planTimeMS)
		for _, f := range free {
			if n := plan.boards[f.LotID]; n > 0 {
				p.lots[f.LotID] += n
				p.want(open[0], claims.Lot(f.LotID), n, open[0].PromisedBoxOn)
			}
		}
		if plan.missingMM > 0 {
			s := timber.Shortage{SpeciesName: timberKind.Name, WidthMM: decimal.NewFromFloat(need.WidthMM), ThicknessMM: decimal.NewFromFloat(need.ThicknessMM), MissingMM: int64(plan.missingMM + 0.999)}
			p.lack("%s.", s.String())
		}
	}
	return nil
}

func (r *Room) putFittings(ctx context.Context, p *putting, fittings []hive.Fitting, open []sales.Unit) error {
	codes := make([]string, len(fittings))
	for i, f := range fittings {
		codes[i] = f.ID
	}
	items, err := timber.ItemsByCode(ctx, r.db, codes)
	if err != nil {
		return err
	}
	for _, f := range fittings {
		need := f.Count * len(open)
		item, ok := items[f.ID]
		switch {
		case !ok:
			p.lack("%d of %s needed: not among the fittings yet.", need, f.ID)
		case !item.Counted:
			if item.Low {
				p.lack("%s runs low.", item.Name)
			}
		default:
			n := min(need, max(0, item.Free()-p.items[item.ID]))
			if n > 0 {
				p.items[item.ID] += n
				p.want(open[0], claims.Item(item.ID), n, open[0].PromisedBoxOn)
			}
			if n < need {
				p.lack("%d of %s short.", need-n, item.Name)
			}
		}
	}
	return nil
}

// putGoods claims one piece of an item for each unit, as far as there are any.
func (r *Room) putGoods(ctx context.Context, p *putting, l sales.OrderLine, open []sales.Unit) error {
	if l.ItemID == nil {
		return nil
	}
	item, err := r.Timber.ItemGet(ctx, *l.ItemID)
	if err != nil || !item.Counted {
		return err
	}
	for i, u := range open {
		if item.Free()-p.items[item.ID] <= 0 {
			p.lack("%d of %s short.", len(open)-i, item.Name)
			break
		}
		p.items[item.ID]++
		p.want(u, claims.Item(item.ID), 1, u.PromisedBoxOn)
	}
	return nil
}

// putColonies claims colonies that are ready, as far as those who wait longer leave any.
// For a box of the workshop only colonies that do not live in another box are taken.
func (r *Room) putColonies(ctx context.Context, p *putting, l sales.OrderLine, open []sales.Unit) error {
	if l.BeeSpeciesID == nil || len(open) == 0 {
		return nil
	}
	herd, err := r.Apiary.HerdOf(ctx, *l.BeeSpeciesID, p.set.Location(), p.day)
	if err != nil {
		return err
	}
	first, err := r.standBefore(ctx, *l.BeeSpeciesID, l.OrderID)
	if err != nil {
		return err
	}
	spare := len(herd.Ready) - first - p.held.colonies[*l.BeeSpeciesID] - len(p.colony)
	ready := slices.DeleteFunc(herd.Ready, func(c apiary.Standing) bool { return p.colony[c.ID] || l.Kind == "box" && c.BoxID != nil })
	for i, u := range open {
		if i >= len(ready) || spare <= 0 {
			break
		}
		spare--
		p.colony[ready[i].ID] = true
		p.want(u, claims.Colony(ready[i].ID), 1, u.PromisedColonyOn)
	}
	return nil
}

// freeUnits ends the claims of units and gives the pieces of builds that were for them to
// the shelf.
func (r *Room) freeUnits(ctx context.Context, tx pgx.Tx, units []int64, how claims.How, because string) error {
	for _, id := range units {
		if _, err := claims.EndFor(ctx, tx, r.db.Now(), claims.Unit(id), how, because); err != nil {
			return err
		}
	}
	rows, err := tx.Query(ctx, `SELECT o.build_id, o.n FROM build_output o JOIN build b ON b.id = o.build_id
WHERE o.order_unit_id = ANY ($1) AND o.spoiled_at IS NULL AND o.finished_at IS NULL AND b.finished_at IS NULL AND b.cancelled_at IS NULL ORDER BY o.build_id, o.n`, units)
	if err != nil {
		return err
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[OutputNeed])
	if err != nil {
		return err
	}
	for _, o := range list {
		if err := r.Workshop.OutputAssignTx(ctx, tx, o.BuildID, o.N, nil); err != nil {
			return err
		}
	}
	return nil
}

func because(s string) string {
	if r := []rune(strings.TrimSpace(s)); len(r) > fault.ShortText {
		return string(r[:fault.ShortText])
	}
	return strings.TrimSpace(s)
}
