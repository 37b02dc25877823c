package answer

import (
	"context"
	"fmt"
	"strings"

	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// PaperKinds are the papers of a record that [Room.Paper] knows, and what number each
// goes by.
var PaperKinds = map[string]string{"quote": "quote number", "order": "order number", "invoice": "invoice number", "receipt": "payment number", "jobcard": "build number",
	"label": "build number or serial", "parts": "build number", "handover": "handover number", "run": "run number", "site": "order number", "register": "serial", "movements": "two days, such as 2026-07-01..2026-09-30"}

// Paper gives a paper of a record as PDF. Of what is issued (quotes, invoices, receipts,
// handover sheets) it gives the stored bytes; others are drawn from the record as it is
// now. A quote may be named with its revision, such as Q0012 rev 2. Errors: Invalid for a
// kind that does not exist, NotFound.
func (r *Room) Paper(ctx context.Context, kind, number string) ([]byte, error) {
	number = strings.TrimSpace(number)
	switch kind {
	case "quote":
		return r.quotePaper(ctx, number)
	case "invoice", "receipt", "handover", "register":
		p, err := r.House.PaperFind(ctx, kind, number)
		if fault.Is(err, fault.NotFound) {
			return nil, fault.New(fault.NotFound, "No %s %s was issued.", kind, number)
		}
		return p.Bytes, err
	case "order":
		o, err := r.Sales.OrderByNumber(ctx, number)
		if err != nil {
			return nil, err
		}
		return r.OrderConfirmation(ctx, o.ID)
	case "site":
		o, err := r.Sales.OrderByNumber(ctx, number)
		if err != nil {
			return nil, err
		}
		return r.SiteSheet(ctx, o.ID)
	case "jobcard":
		return r.byNumber(ctx, "build", number, unnamed(r.JobCard))
	case "parts":
		return r.byNumber(ctx, "build", number, unnamed(wholeSheet(r.PartLabels)))
	case "label":
		return r.labelPaper(ctx, number)
	case "movements":
		from, to, err := SpanRead(number)
		if err != nil {
			return nil, err
		}
		return r.MovementRecord(ctx, from, to)
	case "run":
		return r.byNumber(ctx, "run", number, r.RunSheet)
	case "sawing":
		return r.byNumber(ctx, "log", number, r.SawingCard)
	}
	return nil, fault.Bad("/paper", "There is no paper %q. Choose quote, order, invoice, receipt, jobcard, label, parts, handover, run, sawing, site, register or movements.", kind)
}

// byNumber draws a paper of the record of a table that bears number.
func (r *Room) byNumber(ctx context.Context, table, number string, draw func(context.Context, int64) ([]byte, error)) ([]byte, error) {
	id, err := postgres.Value[int64](ctx, r.db, `SELECT id FROM `+table+` WHERE number = $1`, number)
	if fault.Is(err, fault.NotFound) {
		return nil, fault.New(fault.NotFound, "There is no %s %s.", table, number)
	}
	if err != nil {
		return nil, err
	}
	return draw(ctx, id)
}

func (r *Room) quotePaper(ctx context.Context, number string) ([]byte, error) {
	base, rev, _ := strings.Cut(number, " rev ")
	if rev == "" {
		p, err := r.House.PaperFind(ctx, "quote", base)
		return p.Bytes, err
	}
	id, err := postgres.Value[int64](ctx, r.db, `SELECT document_id FROM quote WHERE number = $1 AND revision::text = $2 AND document_id IS NOT NULL`, base, rev)
	if err != nil {
		return nil, err
	}
	p, err := r.House.PaperGet(ctx, id)
	return p.Bytes, err
}

// QuotePaper gives the paper of a quote by its id: the stored bytes of an issued one, of a
// draft what it would look like.
func (r *Room) QuotePaper(ctx context.Context, id int64) ([]byte, error) {
	q, err := r.Sales.QuoteGet(ctx, id)
	if err != nil {
		return nil, err
	}
	if q.DocumentID != nil {
		p, err := r.House.PaperGet(ctx, *q.DocumentID)
		return p.Bytes, err
	}
	doc, err := r.quoteDoc(ctx, q)
	if err != nil {
		return nil, err
	}
	return paper.Quote(doc)
}

// nowHead is the head of a paper that is drawn now.
func (r *Room) nowHead(ctx context.Context, number string) (paper.Head, house.Settings, error) {
	set, today, err := r.settings(ctx)
	if err != nil {
		return paper.Head{}, set, err
	}
	tax, err := house.TaxIn(ctx, r.db, today)
	head := r.head(set, tax, number, r.db.Now())
	head.Words = r.wording(ctx, number)
	return head, set, err
}

// unnamed drops the file name that goes with a paper.
func unnamed(draw func(context.Context, int64) ([]byte, string, error)) func(context.Context, int64) ([]byte, error) {
	return func(ctx context.Context, id int64) ([]byte, error) {
		pdf, _, err := draw(ctx, id)
		return pdf, err
	}
}

// wholeSheet draws labels on a sheet of which none is gone.
func wholeSheet(draw func(context.Context, int64, int) ([]byte, string, error)) func(context.Context, int64) ([]byte, string, error) {
	return func(ctx context.Context, id int64) ([]byte, string, error) { return draw(ctx, id, 0) }
}

// labelPaper draws the box labels of a build, or of one box by its serial.
func (r *Room) labelPaper(ctx context.Context, number string) ([]byte, error) {
	if strings.Trim(number, "0123456789") != "" {
		return r.byNumber(ctx, "build", number, unnamed(wholeSheet(r.BuildLabels)))
	}
	b, err := r.Workshop.BoxBySerial(ctx, number)
	if err != nil {
		return nil, err
	}
	pdf, _, err := r.BoxLabel(ctx, b.ID, 0)
	return pdf, err
}

// PartLabels draws the labels for the heaps of parts of a build.
func (r *Room) PartLabels(ctx context.Context, build int64, used int) ([]byte, string, error) {
	b, err := r.Workshop.BuildGet(ctx, build)
	if err != nil {
		return nil, "", err
	}
	head, set, err := r.nowHead(ctx, b.Number)
	if err != nil {
		return nil, "", err
	}
	sheet, err := labelSheet(set, used)
	if err != nil {
		return nil, "", err
	}
	doc := paper.PartLabelsDoc{Head: head, Sheet: sheet}
	for _, p := range b.Parts {
		doc.Labels = append(doc.Labels, paper.PartLabel{Part: p.Name, Size: fmt.Sprintf("%s × %s × %s mm", p.LengthMM, p.WidthMM, p.ThicknessMM),
			Count: show.Count(int64(p.Count), "piece", "pieces"), Build: b.Number, Model: fmt.Sprintf("%s, revision %d", b.ModelName, b.Revision), Note: p.Note()})
	}
	pdf, err := paper.PartLabels(doc)
	return pdf, "part-labels-" + b.Number, err
}

// SiteSheet draws the sheet that goes to the buyer ahead of a delivery.
func (r *Room) SiteSheet(ctx context.Context, order int64) ([]byte, error) {
	o, err := r.Sales.OrderGet(ctx, order)
	if err != nil {
		return nil, err
	}
	head, set, err := r.nowHead(ctx, o.Number)
	if err != nil {
		return nil, err
	}
	d := paper.SiteDoc{Head: head, Order: o.Number, PayWays: payWays(set)}
	if d.Buyer, err = r.paperParty(ctx, o.PartyID); err != nil {
		return nil, err
	}
	if o.NextOn != nil {
		d.Coming = paper.Day(*o.NextOn)
	}
	if b := o.BalanceMinor(); b > 0 {
		d.ToPay = "Still to pay: " + currency(set).Money(b)
	}
	if err := r.siteLoad(ctx, &d, o); err != nil {
		return nil, err
	}
	var at *sales.Site
	wall := ""
	if o.SiteID != nil {
		s, err := r.Sales.SiteGet(ctx, *o.SiteID)
		if err != nil {
			return nil, err
		}
		at, wall = &s, s.Wall
		d.Site = placeOf(s)
		d.Facing = facing(s)
		d.Sun = sunUnderEave(ctx, s, set.Today(r.db.Now()))
	}
	if len(d.Sun) == 0 {
		d.Sun = []string{sunUnknown + ". Tell us, or we look on the day."}
	}
	if err := r.siteFixings(ctx, &d, o, wall); err != nil {
		return nil, err
	}
	if err := r.siteDay(ctx, &d, o, at, set); err != nil {
		return nil, err
	}
	return paper.Site(d)
}

// siteLoad says what is brought, and what it weighs when full.
func (r *Room) siteLoad(ctx context.Context, d *paper.SiteDoc, o sales.Order) error {
	for _, l := range o.Lines {
		if openQuantity(l) == 0 || l.Kind == "service" {
			continue
		}
		d.Brings = append(d.Brings, fmt.Sprintf("%d × %s", openQuantity(l), l.Description))
		d.HasBees = d.HasBees || l.WithColony || l.Kind == "colony"
		if l.Kind != "box" || l.ModelRevisionID == nil || d.LoadKG != "" {
			continue
		}
		rev, err := r.Workshop.RevisionGet(ctx, *l.ModelRevisionID)
		if err != nil {
			return err
		}
		options, err := workshop.OptionsByID(ctx, r.db, l.Options())
		if err != nil {
			return err
		}
		model, err := workshop.Compose(rev, options)
		if err != nil {
			return err
		}
		out, err := r.measure(ctx, model, l.TimberSpeciesID)
		if err != nil {
			return err
		}
		if out.FullMassKg > 0 {
			d.LoadKG = fmt.Sprintf("about %.0f kg when full", out.FullMassKg+0.5)
		}
		d.MountMM = fmt.Sprintf("%s mm wide, %s mm deep, %s mm high", round0(out.OutsideWidthMM), round0(out.OutsideLengthMM), round0(out.OutsideHeightMM))
	}
	return nil
}

// facing says which wall it is and how it faces.
func facing(s sales.Site) string {
	words := filled(s.Wall)
	if s.WallFacesDeg != nil {
		names := []string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}
		words = append(words, "faces "+names[int(*s.WallFacesDeg/45+0.5)%8])
	}
	return strings.Join(words, ", ")
}

