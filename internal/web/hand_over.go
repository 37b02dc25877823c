package web

import (
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

type handOverView struct {
	Unit                                           int64
	Buyer, What, Order, OrderHref, Promised, Place string
	Box, Colony, Dusk                              string
	NeedsBox, NeedsColony, Bees, Open              bool
	State                                          string
	Colonies                                       []Choice
	Aside, Form, Fetch                             *Form
}

var handOverPage = definePage[handOverView]("hand-over")

// unitLine gives a unit with its order and line.
func (s *Server) unitLine(c echo.Context) (sales.Unit, sales.Order, sales.OrderLine, error) {
	id, err := pathID(c)
	if err != nil {
		return sales.Unit{}, sales.Order{}, sales.OrderLine{}, err
	}
	ctx := c.Request().Context()
	u, err := s.Sales.UnitGet(ctx, id)
	if err != nil {
		return u, sales.Order{}, sales.OrderLine{}, err
	}
	o, err := s.Sales.OrderOfUnit(ctx, id)
	for _, l := range o.Lines {
		if l.ID == u.OrderLineID {
			return u, o, l, err
		}
	}
	return u, o, sales.OrderLine{}, err
}

func (s *Server) handleHandOver(c echo.Context) error {
	u, o, l, err := s.unitLine(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	v := handOverView{Unit: u.ID, Buyer: o.PartyName, What: l.Description, Order: o.Number, OrderHref: hrefOf("order", o.ID), Promised: show.DateOr(u.DueOn(), ""), Box: text(u.BoxSerial), Colony: text(u.ColonyNumber),
		NeedsBox: u.WantsBox && !u.OwnBox && u.BoxID == nil, NeedsColony: u.WantsColony && u.ColonyID == nil, Bees: u.WantsColony, Open: u.Open(), State: u.State(), Aside: formOf(c, "aside"), Form: formOf(c)}
	v.Form.Fill("received_by", o.PartyName)
	v.Fetch = formOf(c, "fetch")
	v.Fetch.Fill("run_on", show.ISODate(today))
	site := u.SiteID
	if site == nil {
		site = o.SiteID
	}
	var at *sales.Site
	if site != nil {
		x, err := s.Sales.SiteGet(ctx, *site)
		if err != nil {
			return err
		}
		at, v.Place = &x, x.Line()
	}
	dusk, err := answer.DuskAt(ctx, set, at, today)
	if err != nil {
		return err
	}
	if !dusk.IsZero() {
		v.Dusk = dusk.Format("15:04")
	}
	if v.NeedsColony {
		if v.Colonies, err = s.readyColonies(c, l.BeeSpeciesID); err != nil {
			return err
		}
	}
	return handOverPage.show(s, c, "Hand over", v)
}

// readyColonies are the colonies of a kind that nobody was promised and that can go now.
func (s *Server) readyColonies(c echo.Context, species *int64) ([]Choice, error) {
	today, err := s.today(c)
	if err != nil {
		return nil, err
	}
	f := apiary.ColonyFilter{Living: true, OursOnly: true, Unclaimed: true, Limit: 200}
	if species != nil {
		f.SpeciesID = *species
	}
	list, _, err := s.Apiary.ColonyList(c.Request().Context(), f)
	var out []Choice
	for _, x := range list {
		if x.Ready(today) {
			out = append(out, Choice{Value: strconv.FormatInt(x.ID, 10), Text: strings.Join([]string{x.Number, whereWords(x)}, ", ")})
		}
	}
	return out, err
}

func (s *Server) handleHandOverPost(c echo.Context) error {
	u, _, _, err := s.unitLine(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	g := answer.Giving{UnitID: u.ID, ReceivedBy: f.Text("received_by"), BeesIn: intField(f, "bees_in", 1000), BeesOut: intField(f, "bees_out", 1000), Note: f.Text("note"), MassKG: decimalField(f, "mass_kg"), Fixing: f.Text("fixing")}
	if stop, err := strconv.ParseInt(c.QueryParam("stop"), 10, 64); err == nil && stop > 0 {
		g.RunStopID = &stop
	}
	if g.Photo, _, err = f.File("photo"); err != nil {
		return err
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleHandOver)
	}
	given, err := s.Answer.HandOver(c.Request().Context(), g)
	if err != nil {
		return again(err, s.handleHandOver)
	}
	return goTo(c, hrefOf("handover", given.Handover.ID), strings.TrimSpace("Handed over. Give the buyer the sheet. "+strings.Join(given.Warnings, " ")))
}

// handleAsidePost puts a box or a colony aside for the unit.
func (s *Server) handleAsidePost(c echo.Context) error {
	u, _, _, err := s.unitLine(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	f := formOf(c, "aside")
	box, err := s.boxOf(c, f, "box_id")
	if err != nil {
		return err
	}
	colony := f.ID("colony_id")
	if err := f.Err(); err != nil {
		return again(err, s.handleHandOver)
	}
	switch {
	case colony != 0:
		err = s.Answer.ColonyPutAside(ctx, u.ID, colony)
	case box != 0:
		err = s.Answer.BoxPutAside(ctx, u.ID, box)
	default:
		err = fault.Bad("/box_id", "Give the serial of a box, or choose a colony.")
	}
	if err != nil {
		return again(err, s.handleHandOver)
	}
	return goTo(c, "/runs/hand-over/"+strconv.FormatInt(u.ID, 10), "It is put aside.")
}
