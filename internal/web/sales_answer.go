package web

import (
	"errors"
	"fmt"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/answer"
	"kerfbook/internal/door"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

// answerView is how much and when, as the page of an enquiry shows it.
type answerView struct {
	Asked     bool   // whether anything is wanted that can be answered
	Problem   string // why there is no answer
	Price     string
	PriceNote string
	Parts     []partRow // what one piece of the price is made of
	Dates     []dateRow
	Decides   string
	Units     []unitDateRow
	Cost      []costRow
	CostSum   string
	Left      string
	Margin    string
	Loss      bool
	Reasons   []reasonRow
	Kept      string // how the last promises went
}

type partRow struct {
	What, Each string
	Listed     bool
}

type dateRow struct{ What, When string }

type unitDateRow struct{ N, From, Box, Colony string }

type costRow struct{ What, Amount string }

type reasonRow struct {
	Text        string
	Late, Short bool
}

// answerTo asks for wish and lays the answer out. What the answer refuses is shown in its
// place, so that the options beside it can be changed.
func (s *Server) answerTo(c echo.Context, q answer.Question) (answerView, error) {
	w := q.Wish
	if w.ModelID == 0 && !w.WithColony {
		return answerView{}, nil
	}
	set, err := s.settings(c)
	if err != nil {
		return answerView{}, err
	}
	a, err := s.Answer.Ask(c.Request().Context(), q)
	if fault.Is(err, fault.Invalid) || fault.Is(err, fault.NotFound) || fault.Is(err, fault.Conflict) {
		return answerView{Problem: sentenceOf(err)}, nil
	}
	if err != nil {
		return answerView{}, err
	}
	v := layAnswer(a, set)
	k, err := s.Answer.PromisesKept(c.Request().Context())
	v.Kept = keptWords(k)
	return v, err
}

// sentenceOf gives what an error says to a reader, its fields included.
func sentenceOf(err error) string {
	p := door.ProblemOf(err)
	text := p.Detail
	var e *fault.Error
	if errors.As(err, &e) && len(p.Errors) > 0 {
		text = ""
		for _, f := range p.Errors {
			text += f.Detail + " "
		}
	}
	return text
}

func layAnswer(a answer.Answer, set house.Settings) answerView {
	cur := currency(set)
	v := answerView{Asked: true, Price: cur.Money(a.PriceMinor), PriceNote: "no tax is charged", CostSum: cur.Money(a.CostMinor), Left: cur.Money(a.LeftMinor), Loss: a.LeftMinor < 0, Decides: a.Decides}
	if a.Registered {
		v.PriceNote = fmt.Sprintf("with %s of %s; %s without", a.TaxName, cur.Money(a.TaxMinor), cur.Money(a.PriceExTaxMinor))
	}
	if a.MarginPct != nil {
		v.Margin = show.Pct(*a.MarginPct)
	}
	for _, p := range a.PriceParts {
		v.Parts = append(v.Parts, partRow{p.What, cur.Money(p.EachMinor), p.Listed})
	}
	for _, k := range a.Cost {
		v.Cost = append(v.Cost, costRow{k.What, cur.Money(k.CostMinor)})
	}
	for _, r := range a.Reasons {
		v.Reasons = append(v.Reasons, reasonRow{r.Text, r.Late, r.Short})
	}
	wish := a.Question.Wish
	if wish.ModelID != 0 {
		v.Dates = append(v.Dates, dateRow{plural(wish.Pieces(), "Box", "All boxes"), show.DateOr(a.BoxOn, "cannot be said yet")})
	}
	if wish.WithColony {
		v.Dates = append(v.Dates, dateRow{plural(wish.Pieces(), "Colony", "All colonies"), show.DateOr(a.ColonyOn, "cannot be said yet")})
	}
	if wish.Pieces() > 1 {
		for _, u := range a.Units {
			v.Units = append(v.Units, unitDateRow{fmt.Sprint(u.N), fromWords(u), show.DateOr(u.BoxOn, ""), show.DateOr(u.ColonyOn, "")})
		}
	}
	return v
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// fromWords says where a piece comes from.
func fromWords(u answer.UnitDate) string {
	switch u.From {
	case answer.FromShelf:
		return "from the shelf, " + u.Serial
	case answer.FromBuild:
		return "from build " + u.Build
	case answer.FromNew:
		return "built anew"
	case answer.FromOwn:
		return "into their own box"
	}
	return ""
}

// draftChoices are the drafts of a party that a further alternative can go into.
func (s *Server) draftChoices(c echo.Context, party *int64) ([]Choice, error) {
	list := []Choice{{Value: "", Text: "A new quote"}}
	if party == nil {
		return list, nil
	}
	set, err := s.settings(c)
	if err != nil {
		return nil, err
	}
	drafts, _, err := s.Sales.QuoteList(c.Request().Context(), sales.QuoteFilter{PartyID: *party, State: sales.Draft})
	for _, q := range drafts {
		list = append(list, Choice{Value: idText(q.ID), Text: "The draft of " + show.Date(q.MadeAt.In(set.Location()))})
	}
	return list, err
}
