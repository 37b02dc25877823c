package rest

import (
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/sales"
)

func (s *Server) registerEnquiryRoutes(g *echo.Group) {
	g.GET("/enquiries", s.handleEnquiryList)
	g.POST("/enquiries", s.handleEnquiryAdd)
	g.GET("/enquiries/:id", s.handleEnquiry)
	g.PUT("/enquiries/:id", s.handleEnquiryChange)
	g.POST("/enquiries/:id/close", s.handleEnquiryClose)
	g.POST("/enquiries/:id/party", s.handleEnquiryParty)
}

func (s *Server) handleEnquiryList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Sales.EnquiryList(c.Request().Context(), sales.EnquiryFilter{Find: q.Find, OpenOnly: c.QueryParam("open") == "true",
		PartyID: queryInt(c, "party_id", 0), Limit: q.Limit, After: q.After})
	if err != nil {
		return err
	}
	if q.CSV {
		rows := make([][]string, len(list))
		for i, e := range list {
			rows[i] = []string{strconv.FormatInt(e.ID, 10), e.HappenedAt.UTC().Format(time.RFC3339), e.Name, e.Number, e.Place, e.Wanted, e.FoundBy, val(dayOut(e.RingAgainOn)), e.ClosedBecause}
		}
		return replyCSV(c, "enquiries", []string{"id", "happened_at", "name", "number", "place", "wanted", "found_by", "ring_again_on", "closed_because"}, rows)
	}
	out := api.EnquiryList{Items: make([]api.Enquiry, len(list)), Next: next(cursor)}
	for i, e := range list {
		out.Items[i] = enquiryOf(e)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleEnquiryAdd(c echo.Context) error {
	return s.putEnquiry(c, sales.Enquiry{}, http.StatusCreated)
}

func (s *Server) handleEnquiryChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	was, err := s.Sales.EnquiryGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return s.putEnquiry(c, sales.Enquiry{ID: was.ID, Version: version, HappenedAt: was.HappenedAt, WishJSON: was.WishJSON}, http.StatusOK)
}

// putEnquiry stores e, of which id, version and instant are known, with what the body
// says. A change opens a closed enquiry again.
func (s *Server) putEnquiry(c echo.Context, e sales.Enquiry, status int) error {
	var in api.EnquiryNew
	if err := bind(c, &in); err != nil {
		return err
	}
	if in.HappenedAt != nil {
		e.HappenedAt = *in.HappenedAt
	}
	e.PartyID, e.Name, e.Number, e.Place, e.Wanted, e.FoundBy = in.PartyID, val(in.Name), val(in.Number), val(in.Place), val(in.Wanted), val(in.FoundBy)
	if in.Wish != nil {
		e.SetWish(wishIn(*in.Wish))
	}
	var err error
	if e.RingAgainOn, err = dayIn(in.RingAgainOn, "/ring_again_on"); err != nil {
		return err
	}
	if e, err = s.Sales.EnquiryPut(c.Request().Context(), e); err != nil {
		return err
	}
	return replyVersion(c, status, e.Version, enquiryOf(e))
}

func (s *Server) handleEnquiry(c echo.Context) error { return s.showEnquiry(c, pathID(c, "id")) }

func (s *Server) showEnquiry(c echo.Context, id int64) error {
	e, err := s.Sales.EnquiryGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, e.Version, enquiryOf(e))
}

func (s *Server) handleEnquiryClose(c echo.Context) error {
	var in api.EnquiryClose
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Sales.EnquiryClose(c.Request().Context(), pathID(c, "id"), in.Because); err != nil {
		return err
	}
	return s.showEnquiry(c, pathID(c, "id"))
}

func (s *Server) handleEnquiryParty(c echo.Context) error {
	p, err := s.Sales.EnquiryParty(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, p.Version, partyOf(p))
}

func enquiryOf(e sales.Enquiry) api.Enquiry {
	return api.Enquiry{ID: e.ID, Version: e.Version, HappenedAt: e.HappenedAt, PartyID: e.PartyID, Name: e.Name, Number: e.Number, Place: e.Place, Wanted: e.Wanted,
		FoundBy: e.FoundBy, Wish: wishOf(e.Wish()), RingAgainOn: dayOut(e.RingAgainOn), ClosedAt: e.ClosedAt, ClosedBecause: e.ClosedBecause}
}

func wishIn(w api.Wish) sales.Wish {
	return sales.Wish{ModelID: val(w.ModelID), TimberID: val(w.TimberID), OptionIDs: val(w.OptionIds), Count: val(w.Count), WithColony: val(w.WithColony),
		BeeSpeciesID: val(w.BeeSpeciesID), OwnBox: val(w.OwnBox), Deliver: val(w.Deliver), DeliverKM: val(w.DeliverKm)}
}

func wishOf(w sales.Wish) api.Wish {
	return api.Wish{ModelID: some(w.ModelID), TimberID: some(w.TimberID), OptionIds: someOf(w.OptionIDs), Count: some(w.Count), WithColony: some(w.WithColony),
		BeeSpeciesID: some(w.BeeSpeciesID), OwnBox: some(w.OwnBox), Deliver: some(w.Deliver), DeliverKm: some(w.DeliverKM)}
}

// some gives a pointer to v, nil when v is nothing of its kind.
func some[T comparable](v T) *T {
	var none T
	if v == none {
		return nil
	}
	return &v
}

func someOf[T any](list []T) *[]T {
	if len(list) == 0 {
		return nil
	}
	return &list
}
