package answer

import (
	"context"
	"fmt"
	"slices"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/waiting"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// Giving a ready colony to a buyer in the line, as it is proposed.
type Proposed struct {
	Place                     int
	UnitID, ColonyID, OrderID int64
	Order, Who, Colony        string
	OutOfRange                string // what to say to the buyer; "" where the kind belongs there
	Unsure                    bool   // its kind was found, but not for sure
	HouseFirst                string // what must be done before it goes; "" for nothing
}

// matchMost bounds the buyers and colonies that a proposal is made for, the first of the
// line and the longest settled.
const matchMost = 200

// LinePropose proposes the ready colonies for the line of a kind. Everybody who waits for
// any kind is looked at together, so that who wants any kind is given one that belongs
// where he lives; those in the line of the kind named are given back. What counts stands at
// waiting.Match: the first in the line before all, then fewest outside the natural range,
// then fewest to be moved into another box, then the surest, then the longest settled. Each
// colony is proposed once; those held back, promised or kept to be split are not.
func (r *Room) LinePropose(ctx context.Context, species int64) ([]Proposed, error) {
	m, err := r.readMatch(ctx)
	if err != nil {
		return nil, err
	}
	if _, err := r.Apiary.SpeciesGet(ctx, species); err != nil {
		return nil, err
	}
	var out []Proposed
	place := 0
	given := map[int]int{}
	for _, p := range waiting.Match(len(m.line), len(m.ready), m.cost) {
		given[p.Buyer] = p.Colony
	}
	for b, u := range m.line {
		if u.SpeciesID != nil && *u.SpeciesID != species {
			continue
		}
		place++
		if c, ok := given[b]; ok && m.ready[c].SpeciesID == species {
			out = append(out, m.proposed(u, m.ready[c], place))
		}
	}
	return out, nil
}

// matching is the line of all kinds and the colonies that are ready.
type matching struct {
	line  []waitingUnit
	ready []apiary.Standing
	kinds map[int64]apiary.Species
	fits  map[string][]int64 // boxes with bees in them that are what a line ordered
}

func (r *Room) readMatch(ctx context.Context) (matching, error) {
	m := matching{kinds: map[int64]apiary.Species{}, fits: map[string][]int64{}}
	set, day, err := r.settings(ctx)
	if err != nil {
		return m, err
	}
	if m.line, _, err = r.waitingFor(ctx, 0); err != nil {
		return m, err
	}
	m.line = m.line[:min(len(m.line), matchMost)]
	herds, err := r.Apiary.HerdsOf(ctx, set.Location(), day)
	if err != nil {
		return m, err
	}
	kinds, err := r.Apiary.SpeciesList(ctx)
	if err != nil {
		return m, err
	}
	for _, s := range kinds {
		m.kinds[s.ID] = s
		m.ready = append(m.ready, herds[s.ID].Ready...)
	}
	slices.SortStableFunc(m.ready, func(a, b apiary.Standing) int { return a.Since.Compare(b.Since) })
	m.ready = m.ready[:min(len(m.ready), matchMost)]
	for _, u := range m.line {
		if !u.WantsBox || u.BoxID != nil || u.ModelID == nil {
			continue
		}
		if _, ok := m.fits[u.boxKey()]; ok {
			continue
		}
		boxes, err := workshop.ShelfBoxes(ctx, r.db, *u.ModelID, deref(u.TimberID), u.optionsOf(), true)
		if err != nil {
			return m, err
		}
		ids := []int64{}
		for _, b := range boxes {
			ids = append(ids, b.BoxID)
		}
		m.fits[u.boxKey()] = ids
	}
	return m, nil
}

// boxKey tells one sort of box ordered from another.
func (u waitingUnit) boxKey() string {
	return fmt.Sprint(deref(u.ModelID), deref(u.TimberID), u.optionsOf())
}

// houseFirst says what must be done before a colony can go with a piece: a box of ours that
// is not the one ordered does not go along.
func (m matching) houseFirst(u waitingUnit, c apiary.Standing) string {
	switch {
	case !u.WantsBox || c.BoxID == nil && u.BoxID == nil:
		return ""
	case u.BoxID != nil && c.BoxID != nil && *u.BoxID == *c.BoxID:
		return ""
	case u.BoxID != nil:
		return "house it in box " + text(u.BoxSerial) + " first"
	case slices.Contains(m.fits[u.boxKey()], *c.BoxID):
		return ""
	}
	return "house it in its box once that is there"
}

func (m matching) cost(buyer, colony int) (waiting.Cost, bool) {
	u, c := m.line[buyer], m.ready[colony]
	if u.SpeciesID != nil && *u.SpeciesID != c.SpeciesID {
		return waiting.Cost{}, false
	}
	k := waiting.Cost{Late: int64(len(m.line)-buyer) * int64(colony)}
	if kind := m.kinds[c.SpeciesID]; !kind.InRange(u.Region) {
		k.OutOfRange = 1
	}
	if m.houseFirst(u, c) != "" {
		k.Rehouse = 1
	}
	if !c.Sure {
		k.Unsure = 1
	}
	return k, true
}

func (m matching) proposed(u waitingUnit, c apiary.Standing, place int) Proposed {
	return Proposed{Place: place, UnitID: u.UnitID, ColonyID: c.ID, OrderID: u.OrderID, Order: u.Number, Who: u.Who, Colony: c.Number,
		OutOfRange: m.kinds[c.SpeciesID].AskOutOfRange(u.Region), Unsure: !c.Sure, HouseFirst: m.houseFirst(u, c)}
}

// LinePair is a colony that the maker gives to a piece in the line.
type LinePair struct{ UnitID, ColonyID int64 }

// LineAccept puts colonies aside for pieces in the line of a kind, all or none; without
// pairs all that is proposed now. It gives what was put aside, with what is to be done before it
// goes. A colony that lives in the very box ordered takes it along. Errors: Conflict where a
// colony is not ready, or a piece does not stand in the line, any more; Invalid for a pair twice.
func (r *Room) LineAccept(ctx context.Context, species int64, pairs []LinePair) ([]Proposed, error) {
	var out []Proposed
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		out = nil
		if len(pairs) == 0 {
			list, err := r.LinePropose(ctx, species)
			if err != nil {
				return err
			}
			if len(list) == 0 {
				return fault.New(fault.Conflict, "No colony is ready for anybody in this line.")
			}
			for _, p := range list {
				pairs = append(pairs, LinePair{p.UnitID, p.ColonyID})
			}
		}
		m, err := r.readMatch(ctx)
		if err != nil {
			return err
		}
		units, colonies := map[int64]bool{}, map[int64]bool{}
		for i, p := range pairs {
			if units[p.UnitID] || colonies[p.ColonyID] {
				return fault.Bad(fmt.Sprintf("/pairs/%d", i), "A piece is given one colony, and a colony to one piece.")
			}
			units[p.UnitID], colonies[p.ColonyID] = true, true
			given, err := r.lineGive(ctx, m, species, p)
			if err != nil {
				return err
			}
			out = append(out, given)
		}
		return nil
	})
	return out, err
}

