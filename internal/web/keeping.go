package web

import (
	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

func (s *Server) registerKeepingPages(r *routes) {
	r.get(access.Bees, "/bees/keeping", s.handleKeepings)
	r.get(access.Bees, "/bees/keeping/new", s.handleTakeIn)
	r.post(access.Bees, "/bees/keeping/new", s.handleTakeInPost)
	r.get(access.Bees, "/bees/keeping/:id", s.handleKeeping)
	r.post(access.Bees, "/bees/keeping/:id/:deed", s.handleKeepingPost)
}

var purposes = []Choice{{Value: "split", Text: "To be split"}, {Value: "repair", Text: "To be repaired"}, {Value: "minding", Text: "To be minded"}, {Value: "other", Text: "Something else"}}

// handleKeepings lists others' hives and boxes, what is due first.
func (s *Server) handleKeepings(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	here, err := s.Apiary.KeepingList(ctx, false)
	if err != nil {
		return err
	}
	gone, err := s.Apiary.KeepingList(ctx, true)
	if err != nil {
		return err
	}
	v := sheetView{Lead: "They are never promised or sold.", Links: []sheetLink{{"Something came in", "/bees/keeping/new"}},
		Tables: []sheetTable{{Heads: heads("What", "Whose", "Agreed", "Since", "Back on"), Empty: "Nothing of anybody else is here."}, {Title: "Was here", Fold: true, Heads: heads("What", "Whose", "Until", "How"), Empty: "Nothing yet."}}}
	for _, k := range here {
		back := cellOf(show.DateOr(k.BackOn, "no day agreed"))
		switch {
		case k.Gone != "":
			back = sheetCell{Late: "Gone:", Text: k.Gone + ". Tell them."}
		case k.BackOn != nil && k.BackOn.Before(today):
			back.Late = "Late:"
		case k.BackOn != nil && k.BackOn.Equal(today):
			back.Late = "Today:"
		}
		v.Tables[0].add(linkCell(k.Called(), hrefOf("keeping", k.ID)), linkCell(k.Owner, hrefOf("party", k.PartyID)), cellOf(answer.KeepingWords(k, currency(set))), cellOf(show.Date(house.DateIn(k.CameAt, set.Location()))), back)
	}
	for _, k := range gone {
		v.Tables[1].add(linkCell(k.Called(), hrefOf("keeping", k.ID)), cellOf(k.Owner), cellOf(show.Date(house.DateIn(*k.EndedAt, set.Location()))), cellOf(overWords(k)))
	}
	return s.showSheet(c, "Others' hives here", v)
}

// overWords says how a keeping ended.
func overWords(k apiary.Keeping) string {
	words := map[string]string{"back": "handed back", "kept": "kept as agreed", "lost": "lost, the owner knows"}[k.EndedHow]
	if k.EndedNote != "" {
		words += ": " + k.EndedNote
	}
	return words
}

func (s *Server) handleTakeIn(c echo.Context) error {
	f := formOf(c)
	today, err := s.today(c)
	if err != nil {
		return err
	}
	f.Fill("happened_at", show.ISODate(today))
	kinds, err := s.speciesChoices(c)
	if err != nil {
		return err
	}
	kinds = append([]Choice{{Text: "No bees, or they are in the book"}}, kinds...)
	v := sheetView{Lead: "A hive or a box of somebody else: to be split, repaired or minded.", Cautions: []string{"Look it over before it stands with yours: mites, beetles and disease come in with strangers. Keep it apart until you are sure; your state's biosecurity rules come first.", "Write down what was agreed while both of you stand there."},
		Forms: []sheetForm{{Action: "/bees/keeping/new", Form: f, Button: "Take it in", Parts: one(
			in(f.Field("number", "Owner's phone number", "type=tel", "mode=tel")), in(f.Field("name", "Owner's name", "hint=Somebody the book knows by the number is found.")),
			in(f.Field("box_id", "Serial of the box, if it bears one of ours", "mode=numeric", "hint=Bees that live in it by the book come along.")), in(f.Field("description", "Or what it is, in words", "hint=Such as blue log hive, or a box with a split wall.")),
			choose(f.Choose("species_id", "Kind of bee in it", kinds)), tick(f.Field("sure", "I am sure of the kind")), choose(f.Choose("purpose", "What it is here for", purposes)), area(f.Field("agreed", "What was agreed")),
			in(f.Field("price_minor", "Price agreed, with tax", "mode=decimal")), in(f.Field("back_on", "To be back on", "type=date")), in(f.Field("place", "Where it stands here")), in(f.Field("happened_at", "It came on", "type=date")))}}}
	return s.showSheet(c, "Something came in", v)
}

// terms reads what was agreed.
func (s *Server) terms(f *Form, set house.Settings) apiary.KeepingTerms {
	t := apiary.KeepingTerms{Purpose: f.Text("purpose"), Agreed: f.Text("agreed"), BackOn: f.Date("back_on")}
	if f.Text("price_minor") != "" {
		minor := f.Money("price_minor", currency(set))
		t.PriceMinor = &minor
	}
	return t
}

func (s *Server) handleTakeInPost(c echo.Context) error {
	f := formOf(c)
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	t := answer.TakenIn{KeepingTerms: s.terms(f, set), SpeciesID: f.ID("species_id"), SpeciesSure: f.Ticked("sure"), Description: f.Text("description"), Place: f.Text("place")}
	box, err := s.boxOf(c, f, "box_id")
	if err != nil {
		return err
	}
	if box != 0 {
		t.BoxID = &box
	}
	if t.CameAt, _, err = s.when(c, f); err != nil {
		return err
	}
	if f.Text("name") == "" && f.Text("number") == "" {
		f.Wrong("name", "Say whose it is: a name or a number.")
	}
	if box == 0 && t.Description == "" && t.SpeciesID == 0 {
		f.Wrong("description", "Say what came: its serial, or in words.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleTakeIn)
	}
	if t.PartyID, err = s.ownerOf(c, f); err != nil {
		return again(err, s.handleTakeIn)
	}
	k, err := s.Answer.TakeIn(c.Request().Context(), t)
	if err != nil {
		return again(err, s.handleTakeIn)
	}
	return goTo(c, hrefOf("keeping", k.ID), k.Called()+" is in our keeping.")
}

func (s *Server) handleKeeping(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	k, err := s.Apiary.KeepingGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	v := sheetView{Lead: "In our keeping, " + k.PurposeWords() + ". It is never promised or sold.", History: "/history/keeping/" + idText(id), Links: []sheetLink{{"All that is here", "/bees/keeping"}}}
	switch {
	case k.EndedAt != nil:
		v.Lead = "Not here any more: " + overWords(k) + "."
	case k.Gone != "":
		v.Late, v.Lead = "Gone:", k.Gone+". Tell the owner."
	case k.BackOn != nil && k.BackOn.Before(today):
		v.Late, v.Lead = "Late:", "it was to be back on "+show.Date(*k.BackOn)+"."
	}
	price := ""
	if k.PriceMinor != nil {
		price = currency(set).Money(*k.PriceMinor)
	}
	what := sheetFact{Name: "What", Text: k.Called()}
	if k.ColonyID != nil {
		what.Href = hrefOf("colony", *k.ColonyID)
	} else {
		what.Href = hrefOf("box", *k.BoxID)
	}
	v.Facts = told(what, sheetFact{Name: "Whose", Text: k.Owner, Href: hrefOf("party", k.PartyID)}, sheetFact{Name: "Ring", Text: k.Phone}, sheetFact{Name: "Since", Text: show.Date(house.DateIn(k.CameAt, set.Location()))}, sheetFact{Name: "Agreed", Text: k.Agreed},
		sheetFact{Name: "Price agreed, with tax", Text: price}, sheetFact{Name: "To be back on", Text: show.DateOr(k.BackOn, "no day was agreed")}, sheetFact{Name: "Where", Text: k.Place})
	if k.EndedAt == nil {
		v.Forms, v.Side = s.keepingForms(c, k, set)
	}
	return s.showSheet(c, k.Called(), v)
}

func (s *Server) keepingForms(c echo.Context, k apiary.Keeping, set house.Settings) (main, side []sheetForm) {
	at := hrefOf("keeping", k.ID)
	today := show.ISODate(set.Today(s.DB.Now()))
	back, kept, change := formOf(c, "back"), formOf(c, "kept"), formOf(c, "change")
	back.Fill("happened_at", today)
	change.FillVersion(k.Version)
	change.Fill("purpose", k.Purpose)
	change.Fill("agreed", k.Agreed)
	if k.PriceMinor != nil {
		change.Fill("price_minor", currency(set).Plain(*k.PriceMinor))
	}
	if k.BackOn != nil {
		change.Fill("back_on", show.ISODate(*k.BackOn))
	}
	if k.Gone != "" {
		return []sheetForm{{Title: "They know", Action: at + "/lost", Form: formOf(c, "lost"), Button: "They were told", Parts: one(in(formOf(c, "lost").Field("note", "What they said")))}}, nil
	}
	fields := []kindField{in(back.Field("note", "Who took it")), in(back.Field("place", "Where it stands now", "hint=Left empty: with its owner. Bees that move stand in the movement record.")), in(back.Field("happened_at", "On", "type=date"))}
	if back.Problem != "" {
		fields = append(fields, in(back.Field("in_spite", "If it is held back: why it went all the same")))
	}
	main = []sheetForm{{Title: "Hand it back", Action: at + "/back", Form: back, Button: "It is back with its owner", Parts: one(fields...)}}
	side = []sheetForm{{Title: "What was agreed has changed", Fold: true, Action: at + "/change", Form: change, Button: "Keep", Parts: one(choose(change.Choose("purpose", "What it is here for", purposes)), area(change.Field("agreed", "What was agreed")), in(change.Field("price_minor", "Price agreed, with tax", "mode=decimal")), in(change.Field("back_on", "To be back on", "type=date")))},
		{Title: "It stays here as ours", Fold: true, Action: at + "/kept", Form: kept, Button: "It is the workshop's now", Parts: one(in(kept.Field("note", "How it became ours", "required", "hint=Such as half of the split for the work, as agreed.")))}}
	return main, side
}

func (s *Server) handleKeepingPost(c echo.Context) error {
	over := func(how string) func(echo.Context, int64) (string, error) {
		return func(c echo.Context, id int64) (string, error) {
			f := formOf(c, how)
			o := answer.KeepingOver{How: how, Place: f.Text("place"), Note: f.Text("note"), InSpite: f.Text("in_spite")}
			var err error
			if o.At, _, err = s.when(c, f); err != nil {
				return "", err
			}
			if err := f.Err(); err != nil {
				return "", err
			}
			said, err := s.Answer.KeepingEnd(c.Request().Context(), id, o)
			return joined("It is noted.", []string{said}), err
		}
	}
	back := func(id int64) string { return hrefOf("keeping", id) }
	return s.deed(c, s.handleKeeping, back, map[string]func(echo.Context, int64) (string, error){"back": over("back"), "kept": over("kept"), "lost": over("lost"), "change": s.changeKeeping})
}

func (s *Server) changeKeeping(c echo.Context, id int64) (string, error) {
	f := formOf(c, "change")
	set, err := s.settings(c)
	if err != nil {
		return "", err
	}
	t := s.terms(f, set)
	if err := f.Err(); err != nil {
		return "", err
	}
	_, err = s.Apiary.KeepingChange(c.Request().Context(), id, f.Version, t)
	return "Kept.", err
}

// keptHere gives the page of what is open of a colony or a box in our keeping, with what
// was agreed; empty when nothing is.
func (s *Server) keptHere(c echo.Context, colony, box int64) (sheetFact, error) {
	set, err := s.settings(c)
	if err != nil {
		return sheetFact{}, err
	}
	k, err := s.Apiary.KeepingOf(c.Request().Context(), colony, box)
	if err != nil || k == nil {
		return sheetFact{}, err
	}
	return sheetFact{Name: "In our keeping", Text: answer.KeepingWords(*k, currency(set)), Href: hrefOf("keeping", k.ID)}, nil
}
