package answer

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/access"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// TakenIn is a hive or a box of somebody else that came into the workshop's keeping.
type TakenIn struct {
	apiary.KeepingTerms
	PartyID     int64
	ColonyID    *int64 // one that is in the book
	BoxID       *int64 // one that is in the book; bees that live in it come along
	SpeciesID   int64  // bees that are not in the book yet; 0: none
	SpeciesSure bool
	Description string // of a box that is not in the book, or of what the bees live in
	SiteID      *int64
	Place       string
	CameAt      time.Time // zero: now
}

// TakeIn puts a hive or a box of somebody else into the workshop's keeping, with what was
// agreed. What is not in the book yet is put down as theirs; bees that come have moved, and
// the movement record says so. Errors: Invalid; Conflict for what is not theirs by the
// book, is gone, or is here already.
func (r *Room) TakeIn(ctx context.Context, t TakenIn) (apiary.Keeping, error) {
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		now := r.db.Now()
		if t.CameAt.IsZero() {
			t.CameAt = now
		}
		var l fault.List
		l.Past("/came_at", t.CameAt, now)
		l.Check(t.PartyID > 0, "/party_id", "Say whose it is.")
		l.Check(t.ColonyID != nil || t.BoxID != nil || t.SpeciesID > 0 || strings.TrimSpace(t.Description) != "", "/description", "Say what came: its serial, the number of the colony, or in words.")
		l.Short("/description", t.Description)
		if err := l.Err(); err != nil {
			return err
		}
		owner, err := r.Sales.PartyGet(ctx, t.PartyID)
		if err != nil {
			return err
		}
		if t.Place == "" && t.SiteID == nil {
			t.Place = "the workshop"
		}
		if t.BoxID != nil {
			if err := r.theirBox(ctx, &t); err != nil {
				return err
			}
		}
		switch {
		case t.ColonyID != nil:
			id, err = r.takeColony(ctx, t)
		case t.SpeciesID > 0:
			id, err = r.takeNewBees(ctx, t, "with "+owner.Name)
		default:
			id, err = r.takeBox(ctx, tx, t)
		}
		return err
	})
	if err != nil {
		return apiary.Keeping{}, err
	}
	return r.Apiary.KeepingGet(ctx, id)
}

// theirBox looks at a box of the book that came in: it must be theirs, and bees in it come
// along.
func (r *Room) theirBox(ctx context.Context, t *TakenIn) error {
	b, err := r.Workshop.BoxGet(ctx, *t.BoxID)
	switch {
	case err != nil:
		return err
	case b.GoneAt != nil:
		return fault.New(fault.Conflict, "Box %s is gone by the book.", b.Serial)
	case b.OwnerPartyID == nil || *b.OwnerPartyID != t.PartyID:
		return fault.New(fault.Conflict, "Box %s is not theirs by the book. Note first whose it is.", b.Serial)
	}
	if b.ColonyID != nil {
		t.ColonyID = b.ColonyID
	}
	return nil
}

// takeColony takes in a colony of the book.
func (r *Room) takeColony(ctx context.Context, t TakenIn) (int64, error) {
	c, err := r.Apiary.ColonyGet(ctx, *t.ColonyID)
	switch {
	case err != nil:
		return 0, err
	case c.EndedAt != nil:
		return 0, fault.New(fault.Conflict, "Colony %s is gone by the book: %s.", c.Number, c.EndedHow)
	case c.OwnerID == nil || *c.OwnerID != t.PartyID:
		return 0, fault.New(fault.Conflict, "Colony %s is not theirs by the book. Note first whose it is.", c.Number)
	}
	id, err := r.Apiary.KeepingBegin(ctx, apiary.Keeping{KeepingTerms: t.KeepingTerms, ColonyID: &c.ID, PartyID: t.PartyID, CameAt: t.CameAt})
	if err != nil {
		return 0, err
	}
	if err := r.Apiary.KeeperSet(ctx, c.ID, nil, t.CameAt); err != nil {
		return 0, err
	}
	_, err = r.ColonyElsewhere(ctx, apiary.Move{ColonyID: c.ID, SiteID: t.SiteID, Place: t.Place, At: t.CameAt, Note: "Came into our keeping", InSpite: "it came into our keeping"})
	return id, err
}

