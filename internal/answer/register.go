package answer

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/apiary"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// SoldOn is a box that went from one owner to another, as the workshop was told.
type SoldOn struct {
	BoxID        int64
	PartyID      *int64    // the new owner; nil: Name is put into the book
	Name, Phone  string    // of a new owner
	BackToUs     bool      // it came back to the workshop
	At           time.Time // zero: now
	Note         string    // how, and who told
	WithBees     bool      // the colony in it goes along, where it was the same owner's
	SiteID       *int64
	Place        string // where it stands now; empty: not told
	PermitNumber string // of the bees' move, where one is needed
}

// SellOn notes that a box was sold on, given or bought back. It says what becomes of the
// guarantee and of the questions still to be asked. Errors: as
// [workshop.Room.BoxOwnerNote]; Invalid without a new owner.
func (r *Room) SellOn(ctx context.Context, n SoldOn) (b workshop.Box, said []string, err error) {
	if n.At.IsZero() {
		n.At = r.db.Now()
	}
	err = r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		said = nil
		was, err := r.Workshop.BoxGet(ctx, n.BoxID)
		if err != nil {
			return err
		}
		party, err := r.newOwner(ctx, n)
		if err != nil {
			return err
		}
		if b, err = r.Workshop.BoxOwnerNote(ctx, workshop.OwnerNote{BoxID: n.BoxID, PartyID: party, At: n.At, Note: strings.TrimSpace(n.Note)}); err != nil {
			return err
		}
		present := len(b.Owners) > 0 && b.Owners[0].FromAt.Equal(n.At)
		if present && (n.Place != "" || n.SiteID != nil) {
			if err := r.Workshop.BoxPlaceTx(ctx, tx, n.BoxID, n.SiteID, n.Place, n.At); err != nil {
				return err
			}
		}
		if present {
			words, err := r.beesGoAlong(ctx, was, party, n)
			if err != nil {
				return err
			}
			said = append(said, words...)
		}
		words, err := r.afterSale(ctx, n.BoxID)
		if err != nil {
			return err
		}
		said = append(said, words...)
		b, err = r.Workshop.BoxGet(ctx, n.BoxID)
		return err
	})
	return b, said, err
}

// newOwner gives the party a box goes to; nil for the workshop.
func (r *Room) newOwner(ctx context.Context, n SoldOn) (*int64, error) {
	n.Name, n.Phone = strings.TrimSpace(n.Name), strings.TrimSpace(n.Phone)
	switch {
	case n.BackToUs:
		return nil, nil
	case n.PartyID != nil:
		_, err := r.Sales.PartyGet(ctx, *n.PartyID)
		return n.PartyID, err
	case n.Name == "":
		return nil, fault.Bad("/name", "Say whose it is now.")
	}
	p := sales.Party{Name: n.Name}
	if n.Phone != "" {
		p.Contacts = []sales.Contact{{Kind: "phone", Value: n.Phone}}
	}
	p, err := r.Sales.PartyPut(ctx, p)
	return &p.ID, err
}

// beesGoAlong gives the colony in a box to its new owner, and says what stays.
func (r *Room) beesGoAlong(ctx context.Context, was workshop.Box, party *int64, n SoldOn) ([]string, error) {
	if was.ColonyID == nil {
		return nil, nil
	}
	c, err := r.Apiary.ColonyGet(ctx, *was.ColonyID)
	if err != nil {
		return nil, err
	}
	same := c.OwnerID == nil && was.OwnerPartyID == nil || c.OwnerID != nil && was.OwnerPartyID != nil && *c.OwnerID == *was.OwnerPartyID
	m := apiary.Move{ColonyID: c.ID, SiteID: n.SiteID, Place: n.Place, At: n.At, PermitNumber: n.PermitNumber, Note: "Box " + was.Serial + " sold on"}
	switch {
	case n.WithBees && same:
		m.ChangesOwner, m.OwnerID = true, party
		return []string{"Colony " + c.Number + " goes along."}, r.Apiary.Give(ctx, m)
	case n.WithBees:
		return nil, fault.Bad("/with_bees", "Colony %s in it is not the former owner's. Note its owner on the colony's page.", c.Number)
	case n.SiteID != nil || n.Place != "": // the box moved, and so did they
		return []string{"Colony " + c.Number + " lives in it and keeps its owner."}, r.Apiary.Give(ctx, m)
	}
	return []string{"Colony " + c.Number + " lives in it and keeps its owner."}, nil
}

