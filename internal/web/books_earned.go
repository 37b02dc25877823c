package web

import (
	"fmt"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
)

type earnedView struct {
	From, To, By, Problem  string
	ByWord, ByHead, Margin string
	Ways                   []Choice
	Groups, Models         []earnedRow
	Sum                    earnedRow
	Parts                  []taxSumRow
	Jobs                   []jobRow
	Drawing                *barsView
	More, NoCost           string
}

type earnedRow struct {
	Name, Price, Quoted, Cost, Left, Hour string
	Pieces                                int
	Loses                                 bool
}

type jobRow struct {
	Order, Href, On, What, Price, Cost, Left, Sure string
	Loses                                          bool
}

// barsView is bars from a line of nothing, to scale.
type barsView struct {
	Height, Zero int
	Words        string
	Bars         []bar
}

type bar struct {
	Name, Left         string
	X, Y, Width, TextY int
	Loses              bool
}

var earnedPage = definePage[earnedView]("earned")

var (
	earnedWays  = []Choice{{Value: "model", Text: "Model"}, {Value: "timber", Text: "Timber"}, {Value: "month", Text: "Month"}, {Value: "class", Text: "Class of buyer"}, {Value: "found", Text: "How they found the workshop"}}
	earnedWords = map[string]string{"model": "model", "timber": "timber", "month": "month", "class": "class of buyer", "found": "how they found the workshop"}
)

const (
	jobsShown  = 30
	barsWidth  = 340 // the drawing's own units; about a pixel on a phone
	barsStep   = 38
	barsAtMost = 40
)

func (s *Server) handleEarned(c echo.Context) error {
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	from, to := today.AddDate(-1, 0, 1), today
	v := earnedView{Ways: earnedWays, By: "model", Margin: show.Pct(set.MarginPct)}
	if by := c.QueryParam("by"); by != "" {
		v.By = by
	}
	for name, day := range map[string]*time.Time{"from": &from, "to": &to} {
		if d, err := time.Parse(time.DateOnly, c.QueryParam(name)); err == nil {
			*day = d
		} else if c.QueryParam(name) != "" {
			v.Problem = "Write both days."
		}
	}
	v.From, v.To = show.ISODate(from), show.ISODate(to)
	e, err := s.Answer.Earned(c.Request().Context(), from, to, v.By)
	if fault.Is(err, fault.Invalid) {
		v.Problem = err.Error()
		return earnedPage.show(s, c, "What jobs earned", v)
	}
	if err != nil {
		return err
	}
	v.lay(e, currency(set))
	return earnedPage.show(s, c, "What jobs earned", v)
}

func groupRow(g answer.EarnedGroup, cur show.Currency) earnedRow {
	r := earnedRow{Name: g.Name, Pieces: g.Pieces, Price: cur.Money(g.Price), Quoted: cur.Money(g.Quoted), Cost: cur.Money(g.Cost()), Left: cur.Money(abs(g.Left())), Loses: g.Left() < 0, Hour: "not known"}
	if g.Minutes > 0 {
		r.Hour = cur.Money(g.HourMinor())
	}
	return r
}

func abs(minor int64) int64 { return max(minor, -minor) }

func (v *earnedView) lay(e answer.Earned, cur show.Currency) {
	v.ByWord = earnedWords[v.By]
	for _, w := range earnedWays {
		if w.Value == v.By {
			v.ByHead = w.Text
		}
	}
	for _, g := range e.Groups {
		v.Groups = append(v.Groups, groupRow(g, cur))
	}
	v.Sum = groupRow(e.Sum, cur)
	var bars []amountBar
	for _, g := range e.Groups {
		bars = append(bars, amountBar{g.Name, g.Left()})
	}
	v.Drawing = drawBars(bars, cur, "What was left, as bars; the table below has the figures")
	if n := e.Sum.NoCost; n > 0 {
		v.NoCost = fmt.Sprintf("Of %s nothing is known of the cost; they are not in the sums.", show.Count(int64(n), "piece", "pieces"))
	}
	for _, p := range []struct {
		what  string
		minor int64
	}{{"Timber, fittings and finish", e.Sum.Material}, {"Hours at the bench", e.Sum.Labour}, {"Colonies and what else was quoted", e.Sum.Other}, {"Runs", e.Sum.Run}, {"Guarantee", e.Sum.Guarantee}} {
		v.Parts = append(v.Parts, taxSumRow{What: p.what, Net: cur.Money(p.minor)})
	}
	for _, m := range e.Models {
		r := earnedRow{Name: m.Model, Pieces: m.Pieces, Cost: cur.Money(m.CostEach), Price: "no price", Left: cur.Money(m.Wanted), Loses: m.Loses}
		if m.ListPrice > 0 {
			r.Price = cur.Money(m.ListPrice)
		}
		v.Models = append(v.Models, r)
	}
	for i, j := range e.Jobs {
		if i == jobsShown {
			v.More = fmt.Sprintf("%d more stand in the file.", len(e.Jobs)-jobsShown)
			break
		}
		r := jobRow{Order: j.OrderNumber, Href: hrefOf("order", j.OrderID), On: show.Date(j.HandedOverOn), What: j.What, Price: cur.Money(j.Price), Cost: cur.Money(j.Cost()), Left: cur.Money(abs(j.Left())), Loses: j.Left() < 0, Sure: "as quoted"}
		switch {
		case j.Real:
			r.Sure = "as it really went"
		case j.NoCost:
			r.Cost, r.Left, r.Loses, r.Sure = "not known", "", false, "no cost known"
		}
		v.Jobs = append(v.Jobs, r)
	}
}

// amountBar is one bar: an amount with its name.
type amountBar struct {
	name  string
	minor int64
}

// drawBars draws amounts as bars from a line of nothing: solid to its right, hollow to its
// left where they are below nothing. Nil where all are the same.
func drawBars(list []amountBar, cur show.Currency, words string) *barsView {
	list = list[:min(len(list), barsAtMost)]
	var most, least int64
	for _, g := range list {
		most, least = max(most, g.minor), min(least, g.minor)
	}
	scale := float64(barsWidth-2) / float64(max(1, most-least))
	v := &barsView{Height: len(list)*barsStep + 4, Zero: 1 + int(float64(-least)*scale), Words: words}
	for i, g := range list {
		b := bar{Name: g.name, Left: cur.Money(abs(g.minor)), Y: i*barsStep + 20, TextY: i*barsStep + 15, Width: max(1, int(float64(abs(g.minor))*scale)), X: v.Zero, Loses: g.minor < 0}
		if b.Loses {
			b.X = v.Zero - b.Width
		}
		v.Bars = append(v.Bars, b)
	}
	return v
}