func (r *Room) lineGive(ctx context.Context, m matching, species int64, p LinePair) (Proposed, error) {
	b, place := -1, 0
	for i, u := range m.line {
		if u.SpeciesID == nil || *u.SpeciesID == species {
			place++
			if u.UnitID == p.UnitID {
				b = i
				break
			}
		}
	}
	if b < 0 {
		return Proposed{}, fault.New(fault.Conflict, "A piece does not stand in this line any more. Look at the proposal again.")
	}
	c := slices.IndexFunc(m.ready, func(s apiary.Standing) bool { return s.ID == p.ColonyID && s.SpeciesID == species })
	if c < 0 {
		return Proposed{}, fault.New(fault.Conflict, "A colony is not ready any more, or is kept for something else. Look at the proposal again.")
	}
	u, s := m.line[b], m.ready[c]
	out := m.proposed(u, s, place)
	if out.HouseFirst == "" {
		return out, r.ColonyPutAside(ctx, u.UnitID, s.ID)
	}
	return out, r.bodyPutAside(ctx, u.UnitID, claims.Colony(s.ID), func(now sales.Unit) error {
		if now.ColonyID != nil {
			return fault.New(fault.Conflict, "Colony %s is put aside for this piece already.", text(now.ColonyNumber))
		}
		return nil
	})
}