// RunSheet draws the sheet of a run.
func (r *Room) RunSheet(ctx context.Context, id int64) ([]byte, error) {
	n, err := r.Handover.RunGet(ctx, id)
	if err != nil {
		return nil, err
	}
	head, set, err := r.nowHead(ctx, n.Number)
	if err != nil {
		return nil, err
	}
	d := paper.RunDoc{Head: head, On: paper.Day(n.RunOn), Driver: n.Driver, From: strings.Join(filled(set.Address, set.Town), ", "), Note: n.Notes, Returns: true}
	if n.KM != nil {
		d.KM = fmt.Sprintf("about %s km", round0(*n.KM))
	}
	if set.Latitude != nil && set.Longitude != nil {
		d.Dusk = duskAt(ctx, sales.Site{Latitude: set.Latitude, Longitude: set.Longitude, TimeZone: set.TimeZone}, n.ClosingDay())
	}
	care, err := r.RunCare(ctx, n)
	if err != nil {
		return nil, err
	}
	if n.Kind != "visits" || care.MassKG > 0 {
		d.Mass = care.MassWords()
	}
	d.Mind = append(d.Mind, care.Lines...)
	for _, c := range care.Stops {
		for _, w := range c.Warnings {
			d.Mind = append(d.Mind, fmt.Sprintf("Stop %d: %s", c.Position, w))
		}
	}
	if care.LeaveBy != nil {
		d.Leave = "by " + care.LeaveBy.Format("15:04 on Mon 2 January")
	}
	for i, s := range n.Stops {
		stop := paper.Stop{Name: s.PartyName, Phone: s.PartyPhone, Address: filled(s.Address), Colony: s.ColonyID != nil}
		if s.UnitID == nil {
			stop.Load = filled(s.What)
		}
		if s.UnitID != nil {
			o, err := r.Sales.OrderOfUnit(ctx, *s.UnitID)
			if err != nil {
				return nil, err
			}
			line, u := unitIn(o, *s.UnitID)
			stop.Load = append(stop.Load, unitLoad(line, u))
			stop.Colony = stop.Colony || u.WantsColony
			if b := o.BalanceMinor(); b > 0 {
				stop.Pay = "balance to take: " + currency(set).Money(b)
			}
		}
		if stop.Name == "" {
			stop.Name = s.What
		}
		layStop(&stop, s, care.Stops[i])
		d.Colony = d.Colony || stop.Colony
		d.Trees = d.Trees || s.HostTreeID != nil
		if s.HostTreeID == nil && !s.Closes() {
			d.Load = append(d.Load, stop.Load...)
		}
		d.Stops = append(d.Stops, stop)
	}
	return paper.Run(d)
}

