package web

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

func (s *Server) registerCalendarPages(r *routes) {
	r.get(access.Settings, "/settings/calendars", s.handleCalendars)
	r.post(access.Settings, "/settings/calendars", s.handleCalendarPost)
	r.post(access.Settings, "/settings/calendars/:id", s.handleCalendarWithdraw)
	r.open(http.MethodGet, "/calendar/:file", s.handleCalendar)
}

var feedWords = map[string]string{"builds": "Work at the bench, as planned", "ready": "Days on which builds and packs are ready", "handovers": "Pieces promised to buyers", "runs": "Runs", "visits": "Visits to host trees", "away": "Days away"}

// handleCalendars lists the calendar feeds, with a form for another.
func (s *Server) handleCalendars(c echo.Context) error {
	list, err := s.House.FeedList(c.Request().Context())
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	base := strings.TrimRight(set.PublicURL, "/")
	if base == "" {
		base = c.Scheme() + "://" + c.Request().Host
	}
	t := sheetTable{Heads: heads("Calendar", "Address", "Made", ""), Empty: "No calendar is given out."}
	for _, f := range list {
		state := sheetCell{Buttons: []sheetButton{button("/settings/calendars/"+idText(f.ID), "Withdraw", "Withdraw the calendar "+f.Name)}}
		address := linkCell(base+"/calendar/"+f.Key+".ics", "/calendar/"+f.Key+".ics")
		if f.WithdrawnAt != nil {
			state, address = cellOf("withdrawn "+show.Time(*f.WithdrawnAt, set.Location())), cellOf("dead")
		}
		t.add(cellOf(f.Name+feedShows(f)), address, cellOf(show.Time(f.MadeAt, set.Location())), state)
	}
	f := formOf(c)
	parts := []sheetPart{{Fields: []kindField{in(f.Field("name", "Who reads it", "hint=Such as: my phone.", "required"))}}, {Legend: "What it shows (nothing ticked: all)"}}
	for _, kind := range house.FeedKinds {
		parts[1].Fields = append(parts[1].Fields, tick(f.Field("shows."+kind, feedWords[kind])))
	}
	parts = append(parts, sheetPart{Fields: []kindField{tick(f.Field("phones", "With the buyers' phone numbers"))}})
	return s.showSheet(c, "Calendars", sheetView{Lead: "A calendar program on a phone or a desk reads these addresses. Whoever knows an address sees what it shows, without signing in: give it to nobody else, and withdraw it when a phone is lost. Prices never stand in it.",
		Links: []sheetLink{{"Settings", "/settings"}}, Tables: []sheetTable{t}, Forms: []sheetForm{{Title: "Another calendar", Action: "/settings/calendars", Form: f, Parts: parts, Button: "Make its address"}}})
}

func feedShows(f house.Feed) string {
	words := strings.Join(f.Shows, ", ")
	if words == "" {
		words = "all"
	}
	if f.Phones {
		words += ", with phone numbers"
	}
	return " (" + words + ")"
}

func (s *Server) handleCalendarPost(c echo.Context) error {
	f := formOf(c)
	feed := house.Feed{Name: f.Text("name"), Phones: f.Ticked("phones")}
	for _, kind := range house.FeedKinds {
		if f.Ticked("shows." + kind) {
			feed.Shows = append(feed.Shows, kind)
		}
	}
	if _, err := s.House.FeedMake(c.Request().Context(), feed); err != nil {
		return again(err, s.handleCalendars)
	}
	return goTo(c, "/settings/calendars", "Its address stands in the list. Type or copy it into the calendar program.")
}

func (s *Server) handleCalendarWithdraw(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	feed, err := s.House.FeedWithdraw(c.Request().Context(), id)
	if err != nil {
		return again(err, s.handleCalendars)
	}
	return goTo(c, "/settings/calendars", "The address of "+feed.Name+" is dead now.")
}

// handleCalendar is the feed itself; whoever knows the address reads it.
func (s *Server) handleCalendar(c echo.Context) error {
	key, isFeed := strings.CutSuffix(c.Param("file"), ".ics")
	gone := fault.New(fault.NotFound, "There is no calendar at this address. It may have been withdrawn.")
	if !isFeed {
		return gone
	}
	ctx := c.Request().Context()
	feed, err := s.House.FeedByKey(ctx, key)
	if fault.Is(err, fault.NotFound) {
		return gone
	}
	if err != nil {
		return err
	}
	body, err := s.Answer.Calendar(ctx, feed)
	if err != nil {
		return err
	}
	h := c.Response().Header()
	h.Set("Cache-Control", "private")
	h.Set("X-Robots-Tag", "noindex")
	h.Set("Content-Disposition", `inline; filename="kerfbook.ics"`)
	return c.Blob(http.StatusOK, "text/calendar; charset=utf-8", body)
}
