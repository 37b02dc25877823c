package answer

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/calc/waiting"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// facts are what the book says about a question, each read at most once.
type facts struct {
	packs func(ctx context.Context, sizeID int64) ([]timber.DryingPack, error) // read only where the rack falls short

	boardsOrdered func(ctx context.Context, sizeID int64) ([]timber.OnOrder, error)
	itemsOrdered  func(ctx context.Context, itemID int64) ([]timber.OnOrder, error)
	set           house.Settings
	tax           house.TaxState
	day           time.Time
	party         *sales.Party
	class         string
	stepPct       decimal.Decimal
	site          *sales.Site
	region        string // the hive will stand in, where it is known

	rev     *workshop.Revision
	options []workshop.Option
	model   hive.Model // with the options built in
	dry     []string   // operations that need dry weather
	parts   []hive.CutPart
	species *timber.Species
	bees    *apiary.Species
	prices  map[string]sales.ListPrice

	shelf       []workshop.ShelfBox
	heldSerials []string
	outputs     []workshop.FreeOutput
	sizes       []timber.Size
	lots        []timber.FreeLot
	items       map[string]timber.Item
	bench       bench
	held        held
	herd        apiary.Herd // colonies nobody has claimed
	rates       waiting.Rates
	buyers      buyers
	ahead       ahead // places in the line before this one
}

// read gathers the facts. False when the book is too empty to say more than it has
// said in the reasons.
func (r *Room) read(ctx context.Context, w *working) (bool, error) {
	set, today, err := r.settings(ctx)
	if fault.Is(err, fault.NotFound) {
		w.short(PartBook, "The workshop is not set up yet: its name, hours and figures are missing.")
		return false, nil
	}
	if err != nil {
		return false, err
	}
	w.set, w.day = set, today
	if !w.q.AsOf.IsZero() {
		w.day = w.q.AsOf
	}
	if w.tax, err = house.TaxIn(ctx, r.db, w.day); err != nil {
		return false, err
	}
	if err := r.readBuyer(ctx, w); err != nil {
		return false, err
	}
	if err := r.readModel(ctx, w); err != nil {
		return false, err
	}
	if err := r.readBees(ctx, w); err != nil {
		return false, err
	}
	if w.rev == nil && w.bees == nil {
		if w.q.Wish.ModelID == 0 && !w.wantsColony() {
			w.say(PartBook, "Choose a box model, or a colony.")
		}
		return false, nil
	}
	return true, r.readRecords(ctx, w)
}

// readRecords reads what the records say of what is wanted, at the same time where it can.
func (r *Room) readRecords(ctx context.Context, w *working) error {
	reads := []func(context.Context) error{
		func(ctx context.Context) (err error) {
			if w.held, err = r.readHeld(ctx, w.day, w.q.QuoteID); err != nil {
				return err
			}
			w.prices, err = r.Sales.PricesOn(ctx, w.day, w.subjects()...)
			return err
		},
	}
	if w.rev != nil {
		reads = append(reads, func(ctx context.Context) error { return r.readStock(ctx, w) },
			func(ctx context.Context) (err error) { w.bench, err = r.readBench(ctx, w.set, w.day); return err })
	}
	if w.bees != nil {
		reads = append(reads, func(ctx context.Context) (err error) {
			if w.herd, err = r.Apiary.HerdOf(ctx, w.bees.ID, w.set.Location(), w.day); err != nil {
				return err
			}
			if w.rates, err = r.beeRates(ctx, *w.bees, w.set.Location(), w.day); err != nil {
				return err
			}
			if w.buyers, err = r.buyersOn(ctx, w.day); err != nil {
				return err
			}
			w.ahead, err = r.aheadOf(ctx, w.bees.ID)
			return err
		})
	}
	if err := r.db.Together(ctx, reads...); err != nil {
		return err
	}
	if w.bees != nil {
		w.ahead.Quoted = w.held.colonies[w.bees.ID]
	}
	if w.rev == nil {
		return nil
	}
	w.dropHeld()
	return w.bench.first(w.day, w.held.minutes, w.held.own)
}

func (w *working) wantsColony() bool {
	q := w.q.Wish
	return q.WithColony || q.OwnBox || q.BeeSpeciesID != 0 && q.ModelID == 0
}

