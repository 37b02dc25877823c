package web

import (
	"github.com/labstack/echo/v4"

	"kerfbook/internal/books"
	"kerfbook/internal/show"
)

type aheadView struct {
	There, Held, NoDay, Later string
	Drawing                   *barsView
	Weeks                     []aheadWeek
	Lines                     []aheadLine
	Costs                     []standingRow
	Form                      *Form
	Spans                     []Choice
}

type aheadWeek struct {
	From, In, Out, End string
	Short              bool
}

type aheadLine struct {
	On, What, Href, Who, Amount string
	Late                        bool
}

type standingRow struct {
	ID                        int64
	Name, Every, Next, Amount string
}

var aheadPage = definePage[aheadView]("ahead")

func spanChoices() []Choice {
	var list []Choice
	for _, s := range []string{"month", "week", "fortnight", "quarter", "year"} {
		list = append(list, Choice{Value: s, Text: s})
	}
	return list
}

func (s *Server) handleAhead(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	cur := currency(set)
	opening, _ := cur.Parse(c.QueryParam("there")) // nothing typed: reckon from nothing
	a, err := s.Books.Ahead(ctx, opening)
	if err != nil {
		return err
	}
	costs, err := s.Books.StandingCostList(ctx)
	if err != nil {
		return err
	}
	v := aheadView{There: cur.Plain(opening), Held: cur.Money(a.HeldMinor), Form: formOf(c), Spans: spanChoices()}
	v.Form.Fill("next_on", show.ISODate(a.From))
	if a.NoDay > 0 {
		v.NoDay = cur.Money(a.NoDay)
	}
	if a.Later > 0 {
		v.Later = cur.Money(a.Later)
	}
	var bars []amountBar
	for _, w := range a.Weeks {
		v.Weeks = append(v.Weeks, aheadWeek{show.Date(w.FirstOn), cur.Money(w.In), cur.Money(w.Out), cur.Money(w.EndWith), w.EndWith < 0})
		bars = append(bars, amountBar{"Week from " + show.Date(w.FirstOn), w.EndWith})
	}
	v.Drawing = drawBars(bars, cur, "Money there at the end of each week, as bars; the table below has the figures")
	for _, l := range a.Lines {
		v.Lines = append(v.Lines, aheadLine{show.Date(l.On), l.Kind + " " + l.Number, aheadHref(l), l.Who, cur.Money(l.Minor), l.Late})
	}
	for _, k := range costs {
		v.Costs = append(v.Costs, standingRow{k.ID, k.Name, k.Every, show.Date(k.NextOn), cur.Money(k.AmountMinor)})
	}
	return aheadPage.show(s, c, "Money ahead", v)
}

func aheadHref(l books.AheadLine) string {
	switch l.Kind {
	case "order":
		return hrefOf("order", l.ID)
	case "purchase":
		return "/timber/purchases/" + idText(l.ID)
	}
	return "/books/standing-costs/" + idText(l.ID)
}

func (s *Server) standingIn(c echo.Context, f *Form) (books.StandingCost, error) {
	set, err := s.settings(c)
	if err != nil {
		return books.StandingCost{}, err
	}
	k := books.StandingCost{Name: f.Text("name"), AmountMinor: f.Money("amount_minor", currency(set)), Every: f.Text("every")}
	if day := f.Date("next_on"); day != nil {
		k.NextOn = *day
	}
	return k, f.Err()
}

func (s *Server) handleAheadPost(c echo.Context) error {
	k, err := s.standingIn(c, formOf(c))
	if err == nil {
		_, err = s.Books.StandingCostSave(c.Request().Context(), k)
	}
	if err != nil {
		return again(err, s.handleAhead)
	}
	return goTo(c, "/books/ahead", "Kept.")
}

func (s *Server) handleStandingCost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	k, err := s.Books.StandingCostGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(k.Version)
	for name, text := range map[string]string{"name": k.Name, "amount_minor": currency(set).Plain(k.AmountMinor), "every": k.Every, "next_on": show.ISODate(k.NextOn)} {
		f.Fill(name, text)
	}
	form := sheetForm{Form: f, Action: "/books/standing-costs/" + idText(id), Button: "Keep it", Parts: one(in(f.Field("name", "What for", "required")), in(f.Field("amount_minor", "Each time, with tax", "mode=decimal", "required")),
		choose(f.Choose("every", "Every", spanChoices())), in(f.Field("next_on", "Due next", "type=date", "required")), tick(f.Field("over", "It is over: put it away")))}
	return s.showSheet(c, k.Name, sheetView{Forms: []sheetForm{form}, Links: []sheetLink{{"Money ahead", "/books/ahead"}}, History: "/history/standing_cost/" + idText(id)})
}

func (s *Server) handleStandingCostPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	k, err := s.standingIn(c, f)
	if err == nil {
		k.ID, k.Version = id, f.Version
		if f.Text("over") != "" {
			now := s.DB.Now()
			k.PutAwayAt = &now
		}
		_, err = s.Books.StandingCostSave(c.Request().Context(), k)
	}
	if err != nil {
		return again(err, s.handleStandingCost)
	}
	return goTo(c, "/books/ahead", "Kept.")
}