// afterSale says what of the workshop's own sale of a box is still to come, and with whom.
func (r *Room) afterSale(ctx context.Context, box int64) ([]string, error) {
	rows, err := postgres.List[struct {
		Number    string     `db:"number"`
		Buyer     string     `db:"buyer"`
		On        time.Time  `db:"happened_at"`
		Questions int        `db:"questions"`
		NextOn    *time.Time `db:"next_on"`
		Claims    int        `db:"claims"`
	}](ctx, r.db, `SELECT h.number, p.name AS buyer, h.happened_at, count(f.id)::int AS questions, min(f.due_on) AS next_on,
	(SELECT count(*) FROM guarantee_claim g WHERE g.handover_id = h.id AND g.decided_at IS NULL)::int AS claims
FROM handover h JOIN order_unit u ON u.id = h.order_unit_id JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
LEFT JOIN follow_up f ON f.handover_id = h.id AND f.answered_at IS NULL
WHERE h.box_id = $1 AND h.undone_at IS NULL GROUP BY h.id, p.id ORDER BY h.happened_at DESC, h.id DESC LIMIT 1`, box)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return nil, err
	}
	h := rows[0]
	said := []string{fmt.Sprintf("The guarantee counts on from handover %s to %s on %s as before; the sale stays theirs.", h.Number, h.Buyer, show.Date(house.DateIn(h.On, set.Location())))}
	if h.Questions > 0 {
		said = append(said, fmt.Sprintf("%s still to be asked of %s, the next on %s.", show.Count(int64(h.Questions), "question is", "questions are"), h.Buyer, show.Date(*h.NextOn)))
	}
	if h.Claims > 0 {
		said = append(said, "A claim on the guarantee is open.")
	}
	return said, nil
}

// stolenWith is why the bees in a stolen box are held back.
func stolenWith(serial string) string { return "stolen with box " + serial }

// BoxStolen notes that a box was reported stolen; bees of the workshop's own in it are held
// back with it. Errors: as [workshop.Room.BoxStolen].
func (r *Room) BoxStolen(ctx context.Context, n workshop.StolenReport) (workshop.Box, error) {
	if n.StolenAt.IsZero() {
		n.StolenAt = r.db.Now()
	}
	n.ReportedBy, n.PoliceReference = strings.TrimSpace(n.ReportedBy), strings.TrimSpace(n.PoliceReference)
	var out workshop.Box
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		b, err := r.Workshop.BoxStolen(ctx, n)
		if err != nil || b.ColonyID == nil {
			out = b
			return err
		}
		c, err := r.Apiary.ColonyGet(ctx, *b.ColonyID)
		if err == nil && c.HeldBackBecause == "" {
			err = r.Apiary.HoldBack(ctx, c.ID, stolenWith(b.Serial))
		}
		out = b
		return err
	})
	return out, err
}

// BoxRecovered ends the report of a stolen box, and releases the bees that were held back
// with it. Errors: as [workshop.Room.BoxRecovered].
func (r *Room) BoxRecovered(ctx context.Context, box int64, at time.Time, how string) (workshop.Box, error) {
	if at.IsZero() {
		at = r.db.Now()
	}
	var out workshop.Box
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		b, err := r.Workshop.BoxRecovered(ctx, box, at, strings.TrimSpace(how))
		if err != nil || b.ColonyID == nil {
			out = b
			return err
		}
		c, err := r.Apiary.ColonyGet(ctx, *b.ColonyID)
		if err == nil && c.HeldBackBecause == stolenWith(b.Serial) {
			err = r.Apiary.Release(ctx, c.ID)
		}
		out = b
		return err
	})
	return out, err
}