// subjects are the list prices that the question may need.
func (w *working) subjects() []string {
	list := []string{deliverySubject}
	if w.rev != nil {
		list = append(list, sales.Subject("model", w.rev.ModelID))
	}
	for _, o := range w.options {
		list = append(list, sales.Subject("option", o.ID))
	}
	if w.bees != nil {
		list = append(list, sales.Subject("colony", w.bees.ID))
	}
	return list
}

func (r *Room) readBuyer(ctx context.Context, w *working) error {
	if w.q.PartyID != 0 {
		p, err := r.Sales.PartyGet(ctx, w.q.PartyID)
		if err != nil {
			return err
		}
		w.party = &p
		if p.BuyerClassID != nil {
			classes, err := r.Sales.ClassList(ctx)
			if err != nil {
				return err
			}
			if i := slices.IndexFunc(classes, func(c sales.BuyerClass) bool { return c.ID == *p.BuyerClassID }); i >= 0 {
				w.class, w.stepPct = classes[i].Name, classes[i].StepPct
			}
		}
	}
	if w.q.SiteID != 0 {
		s, err := r.Sales.SiteGet(ctx, w.q.SiteID)
		if err != nil {
			return err
		}
		w.site, w.region = &s, s.Region
	} else if w.wantsColony() {
		var err error
		if w.region, err = r.regionOf(ctx, w.q.PartyID, nil); err != nil {
			return err
		}
	}
	return nil
}

// readModel reads the model's latest revision and its options, and says what is missing.
func (r *Room) readModel(ctx context.Context, w *working) error {
	wish := w.q.Wish
	if wish.ModelID == 0 {
		if wish.BeeSpeciesID == 0 && !wish.OwnBox && !wish.WithColony {
			models, err := r.Workshop.ModelList(ctx, false)
			if err != nil {
				return err
			}
			if len(models) == 0 {
				w.short(PartBook, "No box model is drawn up yet. Draw one up, then ask again.")
			}
		}
		return nil
	}
	m, err := r.Workshop.ModelGet(ctx, wish.ModelID)
	if fault.Is(err, fault.NotFound) {
		return fault.Bad("/wish/model_id", "There is no such model.")
	}
	if err != nil {
		return err
	}
	if m.LatestID == nil {
		w.short(PartBook, "%s is not drawn up yet: it has no parts, so nothing can be worked out.", m.Name)
		return nil
	}
	rev, err := r.Workshop.RevisionGet(ctx, *m.LatestID)
	if err != nil {
		return err
	}
	if w.options, err = workshop.OptionsByID(ctx, r.db, wish.OptionIDs); err != nil {
		return err
	}
	if w.model, err = chosenModel(rev, w.options); err != nil {
		return err
	}
	if w.dry, err = workshop.DryNames(ctx, r.db, rev.ModelID); err != nil {
		return err
	}
	if w.parts, err = hive.Parts(w.model, w.model.WallMM); err != nil {
		return fmt.Errorf("parts of model %s: %w", rev.ModelCode, err)
	}
	w.rev = &rev
	return nil
}

// readBees reads the kind of bee; the workshop's only kind is taken when none is named.
func (r *Room) readBees(ctx context.Context, w *working) error {
	if !w.wantsColony() {
		return nil
	}
	if id := w.q.Wish.BeeSpeciesID; id != 0 {
		s, err := r.Apiary.SpeciesGet(ctx, id)
		if fault.Is(err, fault.NotFound) {
			return fault.Bad("/wish/bee_species_id", "There is no such kind of bee.")
		}
		w.bees = &s
		return err
	}
	list, err := r.Apiary.SpeciesList(ctx)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		w.short(PartBook, "No kind of bee is in the book yet, so nothing can be said about a colony.")
		return nil
	}
	w.bees = &list[0]
	if len(list) > 1 {
		w.say(PartColony, "No kind of bee was named; this is for %s.", list[0].Name)
	}
	return nil
}

