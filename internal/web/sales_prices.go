package web

import (
	"context"
	"maps"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

func (s *Server) registerPricePages(r *routes) {
	r.get(access.Prices, "/prices", s.handlePrices)
	r.post(access.Prices, "/prices", s.handlePricesPost)
	r.post(access.Prices, "/prices/classes", s.handleClassesPost)
}

type pricesView struct {
	Rows        []priceRow
	Subject     string // whose history is shown
	History     []priceRow
	Form, Class *Form
	Subjects    []Choice
	TaxCodes    []Choice
	Classes     []classRow
}

type priceRow struct{ Subject, What, Price, From, Tax, Reason string }

type classRow struct{ Name, Step string }

var pricesPage = definePage[pricesView]("prices")

func (s *Server) handlePrices(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today, cur := set.Today(s.DB.Now()), currency(set)
	v := pricesView{Form: formOf(c), Class: formOf(c, "class"), TaxCodes: []Choice{{Value: "standard", Text: "Taxed"}, {Value: "free", Text: "Free of tax"}}}
	v.Form.Fill("from_on", show.ISODate(today))
	if v.Subjects, err = s.priced(ctx); err != nil {
		return err
	}
	row := func(p sales.ListPrice) priceRow {
		r := priceRow{p.Subject, p.Subject, cur.Money(p.PriceMinor), show.Date(p.FromOn), "", p.Reason}
		for _, k := range v.Subjects {
			if k.Value == p.Subject {
				r.What = k.Text
			}
		}
		if p.TaxCode != "standard" {
			r.Tax = p.TaxCode
		}
		return r
	}
	prices, err := s.Sales.PricesOn(ctx, today)
	if err != nil {
		return err
	}
	for _, subject := range slices.Sorted(maps.Keys(prices)) {
		v.Rows = append(v.Rows, row(prices[subject]))
	}
	slices.SortStableFunc(v.Rows, func(a, b priceRow) int { return strings.Compare(a.What, b.What) })
	if subject := c.QueryParam("of"); subject != "" {
		list, err := s.Sales.PriceHistory(ctx, subject)
		if err != nil {
			return err
		}
		for _, p := range list {
			v.History = append(v.History, row(p))
			v.Subject = row(p).What
		}
		v.Form.Fill("subject", subject)
	}
	classes, err := s.Sales.ClassList(ctx)
	if err != nil {
		return err
	}
	for _, b := range classes {
		v.Classes = append(v.Classes, classRow{b.Name, show.Pct(b.StepPct)})
	}
	return pricesPage.show(s, c, "Prices", v)
}

// priced lists everything that can have a list price.
func (s *Server) priced(ctx context.Context) ([]Choice, error) {
	o, err := s.offer(ctx)
	if err != nil {
		return nil, err
	}
	list := []Choice{}
	for _, m := range o.models {
		list = append(list, Choice{Value: sales.Subject("model", m.ID), Text: "Box: " + m.Name})
	}
	for _, p := range o.options {
		list = append(list, Choice{Value: sales.Subject("option", p.ID), Text: "Option: " + p.Name})
	}
	for _, b := range o.bees[1:] {
		list = append(list, Choice{Value: "colony:" + b.Value, Text: b.Text})
	}
	items, _, err := s.Timber.ItemList(ctx, timber.ItemFilter{})
	if err != nil {
		return nil, err
	}
	for _, i := range items {
		list = append(list, Choice{Value: sales.Subject("item", i.ID), Text: "Goods: " + i.Name})
	}
	return append(list, Choice{Value: "service:delivery", Text: "One delivery, whatever the way"}), nil
}

func (s *Server) handlePricesPost(c echo.Context) error {
	f := formOf(c)
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	p := sales.ListPrice{Subject: f.Text("subject"), PriceMinor: f.Money("price_minor", currency(set)), TaxCode: f.Text("tax_code"), Reason: f.Text("reason")}
	if from := f.Date("from_on"); from != nil {
		p.FromOn = *from
	}
	if err := f.Err(); err != nil {
		return again(err, s.handlePrices)
	}
	if _, err := s.Sales.PricePut(c.Request().Context(), p); err != nil {
		return again(err, s.handlePrices)
	}
	return goTo(c, "/prices", "The price is kept.")
}

func (s *Server) handleClassesPost(c echo.Context) error {
	f := formOf(c, "class")
	step := f.Decimal("step_pct", 2)
	if err := f.Err(); err != nil {
		return again(err, s.handlePrices)
	}
	if _, err := s.Sales.ClassPut(c.Request().Context(), sales.BuyerClass{Name: f.Text("name"), StepPct: step}); err != nil {
		return again(err, s.handlePrices)
	}
	return goTo(c, "/prices", "The class is kept.")
}