// takeNewBees puts down bees that are not in the book yet, where they were, and brings
// them here.
func (r *Room) takeNewBees(ctx context.Context, t TakenIn, from string) (int64, error) {
	c, err := r.Apiary.ColonyMake(ctx, apiary.NewColony{OwnerID: &t.PartyID, SpeciesID: t.SpeciesID, SpeciesSure: t.SpeciesSure, BoxID: t.BoxID, Description: t.Description, Place: because(from), HousedAt: t.CameAt, Origin: "Came into our keeping", Keeping: t.KeepingTerms})
	if err != nil {
		return 0, err
	}
	if _, err := r.ColonyElsewhere(ctx, apiary.Move{ColonyID: c.ID, SiteID: t.SiteID, Place: t.Place, At: t.CameAt, Note: "Came into our keeping"}); err != nil {
		return 0, err
	}
	k, err := r.Apiary.KeepingOf(ctx, c.ID, 0)
	if err != nil || k == nil {
		return 0, err
	}
	return k.ID, nil
}

// takeBox takes in a box without bees.
func (r *Room) takeBox(ctx context.Context, tx pgx.Tx, t TakenIn) (int64, error) {
	if t.BoxID == nil {
		b, err := r.Workshop.BoxRegister(ctx, workshop.BoxNew{Description: strings.TrimSpace(t.Description), Maker: "not known", FinishedAt: t.CameAt, OwnerID: &t.PartyID, SiteID: t.SiteID, Place: t.Place})
		if err != nil {
			return 0, err
		}
		t.BoxID = &b.ID
	} else if err := r.Workshop.BoxPlaceTx(ctx, tx, *t.BoxID, t.SiteID, t.Place, t.CameAt); err != nil {
		return 0, err
	}
	return r.Apiary.KeepingBegin(ctx, apiary.Keeping{KeepingTerms: t.KeepingTerms, BoxID: t.BoxID, PartyID: t.PartyID, CameAt: t.CameAt})
}

// KeepingOver says how a keeping ends.
type KeepingOver struct {
	How     string    // back: with its owner; kept: the workshop's now, as agreed; lost: it died or broke here and the owner knows
	At      time.Time // zero: now
	SiteID  *int64    // back: where it stands now
	Place   string    // the same in words; empty: with its owner
	Note    string    // who took it, or why
	InSpite string    // why it went although it is held back
}

// KeepingEnd hands a hive or a box back to its owner, keeps it as the workshop's own as
// agreed, or notes that the owner knows of its loss; with a word on what goes along. Errors:
// Invalid; Conflict when it is not here any more, is not gone, or is held back and no reason
// is given.
func (r *Room) KeepingEnd(ctx context.Context, id int64, o KeepingOver) (said string, err error) {
	if o.At.IsZero() {
		o.At = r.db.Now()
	}
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		k, err := r.Apiary.KeepingGet(ctx, id)
		if err != nil {
			return err
		}
		if err := r.Apiary.KeepingEnd(ctx, id, o.How, o.At, strings.TrimSpace(o.Note)); err != nil {
			return err
		}
		switch o.How {
		case "lost":
			return r.lostHere(ctx, k)
		case "kept":
			return r.keptHere(ctx, tx, k, o)
		}
		said, err = r.goneBack(ctx, tx, k, o)
		return err
	})
	return said, err
}

// lostHere lets a keeping end only when there is nothing left to hand back.
func (r *Room) lostHere(ctx context.Context, k apiary.Keeping) error {
	if k.ColonyID != nil && k.Gone == "" {
		return fault.New(fault.Conflict, "Colony %s lives by the book. Note on its page what became of it first.", k.Number)
	}
	if k.BoxID == nil {
		return nil
	}
	b, err := r.Workshop.BoxGet(ctx, *k.BoxID)
	if err == nil && b.GoneAt == nil && b.StolenAt == nil {
		return fault.New(fault.Conflict, "Box %s is here by the book. Note on its page what became of it first.", b.Serial)
	}
	return err
}

