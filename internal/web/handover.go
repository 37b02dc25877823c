package web

import (
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/handover"
	"kerfbook/internal/show"
)

type handoverView struct {
	ID                      int64
	Order, OrderHref, Buyer string
	Facts                   []sheetFact
	Box, Colony, SoldOn     string
	HasSheet                bool
	Mailed                  *mailed
	Asks                    []followRow
	Terms                   []string
	Claims                  []claimRow
	Form, Claim             *Form
	Answers, Abouts         []Choice
}

type followRow struct {
	ID               int64
	Due, Answer, Why string
	Open, Late       bool
}

type claimRow struct{ Text, Href, State string }

var handoverPage = definePage[handoverView]("handover")

var toldAnswers = []Choice{{Value: "alive", Text: "Alive, or sound"}, {Value: "weak", Text: "Weak, or has a fault"}, {Value: "lost", Text: "Lost"}}

func (s *Server) handleHandover(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	h, err := s.Handover.Get(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	o, err := s.Sales.OrderOfUnit(ctx, h.UnitID)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	v := handoverView{ID: id, Order: o.Number, OrderHref: hrefOf("order", o.ID), Buyer: o.PartyName, Facts: handoverFacts(h, set.Location()), HasSheet: h.DocumentID != nil, Terms: answer.PrintedTerms(h), Form: formOf(c), Claim: formOf(c, "claim"), Answers: toldAnswers}
	if h.BoxID != nil {
		v.Box = hrefOf("box", *h.BoxID)
		if person(c).May(access.Orders) {
			v.SoldOn = v.Box + "/sold-on"
		}
	}
	if h.ColonyID != nil {
		v.Colony = hrefOf("colony", *h.ColonyID)
	}
	if h.BoxID != nil && h.ColonyID != nil {
		v.Abouts = []Choice{{Value: "colony", Text: "The colony"}, {Value: "box", Text: "The box"}}
	}
	asks, err := s.Handover.FollowUpsOf(ctx, id)
	if err != nil {
		return err
	}
	for _, a := range asks {
		v.Asks = append(v.Asks, followRow{ID: a.ID, Due: show.Date(a.DueOn), Answer: text(a.Answer), Why: a.Why, Open: a.AnsweredAt == nil && !a.DueOn.After(today), Late: a.AnsweredAt == nil && a.DueOn.Before(today)})
	}
	claims, err := s.Handover.GuaranteeOf(ctx, id)
	if err != nil {
		return err
	}
	for _, g := range claims {
		row := claimRow{short(g.What), hrefOf("claim", g.ID), "waits for a decision"}
		if g.Decision != nil {
			row.State = *g.Decision
		}
		v.Claims = append(v.Claims, row)
	}
	if v.HasSheet {
		if v.Mailed, err = s.mailedOf(c, "handover", h.Number); err != nil {
			return err
		}
	}
	return handoverPage.show(s, c, "Handover "+h.Number, v)
}

func (s *Server) handleHandoverPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	if f := formOf(c, "claim"); f.Sent {
		g, err := s.Handover.GuaranteeOpen(ctx, handover.GuaranteeNew{HandoverID: id, About: f.Text("about"), What: f.Text("what"), HappenedAt: time.Time{}})
		if err != nil {
			return again(err, s.handleHandover)
		}
		return goTo(c, hrefOf("claim", g.ID), "The claim is noted. Rights under consumer law come first.")
	}
	t, err := toldOf(formOf(c))
	if err != nil {
		return again(err, s.handleHandover)
	}
	claim, err := s.Answer.FollowUpTell(ctx, id, t)
	if err != nil {
		return again(err, s.handleHandover)
	}
	href, said := heardHref(claim, hrefOf("handover", id))
	return goTo(c, href, said)
}
