package web

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

func (s *Server) handleClaims(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := sheetView{Links: []sheetLink{{"Ask how they are", "/runs/asks"}, {"Runs", "/runs"}}}
	for _, decided := range []bool{false, true} {
		list, err := s.Handover.GuaranteeList(ctx, decided)
		if err != nil {
			return err
		}
		t := sheetTable{Title: "They wait for a decision", Heads: heads("Claim", "Asked", "Handover", "How it stands"), Empty: "No claim waits."}
		if decided {
			t.Title, t.Empty = "Decided", "None yet."
		}
		for _, g := range list {
			state := cellOf("open")
			if late := g.DaysLate(set.Location()); late > 0 {
				state = sheetCell{Late: "After the guarantee's end:", Text: show.Count(int64(late), "day", "days")}
			}
			if g.Decision != nil {
				state = cellOf(*g.Decision + ": " + g.Note)
			}
			t.add(linkCell(g.PartyName+": "+short(g.What), hrefOf("claim", g.ID)), cellOf(show.Date(house.DateIn(g.HappenedAt, set.Location()))), linkCell(g.Number, hrefOf("handover", g.HandoverID)), state)
		}
		v.Tables = append(v.Tables, t)
	}
	return s.showSheet(c, "Claims on the guarantee", v)
}

type claimView struct {
	What, Ended, Law, Who, Words, Ring string
	SMS, Mail                          template.URL
	Facts, Then                        []sheetFact
	Terms, Heard                       []string
	Photos, Since                      []photoRow
	AddPhoto                           string
	MayDecide, Decided                 bool
	Form                               *Form
	Decisions                          []Choice
}

var claimPage = definePage[claimView]("claim")

var claimDecisions = []Choice{{Value: "", Text: "Choose"}, {Value: "repaired", Text: "Mend it"}, {Value: "replaced", Text: "Replace it"}, {Value: "refunded", Text: "Give the money back"}, {Value: "declined", Text: "Decline it"}}

func photoRows(list []house.Photo, loc *time.Location) (rows []photoRow) {
	for _, p := range list {
		name := p.Name
		if name == "" {
			name = "without a name"
		}
		rows = append(rows, photoRow{hrefOfPhoto(p.ID), name, show.Time(p.RecordedAt, loc), p.MediaType == "image/jpeg"})
	}
	return rows
}

// handoverFacts is what was noted when it was handed over.
func handoverFacts(h handover.Handover, loc *time.Location) []sheetFact {
	list := []sheetFact{{Name: "Handed over", Text: show.Time(h.HappenedAt, loc), Href: hrefOf("handover", h.ID)}, {Name: "Received by", Text: h.ReceivedBy}}
	if h.BeesIn != nil && h.BeesOut != nil {
		list = append(list, sheetFact{Name: "Flight", Text: show.Count(int64(*h.BeesIn), "bee", "bees") + " in and " + strconv.Itoa(*h.BeesOut) + " out in a minute"})
	}
	if h.MassKG != nil {
		list = append(list, sheetFact{Name: "Weight", Text: strconv.FormatFloat(*h.MassKG, 'f', -1, 64) + " kg"})
	}
	if h.DocumentID != nil {
		list = append(list, sheetFact{Name: "Sheet", Text: "as it was handed over (PDF)", Href: hrefOf("handover", h.ID) + "/sheet.pdf"})
	}
	return told(append(list, sheetFact{Name: "Noted", Text: h.Note})...)
}

func (s *Server) handleClaim(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	g, err := s.Answer.GuaranteeFile(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	loc, prices := set.Location(), person(c).May(access.Prices)
	v := claimView{What: g.Claim.What, Law: answer.ConsumerLaw, Who: g.Claim.PartyName, Words: g.Words, Terms: g.Terms, Photos: photoRows(g.Photos, loc), Since: photoRows(g.Since, loc), AddPhoto: "/photos/of/guarantee_claim/" + idText(id),
		Then: handoverFacts(g.Handover, loc), MayDecide: prices, Decided: g.Claim.Decision != nil, Form: formOf(c), Decisions: claimDecisions}
	v.Facts = []sheetFact{{Name: "Buyer", Text: g.Claim.PartyName}, {Name: "Order", Text: g.Order.Number}, {Name: "About", Text: "the " + g.Claim.About}, {Name: "Since", Text: show.Date(house.DateIn(g.Claim.HappenedAt, loc))}, {Name: "Guarantee until", Text: show.DateOr(g.Claim.UntilOn, "not noted with this handover")}}
	if person(c).May(access.Orders) {
		v.Facts[1].Href = hrefOf("order", g.Order.ID)
	}
	if g.DaysLate > 0 {
		v.Ended = fmt.Sprintf("the guarantee ended on %s, %s before.", show.Date(*g.Claim.UntilOn), show.Count(int64(g.DaysLate), "day", "days"))
	}
	if d := g.Claim.Decision; d != nil {
		v.Facts = append(v.Facts, told(sheetFact{Name: "Decided", Text: *d + ", " + show.Time(*g.Claim.DecidedAt, loc)}, sheetFact{Name: "By", Text: g.Claim.DecidedBy}, sheetFact{Name: "Why", Text: g.Claim.Note})...)
		v.Form.Fill("decision", *d)
		v.Form.Fill("note", g.Claim.Note)
		if prices && g.Claim.CostMinor != nil {
			v.Facts = append(v.Facts, sheetFact{Name: "It cost", Text: currency(set).Money(*g.Claim.CostMinor), Href: "/books/earned"})
			v.Form.Fill("cost_minor", currency(set).Plain(*g.Claim.CostMinor))
		}
	}
	v.Form.FillVersion(g.Claim.Version)
	for _, f := range g.Heard {
		if f.Answer != nil {
			v.Heard = append(v.Heard, strings.TrimSuffix(show.Date(house.DateIn(*f.AnsweredAt, loc))+": "+*f.Answer+", "+f.Why, ", "))
		}
	}
	p, err := s.Sales.PartyGet(ctx, g.Order.PartyID)
	if err != nil {
		return err
	}
	v.Ring, v.SMS, v.Mail = reach(p.Phone(), p.Email(), "Your claim, order "+g.Order.Number, g.Words)
	return claimPage.show(s, c, "Claim on "+g.Claim.Number, v)
}

func (s *Server) handleClaimPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	var cost int64
	if f.Text("cost_minor") != "" {
		cost = f.Money("cost_minor", currency(set))
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleClaim)
	}
	if err := s.Handover.GuaranteeDecide(c.Request().Context(), id, f.Version, f.Text("decision"), cost, f.Text("note")); err != nil {
		return again(err, s.handleClaim)
	}
	return goTo(c, hrefOf("claim", id), "Decided. Tell the buyer: the words are ready.")
}