// readStock reads shelf, builds, timber and fittings for a box.
func (r *Room) readStock(ctx context.Context, w *working) error {
	if err := r.readTimber(ctx, w); err != nil {
		return err
	}
	var err error
	species := w.q.Wish.TimberID
	if w.shelf, err = workshop.ShelfBoxes(ctx, r.db, w.rev.ModelID, species, w.q.Wish.OptionIDs, false); err != nil {
		return err
	}
	if w.q.Wish.WithColony {
		lived, err := r.livedIn(ctx, w, species)
		if err != nil {
			return err
		}
		w.shelf = append(lived, w.shelf...)
	}
	if w.outputs, err = workshop.OutputsFree(ctx, r.db, w.rev.ModelID, species, w.q.Wish.OptionIDs); err != nil {
		return err
	}
	codes := make([]string, len(w.model.Fittings))
	for i, f := range w.model.Fittings {
		codes[i] = f.ID
	}
	w.itemsOrdered = func(ctx context.Context, itemID int64) ([]timber.OnOrder, error) {
		return timber.ItemsOnOrder(ctx, r.db, []int64{itemID})
	}
	w.items, err = timber.ItemsByCode(ctx, r.db, codes)
	return err
}

// livedIn gives the boxes on the shelf in which a settled colony of the kind wanted
// lives that nobody has claimed.
func (r *Room) livedIn(ctx context.Context, w *working, species int64) ([]workshop.ShelfBox, error) {
	list, err := workshop.ShelfBoxes(ctx, r.db, w.rev.ModelID, species, w.q.Wish.OptionIDs, true)
	if err != nil || w.bees == nil || len(list) == 0 {
		return nil, err
	}
	herd, err := r.Apiary.HerdOf(ctx, w.bees.ID, w.set.Location(), w.day)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(list, func(b workshop.ShelfBox) bool {
		return b.ColonyID == nil || !slices.ContainsFunc(herd.Ready, func(c apiary.Standing) bool { return c.ID == *b.ColonyID })
	}), nil
}

// dropHeld takes boxes and pieces of builds that an unanswered quote holds off the lists,
// and says so of the boxes.
func (w *working) dropHeld() {
	w.outputs = slices.DeleteFunc(w.outputs, func(o workshop.FreeOutput) bool {
		return slices.Contains(w.held.outputs, OutputNeed{o.BuildID, o.N})
	})
	w.shelf = slices.DeleteFunc(w.shelf, func(b workshop.ShelfBox) bool {
		name, ok := w.held.boxes[b.BoxID]
		if ok {
			w.heldSerials = append(w.heldSerials, fmt.Sprintf("Box %s is kept for quote %s until it is answered or lapses.", b.Serial, name))
		}
		return ok
	})
}

// readTimber chooses the timber, and reads what the rack and the packs hold of it.
func (r *Room) readTimber(ctx context.Context, w *working) error {
	id := w.q.Wish.TimberID
	if id == 0 {
		usual, err := r.usualTimber(ctx)
		if err != nil {
			return err
		}
		if usual == 0 {
			w.short(PartTimber, "No timber is in the book yet, so it is neither costed nor dated.")
			return nil
		}
		id = usual
	}
	s, err := r.Timber.SpeciesGet(ctx, id)
	if fault.Is(err, fault.NotFound) {
		return fault.Bad("/wish/timber_id", "There is no such timber.")
	}
	if err != nil {
		return err
	}
	w.species = &s
	w.packs = func(ctx context.Context, sizeID int64) ([]timber.DryingPack, error) {
		return r.Timber.DryingPacks(ctx, id, []int64{sizeID})
	}
	w.boardsOrdered = func(ctx context.Context, sizeID int64) ([]timber.OnOrder, error) {
		return timber.BoardsOnOrder(ctx, r.db, id, []int64{sizeID})
	}
	all, err := r.Timber.SizeList(ctx)
	if err != nil {
		return err
	}
	var ids []int64
	for _, need := range hive.Boards(w.parts) {
		i := slices.IndexFunc(all, func(z timber.Size) bool { return sameSize(z, need.BoardSize) })
		if i >= 0 {
			w.sizes = append(w.sizes, all[i])
			ids = append(ids, all[i].ID)
		}
	}
	if len(ids) == 0 {
		return nil
	}
	w.lots, err = r.Timber.FreeBoards(ctx, id, ids)
	return err
}

func sameSize(z timber.Size, b hive.BoardSize) bool {
	return z.WidthMM.Equal(decimal.NewFromFloat(b.WidthMM)) && z.ThicknessMM.Equal(decimal.NewFromFloat(b.ThicknessMM))
}