// layStop writes what a stop asks for: when entrances are closed and opened, and what to
// look at at a host tree.
func layStop(stop *paper.Stop, s handover.Stop, c StopCare) {
	switch {
	case c.Closing:
		stop.Name, stop.Load, stop.Closing = s.What, nil, true
		if c.CloseAt != nil {
			stop.Note = c.CloseAt.Format("After 15:04 on Mon 2 January, when all bees are home")
		}
	case s.HostTreeID != nil:
		stop.Name, stop.Load = s.TreeName, nil
		if c.DueOn != nil {
			stop.Look = append(stop.Look, "Due "+show.Date(*c.DueOn))
		}
		stop.Look = append(stop.Look, c.LookFor)
	case c.CloseAt != nil && s.ClosedAt != nil:
		stop.Note = c.OpenBy.Format("Open by 15:04 on Mon 2 January")
	case c.CloseAt != nil:
		stop.Note = c.CloseAt.Format("Close after 15:04 on Mon 2 January") + c.OpenBy.Format(", open by 15:04 on Mon 2 January")
	}
}

func unitLoad(l sales.Line, u sales.Unit) string {
	text := l.Description
	if u.BoxSerial != nil {
		text = "Box " + *u.BoxSerial + ": " + text
	}
	if u.ColonyNumber != nil {
		text += ", colony " + *u.ColonyNumber
	}
	return text
}
