package web

import (
	"fmt"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

func (s *Server) registerServicePages(r *routes) {
	r.get(access.Orders, "/orders/services", s.handleServices)
	r.post(access.Orders, "/orders/services", s.handleServicesPost)
	r.post(access.Orders, "/orders/services/new", s.handleServiceNewPost)
	r.get(access.Orders, "/orders/services/:id", s.handleService)
	r.post(access.Orders, "/orders/services/:id", s.handleServicePost)
}

type servicesView struct {
	Form, New *Form
	Who       whoView
	Rows      []serviceRow
	TaxCodes  []Choice
}

type serviceRow struct {
	ID                                                      int64
	Name, Each, Tax, Seats, Price, Field, Label, Unit, Hint string
}

var servicesPage = definePage[servicesView]("services")

var serviceTaxes = []Choice{{Value: "standard", Text: "Taxed"}, {Value: "free", Text: "Free of tax"}}

// handleServices sells services; the same page has the list of them.
func (s *Server) handleServices(c echo.Context) error {
	f := queryForm(c)
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	list, err := s.Sales.ServiceList(c.Request().Context())
	if err != nil {
		return err
	}
	who, err := s.who(c, f)
	if err != nil {
		return err
	}
	v := servicesView{Form: f, New: formOf(c, "new"), Who: who, TaxCodes: serviceTaxes}
	cur := currency(set)
	for _, k := range list {
		r := serviceRow{ID: k.ID, Name: k.Name, Each: k.Each, Tax: "taxed", Price: cur.Money(k.UnitPriceMinor), Field: "quantity." + idText(k.ID), Label: k.Name, Unit: "unit=" + k.Each, Hint: "hint=" + cur.Money(k.UnitPriceMinor) + " each, without tax. Left empty: none."}
		if k.TaxCode != "standard" {
			r.Tax = k.TaxCode
		}
		if left, course := k.SeatsLeft(); course {
			r.Seats = fmt.Sprintf("%d of %d left", left, *k.Seats)
			r.Hint += " " + r.Seats + "."
		}
		if k.HeldOn != nil {
			r.Label += ", " + show.Date(*k.HeldOn)
		}
		v.Rows = append(v.Rows, r)
	}
	return servicesPage.show(s, c, "Services, courses and honey", v)
}

func (s *Server) handleServicesPost(c echo.Context) error {
	f, ctx := formOf(c), c.Request().Context()
	list, err := s.Sales.ServiceList(ctx)
	if err != nil {
		return err
	}
	n := answer.ServiceOrder{NewOrder: sales.NewOrder{Notes: f.Text("notes")}}
	var fields []string
	for _, k := range list {
		name := "quantity." + idText(k.ID)
		if f.Text(name) == "" {
			continue
		}
		fields = append(fields, name)
		n.Services = append(n.Services, answer.ServiceLine{ServiceID: k.ID, Quantity: f.Decimal(name, 3)})
	}
	if len(fields) == 0 && len(list) > 0 {
		f.Wrong("quantity."+idText(list[0].ID), "Say how many of what.")
	}
	if n.PartyID, err = s.buyerOf(c, f); err == nil {
		err = f.Err()
	}
	if err == nil && n.PartyID == 0 {
		n.PartyID, err = s.newBuyer(c, f)
	}
	if err != nil {
		return again(err, s.handleServices)
	}
	got, err := s.Answer.ServiceOrderMake(ctx, n)
	if err != nil {
		return again(err, s.handleServices)
	}
	return goTo(c, hrefOf("order", got.Order.ID), "Ordered: "+got.Order.Number+".")
}

func (s *Server) serviceIn(c echo.Context, f *Form) (sales.Service, error) {
	set, err := s.settings(c)
	if err != nil {
		return sales.Service{}, err
	}
	k := sales.Service{Name: f.Text("name"), Each: f.Text("each"), UnitPriceMinor: f.Money("unit_price_minor", currency(set)), TaxCode: f.Text("tax_code"), HeldOn: f.Date("held_on")}
	if f.Text("seats") != "" {
		seats := int(f.Int("seats", 1, 1000))
		k.Seats = &seats
	}
	return k, f.Err()
}

func (s *Server) handleServiceNewPost(c echo.Context) error {
	k, err := s.serviceIn(c, formOf(c, "new"))
	if err == nil {
		_, err = s.Sales.ServiceSave(c.Request().Context(), k)
	}
	if err != nil {
		return again(err, s.handleServices)
	}
	return goTo(c, "/orders/services", "Kept.")
}

func (s *Server) handleService(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	k, err := s.Sales.ServiceGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(k.Version)
	for name, text := range map[string]string{"name": k.Name, "each": k.Each, "unit_price_minor": currency(set).Plain(k.UnitPriceMinor), "tax_code": k.TaxCode} {
		f.Fill(name, text)
	}
	if k.Seats != nil {
		f.Fill("seats", fmt.Sprint(*k.Seats))
	}
	if k.HeldOn != nil {
		f.Fill("held_on", show.ISODate(*k.HeldOn))
	}
	form := sheetForm{Form: f, Action: "/orders/services/" + idText(id), Button: "Keep it", Parts: one(in(f.Field("name", "What it is", "required")), in(f.Field("each", "By the")), in(f.Field("unit_price_minor", "Price each, without tax", "mode=decimal", "required")),
		choose(f.Choose("tax_code", "Tax", serviceTaxes)), in(f.Field("seats", "Seats, if it is a course", "mode=numeric")), in(f.Field("held_on", "Day of the course", "type=date")), tick(f.Field("away", "No longer offered: put it away")))}
	v := sheetView{Forms: []sheetForm{form}, Links: []sheetLink{{"Services", "/orders/services"}}, History: "/history/service/" + idText(id)}
	if !k.Taken.IsZero() {
		v.Facts = told(sheetFact{Name: "On orders", Text: k.Taken.String()})
	}
	return s.showSheet(c, k.Name, v)
}

func (s *Server) handleServicePost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	k, err := s.serviceIn(c, f)
	if err == nil {
		k.ID, k.Version = id, f.Version
		if f.Text("away") != "" {
			now := s.DB.Now()
			k.PutAwayAt = &now
		}
		_, err = s.Sales.ServiceSave(c.Request().Context(), k)
	}
	if err != nil {
		return again(err, s.handleService)
	}
	return goTo(c, "/orders/services", "Kept.")
}