// RegisterPaper issues an extract of the register for a box: its number is the serial and
// the issue, and its bytes are kept. Errors: NotFound.
func (r *Room) RegisterPaper(ctx context.Context, box int64) (house.Paper, error) {
	var out house.Paper
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := claims.Lock(ctx, tx, []claims.Thing{claims.Box(box)}); err != nil {
			return err
		}
		b, err := r.Workshop.BoxGet(ctx, box)
		if err != nil {
			return err
		}
		before, err := r.House.PapersOf(ctx, "register", b.Serial)
		if err != nil {
			return err
		}
		issue := 1
		if len(before) > 0 {
			issue += before[0].Revision
		}
		d, err := r.registerDoc(ctx, b, fmt.Sprintf("%s-%d", b.Serial, issue))
		if err != nil {
			return err
		}
		pdf, err := paper.Register(d)
		if err != nil {
			return fmt.Errorf("draw register paper of box %s: %w", b.Serial, err)
		}
		id, err := house.PaperKeep(ctx, tx, "register", b.Serial, issue, r.db.Now(), pdf)
		if err != nil {
			return err
		}
		out, err = r.House.PaperGet(ctx, id)
		return err
	})
	return out, err
}

func (r *Room) registerDoc(ctx context.Context, b workshop.Box, number string) (paper.RegisterDoc, error) {
	head, set, err := r.nowHead(ctx, number)
	if err != nil {
		return paper.RegisterDoc{}, err
	}
	on := func(t time.Time) string { return paper.Day(house.DateIn(t, set.Location())) }
	d := paper.RegisterDoc{Head: head, Serial: b.Serial, What: b.What(), Maker: b.Maker, Made: on(b.FinishedAt), Punched: "punched as " + b.Serial + "; the last digit checks the others"}
	if err := r.builtFacts(ctx, &d, b); err != nil {
		return d, err
	}
	for _, z := range slices.Backward(b.Owners) {
		o := paper.OwnedBy{Name: z.PartyName, From: on(z.FromAt), How: z.Note}
		if o.Name == "" {
			o.Name = set.Name
		}
		if z.ToAt != nil {
			o.To = on(*z.ToAt)
		} else {
			d.Owner, d.Since = o.Name, o.From
		}
		d.Owners = append(d.Owners, o)
	}
	var sections []string
	for _, z := range b.Sections {
		if z.ToAt == nil {
			sections = append(sections, plainName(z.Section))
		}
	}
	d.Sections = strings.Join(sections, ", ")
	reports, err := r.Workshop.ReportsOf(ctx, b.ID)
	if err != nil {
		return d, err
	}
	for _, x := range reports {
		p := paper.Report{StolenOn: on(x.StolenAt), By: x.ReportedBy, Police: x.PoliceReference, How: x.RecoveredHow}
		if x.RecoveredAt != nil {
			p.Found = on(*x.RecoveredAt)
		}
		d.Stolen = append(d.Stolen, p)
	}
	if b.ColonyID != nil {
		c, err := r.Apiary.ColonyGet(ctx, *b.ColonyID)
		if err != nil {
			return d, err
		}
		d.Colony = strings.Join(filled(c.Number, text(c.SpeciesName)), ", ")
		if c.HousedAt != nil {
			d.Colony += ", in it since " + on(*c.HousedAt)
		}
	}
	return d, r.lastPhoto(ctx, &d, b.ID, on)
}

// builtFacts says what is known of a box of our own make: its finish, and the part that
// bears the serial.
func (r *Room) builtFacts(ctx context.Context, d *paper.RegisterDoc, b workshop.Box) error {
	if b.RevisionID == nil {
		return nil
	}
	d.What = fmt.Sprintf("%s, revision %d", b.What(), b.Revision)
	rev, options, err := r.builtAs(ctx, b)
	if err != nil {
		return err
	}
	for _, o := range options {
		if o.Kind == "finish" {
			d.Finish = strings.ToLower(o.Name)
		}
	}
	if rev.SerialSection != "" {
		d.Punched = fmt.Sprintf("punched as %s into the section %s, which keeps the number when others are changed; the last digit checks the others", b.Serial, plainName(rev.SerialSection))
	}
	return nil
}

// lastPhoto is the newest picture that is kept with a box.
func (r *Room) lastPhoto(ctx context.Context, d *paper.RegisterDoc, box int64, on func(time.Time) string) error {
	list, err := r.House.PhotoList(ctx, "box", box)
	if err != nil {
		return err
	}
	for _, p := range slices.Backward(list) {
		if p.MediaType != "image/jpeg" {
			continue
		}
		whole, err := r.House.PhotoGet(ctx, p.ID)
		if err != nil {
			return err
		}
		d.Photo, d.PhotoSay = whole.Bytes, "Photo kept on "+on(p.RecordedAt)
		return nil
	}
	return nil
}
