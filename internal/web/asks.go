package web

import (
	"fmt"
	"html/template"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

func (s *Server) registerAfterPages(r *routes) {
	r.get(access.Runs, "/runs/asks", s.handleAsks)
	r.post(access.Runs, "/runs/asks", s.handleAsksPost)
	r.get(access.Bees, "/runs/survival", s.handleSurvival)
	r.get(access.Runs, "/runs/claims", s.handleClaims)
	r.get(access.Runs, "/runs/claims/:id", s.handleClaim)
	r.post(access.Prices, "/runs/claims/:id", s.handleClaimPost)
	r.get(access.Orders, "/orders/:id/fetch", s.handleFetch)
	r.post(access.Orders, "/orders/:id/fetch", s.handleFetchToldPost)
	r.get(access.Settings, "/settings/after", s.handleAfterCare)
	r.post(access.Settings, "/settings/after", s.handleAfterCarePost)
}

type asksView struct {
	Form    *Form
	Asks    []asked
	Reasons []string
}

type asked struct {
	ID                                         int64
	Who, About, Due, Handed, Href, Words, Ring string
	SMS, Mail                                  template.URL
	Late, Bees, Open                           bool
}

var asksPage = definePage[asksView]("asks")

// reach gives the links that ring a buyer or write the words to them.
func reach(phone, email, subject, words string) (ring string, sms, mail template.URL) {
	if ring = dialled(phone); ring != "" {
		sms = smsTo(ring, words)
	}
	if email != "" {
		mail = mailTo(answer.Letter{To: email, Subject: subject, Body: words})
	}
	return ring, sms, mail
}

func (s *Server) handleAsks(c echo.Context) error {
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	list, err := s.Handover.FollowUpsDue(c.Request().Context(), today)
	if err != nil {
		return err
	}
	v := asksView{Form: formOf(c), Reasons: answer.LossReasons}
	for _, f := range list {
		row := asked{ID: f.ID, Who: f.PartyName, About: "box", Due: show.Date(f.DueOn), Handed: show.Date(house.DateIn(f.HandedAt, set.Location())), Href: hrefOf("handover", f.HandoverID),
			Words: answer.FollowUpWords(f, set), Late: f.DueOn.Before(today), Bees: f.WithColony, Open: v.Form.Sent && v.Form.Text("follow_up") == idText(f.ID) && v.Form.Text("answer") == "lost"}
		if f.WithColony {
			row.About = "colony"
		}
		if f.Serial != "" {
			row.About += ", box " + f.Serial
		}
		row.About += ", order " + f.OrderNumber
		row.Ring, row.SMS, row.Mail = reach(f.PartyPhone, f.PartyEmail, "How is it?", row.Words)
		v.Asks = append(v.Asks, row)
	}
	return asksPage.show(s, c, "Ask how they are", v)
}

// toldOf reads what a buyer said from a form.
func toldOf(f *Form) (handover.Told, error) {
	t := handover.Told{Answer: f.Text("answer"), Why: f.Text("why"), LostOn: f.Date("lost_on")}
	if reason := f.Text("reason"); reason != "" {
		t.Why = reason
	}
	if t.Answer != "lost" {
		t.LostOn = nil
	}
	return t, f.Err()
}

// heardHref leads to the claim that a loss opened, else back.
func heardHref(claim *handover.GuaranteeClaim, back string) (href, said string) {
	if claim == nil {
		return back, "Noted."
	}
	return hrefOf("claim", claim.ID), "Noted. It was lost within the guarantee: a claim is open."
}

func (s *Server) handleAsksPost(c echo.Context) error {
	f := formOf(c)
	t, err := toldOf(f)
	if err != nil {
		return again(err, s.handleAsks)
	}
	claim, err := s.Answer.FollowUpAnswer(c.Request().Context(), f.ID("follow_up"), t)
	if err != nil {
		return again(err, s.handleAsks)
	}
	href, said := heardHref(claim, "/runs/asks")
	return goTo(c, href, said)
}

// handleSurvival is how colonies lived after the handover, in counts.
func (s *Server) handleSurvival(c echo.Context) error {
	by := c.QueryParam("by")
	if by == "" {
		by = "species"
	}
	list, err := s.Handover.SurvivalOf(c.Request().Context(), by)
	if err != nil {
		return err
	}
	v := sheetView{Lead: "Counted from what buyers said. Nothing heard is unknown: it is taken neither as alive nor as lost.", Links: []sheetLink{{"By species", "/runs/survival"}, {"By season", "/runs/survival?by=season"}, {"By method", "/runs/survival?by=method"}},
		Cautions: []string{"Few colonies say little: look at the range, not at the middle. It is such that 95 in 100 ranges hold the truth. The share is that of Kaplan and Meier (1958)."}}
	for _, g := range list {
		name := g.Name
		if name == "all" {
			name = "All together"
		}
		t := sheetTable{Title: fmt.Sprintf("%s: %d handed over, %d alive when last heard of, %d lost, %d never heard of", strings.ToUpper(name[:1])+name[1:], g.Handed, g.Alive, g.Lost, g.Unheard),
			Heads: heads("#Days", "#Known to live so long", "#Lost until then", "Of 100 such colonies live"), Empty: "No days to ask after are set."}
		for _, p := range g.At {
			words := "not known: none was heard of so long"
			if p.Seen {
				words = fmt.Sprintf("%.0f, between %.0f and %.0f", 100*p.Alive, 100*p.Low, 100*p.High)
			}
			t.add(numCell(int(p.Days)), numCell(p.AtRisk), numCell(p.Lost), cellOf(words))
		}
		v.Tables = append(v.Tables, t)
	}
	return s.showSheet(c, "How colonies live after the handover", v)
}