func (r *Room) keptHere(ctx context.Context, tx pgx.Tx, k apiary.Keeping, o KeepingOver) error {
	if strings.TrimSpace(o.Note) == "" {
		return fault.Bad("/note", "Say in a few words how it became the workshop's.")
	}
	if k.ColonyID == nil {
		return r.Workshop.BoxOwnerTx(ctx, tx, *k.BoxID, nil, o.At, because(o.Note))
	}
	return r.Apiary.Give(ctx, apiary.Move{ColonyID: *k.ColonyID, ChangesOwner: true, At: o.At, Note: because(o.Note), InSpite: o.InSpite})
}

func (r *Room) goneBack(ctx context.Context, tx pgx.Tx, k apiary.Keeping, o KeepingOver) (string, error) {
	if o.Place == "" && o.SiteID == nil {
		o.Place = because("with " + k.Owner)
	}
	if k.ColonyID == nil {
		return "", r.Workshop.BoxPlaceTx(ctx, tx, *k.BoxID, o.SiteID, o.Place, o.At)
	}
	if k.Gone != "" {
		return "", fault.New(fault.Conflict, "Colony %s is gone: %s. Tell %s, and note that they know.", k.Number, k.Gone, k.Owner)
	}
	c, err := r.ColonyElsewhere(ctx, apiary.Move{ColonyID: *k.ColonyID, SiteID: o.SiteID, Place: o.Place, At: o.At, Note: because("Handed back to " + k.Owner), InSpite: o.InSpite})
	if err != nil {
		return "", err
	}
	if err := r.Apiary.KeeperSet(ctx, *k.ColonyID, &k.PartyID, o.At); err != nil || c.BoxID == nil {
		return "", err
	}
	b, err := r.Workshop.BoxGet(ctx, *c.BoxID)
	if err == nil && b.Ours {
		return fmt.Sprintf("It went in box %s, which is the workshop's by the book: sell it to them, or note when it is back.", b.Serial), nil
	}
	return "", err
}

// keepings: others' hives and boxes that are to be back by tomorrow, and such as were lost
// here and whose owner is to be told.
func (s *sheet) keepings(ctx context.Context) error {
	list, err := s.Apiary.KeepingList(ctx, false)
	if err != nil {
		return err
	}
	for _, k := range list {
		who := k.Owner
		if k.Phone != "" {
			who += " (" + k.Phone + ")"
		}
		href := s.path("/bees/keeping/", k.ID)
		switch {
		case k.Gone != "":
			s.add("keeping", access.Bees, fmt.Sprintf("keeping:%d:lost", k.ID), href, fmt.Sprintf("Tell %s that colony %s is gone: %s.", who, k.Number, k.Gone), time.Time{}, true)
		case k.BackOn != nil && !k.BackOn.After(s.day.AddDate(0, 0, deadlineAhead)):
			text := fmt.Sprintf("%s is to be back with %s on %s, %s.", k.Called(), who, show.Date(*k.BackOn), k.PurposeWords())
			s.add("keeping", access.Bees, fmt.Sprintf("keeping:%d:back:%s", k.ID, k.BackOn.Format(time.DateOnly)), href, text, *k.BackOn, k.BackOn.Before(s.day))
		}
	}
	return nil
}

// KeepingWords says in a line what was agreed of a keeping: what it is here for, the words,
// the price.
func KeepingWords(k apiary.Keeping, money show.Currency) string {
	parts := []string{k.PurposeWords()}
	if k.Agreed != "" {
		parts = append(parts, strings.TrimSuffix(oneLine(k.Agreed), "."))
	}
	if k.PriceMinor != nil {
		parts = append(parts, money.Money(*k.PriceMinor))
	}
	return strings.Join(parts, "; ")
}
