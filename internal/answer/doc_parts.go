package answer

import (
	"context"
	"fmt"
	"strings"
	"time"

	"kerfbook/internal/calc/costing"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// head is the head of a paper issued at an instant.
func (r *Room) head(set house.Settings, tax house.TaxState, number string, at time.Time) paper.Head {
	w := paper.Workshop{Name: set.Name, Owner: set.MakerName, Phone: set.Phone, Email: set.Email, BusinessNumber: businessNumber(set.BusinessNumber), TaxRegistered: tax.Registered, TaxName: tax.Name}
	for _, line := range []string{set.Address, strings.TrimSpace(strings.Join(filled(set.Town, set.Region, set.Postcode), " "))} {
		if line != "" {
			w.Address = append(w.Address, line)
		}
	}
	return paper.Head{Workshop: w, Number: number, Issued: house.DateIn(at, set.Location()), Words: r.Words}
}

func filled(list ...string) []string {
	var out []string
	for _, s := range list {
		if strings.TrimSpace(s) != "" {
			out = append(out, strings.TrimSpace(s))
		}
	}
	return out
}

// businessNumber writes an Australian number in its groups with its word; another one as
// typed.
func businessNumber(typed string) string {
	typed = strings.TrimSpace(typed)
	if typed == "" {
		return ""
	}
	out, err := costing.BusinessNumber(context.Background(), costing.BusinessNumberIn{ABN: typed})
	if err == nil && out.Valid {
		return "ABN " + out.Written
	}
	return typed
}

func (r *Room) paperParty(ctx context.Context, id int64) (paper.Party, error) {
	p, err := r.Sales.PartyGet(ctx, id)
	if err != nil {
		return paper.Party{}, err
	}
	out := paper.Party{Name: p.Called(), Phone: p.Phone(), Email: p.Email(), BusinessNumber: businessNumber(p.BusinessNumber)}
	if p.Town != "" {
		out.Address = []string{p.Town}
	}
	if p.Name == "" {
		out.Phone = ""
	}
	if p.Kind == "organisation" {
		for _, c := range p.Contacts {
			if c.Person != "" {
				out.Contact = c.Person
				break
			}
		}
	}
	return out, nil
}

func (r *Room) paperSite(ctx context.Context, id *int64) (paper.Place, error) {
	if id == nil {
		return paper.Place{}, nil
	}
	s, err := r.Sales.SiteGet(ctx, *id)
	return placeOf(s), err
}

func placeOf(s sales.Site) paper.Place {
	p := paper.Place{Name: s.Name}
	for _, line := range []string{s.Address, strings.Join(filled(s.Town, s.Region, s.Postcode), " ")} {
		if line != "" {
			p.Address = append(p.Address, line)
		}
	}
	return p
}

// sentences splits a setting of several lines; an empty one gives an empty list, so that
// the paper leaves its heading out.
func sentences(text string) []string {
	return append([]string{}, filled(strings.Split(text, "\n")...)...)
}

func payWays(set house.Settings) []paper.PayWay {
	var list []paper.PayWay
	for _, line := range sentences(set.WaysToPay) {
		name, detail, ok := strings.Cut(line, ":")
		if !ok || len(name) > 40 {
			name, detail = "", line
		}
		list = append(list, paper.PayWay{Name: strings.TrimSpace(name), Detail: strings.TrimSpace(detail)})
	}
	return list
}

func eachHead(tax house.TaxState) string {
	if tax.Registered {
		return "Each, without " + tax.Name
	}
	return "Each"
}

func paperLines(money show.Currency, lines []sales.Line) []paper.Line {
	list := make([]paper.Line, len(lines))
	for i, l := range lines {
		list[i] = paper.Line{What: l.Description, Quantity: l.Quantity.String(), Each: money.Money(l.UnitPriceMinor), Amount: money.Money(l.PriceMinor)}
		if l.TaxMinor != 0 {
			list[i].Tax = money.Money(l.TaxMinor)
		}
	}
	return list
}

func totals(money show.Currency, tax house.TaxState, net, taxMinor, price int64) []paper.Total {
	if !tax.Registered && taxMinor == 0 {
		return []paper.Total{{Label: "Total", Amount: money.Money(price), Strong: true}}
	}
	return []paper.Total{{Label: "Without " + tax.Name, Amount: money.Money(net)}, {Label: tax.Name, Amount: money.Money(taxMinor)},
		{Label: "Total including " + tax.Name, Amount: money.Money(price), Strong: true}}
}

// promisedWords says what is promised for when, line by line.
func promisedWords(lines []sales.Line, atAcceptance bool) []paper.Promise {
	var list []paper.Promise
	add := func(what string, on *time.Time) {
		p := paper.Promise{What: what}
		switch {
		case atAcceptance:
			p.When = "to be confirmed at acceptance"
		case on != nil:
			p.When = paper.Day(*on)
		default:
			p.When = "to be agreed"
		}
		list = append(list, p)
	}
	for _, l := range lines {
		n := l.Quantity.IntPart()
		if l.Kind == "box" {
			add(show.Count(n, "Box", "boxes"), l.BoxOn)
		}
		if l.WithColony || l.Kind == "colony" {
			add(show.Count(n, "Colony", "colonies"), l.ColonyOn)
		}
	}
	return list
}

// drawingOf gives the model revisions of the lines, and a drawing of the first box.
func (r *Room) drawingOf(ctx context.Context, lines []sales.Line, draw bool) ([]workshop.Revision, *paper.BoxDrawing, error) {
	var revs []workshop.Revision
	var drawing *paper.BoxDrawing
	for _, l := range lines {
		if l.ModelRevisionID == nil {
			continue
		}
		rev, err := r.Workshop.RevisionGet(ctx, *l.ModelRevisionID)
		if err != nil {
			return nil, nil, err
		}
		revs = append(revs, rev)
		if !draw || drawing != nil || l.Kind != "box" {
			continue
		}
		options, err := workshop.OptionsByID(ctx, r.db, l.Options())
		if err != nil {
			return nil, nil, err
		}
		model, err := workshop.Compose(rev, options)
		if err != nil {
			return nil, nil, err
		}
		d := boxDrawing(model)
		drawing = &d
	}
	return revs, drawing, nil
}

// entranceMM is the hole that a drawing shows; models hold none (common practice, no
// source).
const entranceMM = 13

// boxDrawing makes the drawing of a model: outside sizes, sections from the ground up.
func boxDrawing(m hive.Model) paper.BoxDrawing {
	d := paper.BoxDrawing{LengthMM: m.LengthMM, WidthMM: m.WidthMM, WallMM: m.WallMM, EntranceMM: entranceMM}
	if m.HeldFrom == "inside" {
		d.LengthMM, d.WidthMM = d.LengthMM+2*m.WallMM, d.WidthMM+2*m.WallMM
	}
	found := false
	for _, s := range m.Sections {
		for i := range s.Count {
			name := upper(s.Kind)
			if s.Count > 1 {
				name = fmt.Sprintf("%s %d", name, i+1)
			}
			if s.Kind == "brood" && !found {
				d.EntranceIn, found = len(d.Sections), true
			}
			d.Sections = append(d.Sections, paper.DrawnSection{Name: name, HeightMM: s.HeightMM})
		}
	}
	return d
}
