package web

import (
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/apiary"
	"kerfbook/internal/show"
)

func (s *Server) registerPermitPages(r *routes) {
	r.get(access.Bees, "/bees/permits", s.handlePermits)
	r.post(access.Bees, "/bees/permits", s.handlePermitsPost)
	r.get(access.Bees, "/bees/permits/:id", s.handlePermit)
	r.post(access.Bees, "/bees/permits/:id", s.handlePermitPost)
}

type permitsView struct {
	Permits []permitRow
	Form    *Form
	Kinds   []Choice
	All     bool
}

type permitRow struct {
	Title, Href, Kind, Covers, Ends, State string
	Late                                   bool // ended, or about to
}

var permitsPage = definePage[permitsView]("permits")

func permitKindWords(kind string) string {
	for _, k := range apiary.PermitKinds {
		if k.Kind == kind {
			return k.Words
		}
	}
	return kind
}

func permitKinds() []Choice {
	var out []Choice
	for _, k := range apiary.PermitKinds {
		out = append(out, Choice{Value: k.Kind, Text: k.Words})
	}
	return out
}

func permitRowOf(p apiary.Permit, today time.Time) permitRow {
	return permitRow{Title: p.Title(), Href: hrefOf("permit", p.ID), Kind: permitKindWords(p.Kind), Covers: p.Covers, Ends: show.DateOr(p.EndsOn, "no end noted"), State: p.State(today), Late: !p.PutAway && (p.Trouble(today) != "" || p.EndsSoon(today))}
}

// permitChoices are the permits in use, for a choice; was is kept among them when it is
// put away.
func (s *Server) permitChoices(c echo.Context, was *int64) ([]Choice, error) {
	list, err := s.Apiary.PermitList(c.Request().Context(), was != nil)
	if err != nil {
		return nil, err
	}
	today, err := s.today(c)
	if err != nil {
		return nil, err
	}
	out := []Choice{{Text: "None"}}
	for _, p := range list {
		if p.PutAway && p.ID != *was {
			continue
		}
		text := p.Title() + ", " + permitKindWords(p.Kind)
		if state := p.State(today); state != "holds" {
			text += " (" + state + ")"
		}
		out = append(out, Choice{Value: strconv.FormatInt(p.ID, 10), Text: text})
	}
	return out, nil
}

func (s *Server) handlePermits(c echo.Context) error {
	v := permitsView{Form: formOf(c), Kinds: permitKinds(), All: c.QueryParam("all") != ""}
	list, err := s.Apiary.PermitList(c.Request().Context(), v.All)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	for _, p := range list {
		v.Permits = append(v.Permits, permitRowOf(p, today))
	}
	v.Form.Fill("warn_days", strconv.Itoa(apiary.PermitWarnDays))
	v.Form.Fill("kind", "take")
	return permitsPage.show(s, c, "Permits", v)
}

func permitTyped(f *Form) apiary.Permit {
	return apiary.Permit{Number: f.Text("number"), Authority: f.Text("authority"), Kind: f.Text("kind"), Covers: f.Text("covers"), FromOn: f.Date("from_on"), EndsOn: f.Date("ends_on"), WarnDays: int(f.Int("warn_days", 0, 365)), Notes: f.Text("notes"), PutAway: f.Ticked("put_away")}
}

func (s *Server) handlePermitsPost(c echo.Context) error {
	f := formOf(c)
	p := permitTyped(f)
	if err := f.Err(); err != nil {
		return again(err, s.handlePermits)
	}
	p, err := s.Apiary.PermitPut(c.Request().Context(), p)
	if err != nil {
		return again(err, s.handlePermits)
	}
	return goTo(c, hrefOf("permit", p.ID), "The permit is in the book.")
}

type permitView struct {
	Row         permitRow
	From, Notes string
	Trouble     string
	Soon        bool
	Uses        []permitUseRow
	Form        *Form
	Kinds       []Choice
}

type permitUseRow struct {
	What, Href, On string
	Open           bool
}

var permitPage = definePage[permitView]("permit")

func (s *Server) handlePermit(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	p, err := s.Apiary.PermitGet(ctx, id)
	if err != nil {
		return err
	}
	uses, err := s.Apiary.PermitUses(ctx, id)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	v := permitView{Row: permitRowOf(p, today), From: show.DateOr(p.FromOn, ""), Notes: p.Notes, Trouble: p.Trouble(today), Soon: p.EndsSoon(today), Form: formOf(c), Kinds: permitKinds()}
	for _, u := range uses {
		v.Uses = append(v.Uses, permitUseRow{What: places[u.Kind].word + " " + u.Name, Href: hrefOf(u.Kind, u.ID), On: show.DateOr(u.On, ""), Open: u.Open})
	}
	f := v.Form
	f.FillVersion(p.Version)
	for name, value := range map[string]string{"number": p.Number, "authority": p.Authority, "kind": p.Kind, "covers": p.Covers, "from_on": isoOr(p.FromOn), "ends_on": isoOr(p.EndsOn), "warn_days": strconv.Itoa(p.WarnDays), "notes": p.Notes} {
		f.Fill(name, value)
	}
	f.FillTick("put_away", p.PutAway)
	return permitPage.show(s, c, "Permit "+p.Number, v)
}

// isoOr writes a date as a date field holds it; "" for none.
func isoOr(d *time.Time) string {
	if d == nil {
		return ""
	}
	return show.ISODate(*d)
}

func (s *Server) handlePermitPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	p := permitTyped(f)
	p.ID, p.Version = id, f.Version
	if err := f.Err(); err != nil {
		return again(err, s.handlePermit)
	}
	if _, err := s.Apiary.PermitPut(c.Request().Context(), p); err != nil {
		return again(err, s.handlePermit)
	}
	return goTo(c, hrefOf("permit", id), "The permit is kept.")
}
