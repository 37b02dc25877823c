package web

import (
	"context"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

func (s *Server) registerRunsPages(r *routes) {
	r.get(access.Runs, "/runs", s.handleRuns)
	r.get(access.Runs, "/runs/new", s.handleRunNew)
	r.post(access.Runs, "/runs/new", s.handleRunNewPost)
	s.registerRoundPages(r)
	r.get(access.Runs, "/runs/:id", s.handleRun)
	r.post(access.Runs, "/runs/:id", s.handleRunPost)
	r.get(access.Runs, "/runs/:id/sheet.pdf", s.handleRunSheet)
	r.get(access.Orders, "/orders/:id/site-sheet.pdf", s.handleSiteSheet)
	r.get(access.Runs, "/runs/hand-over/:id", s.handleHandOver)
	r.post(access.Runs, "/runs/hand-over/:id", s.handleHandOverPost)
	r.post(access.Runs, "/runs/fetch/:id", s.handleFetchPost)
	r.post(access.Runs, "/runs/put-aside/:id", s.handleAsidePost)
	r.get(access.Runs, "/runs/handovers/:id", s.handleHandover)
	r.post(access.Runs, "/runs/handovers/:id", s.handleHandoverPost)
	r.get(access.Runs, "/runs/handovers/:id/sheet.pdf", s.handleHandoverSheet)
}

type runsView struct {
	Closed    []closedRow
	Runs      []runRow
	ToGo      []toGoRow
	Handovers []handoverRow
	Asks      []askRow
}

type closedRow struct{ What, Since, Href string }

type runRow struct {
	Number, Href, On, Kind, About string
	Late                          bool
}

type toGoRow struct {
	Unit                            int64
	Buyer, What, Promised, HandOver string
	Order, OrderHref                string
	Late                            bool
	Chosen                          bool
}

type handoverRow struct{ Number, Href, On, By string }

type askRow struct{ Text, Href, Due string }

var runsPage = definePage[runsView]("runs")

// shownHandovers is how many of the latest handovers the page lists.
const shownHandovers = 20

func (s *Server) handleRuns(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	var v runsView
	closed, err := s.Handover.StillClosed(ctx)
	if err != nil {
		return err
	}
	for _, st := range closed {
		v.Closed = append(v.Closed, closedRow{strings.TrimSpace(st.What + " " + st.PartyName), show.Time(*st.ClosedAt, set.Location()), hrefOf("run", st.RunID)})
	}
	runs, err := s.Handover.RunList(ctx, today.AddDate(0, 0, -14), false, 200)
	if err != nil {
		return err
	}
	for _, n := range runs {
		if n.DoneAt == nil || !n.RunOn.Before(today) {
			v.Runs = append(v.Runs, runRowOf(n, today))
		}
	}
	if v.ToGo, err = s.unitsToGo(c, today, nil); err != nil {
		return err
	}
	handovers, _, err := s.Handover.List(ctx, shownHandovers, "")
	if err != nil {
		return err
	}
	for _, h := range handovers {
		v.Handovers = append(v.Handovers, handoverRow{h.Number, hrefOf("handover", h.ID), show.Date(house.DateIn(h.HappenedAt, set.Location())), h.ReceivedBy})
	}
	asks, err := s.Handover.FollowUpsDue(ctx, today)
	if err != nil {
		return err
	}
	for _, a := range asks {
		v.Asks = append(v.Asks, askRow{strings.TrimSpace(a.PartyName + ", " + a.PartyPhone), "/runs/asks#ask-" + idText(a.ID), show.Date(a.DueOn)})
	}
	return runsPage.show(s, c, "Runs", v)
}

func runRowOf(n handover.Run, today time.Time) runRow {
	row := runRow{Number: n.Number, Href: hrefOf("run", n.ID), On: show.Date(n.RunOn), Kind: n.Kind, Late: n.DoneAt == nil && n.RunOn.Before(today)}
	switch {
	case n.DoneAt != nil:
		row.About = "done"
	case n.PutOffBecause != "":
		row.About = "put off: " + n.PutOffBecause
	}
	return row
}

// unitsToGo lists units for which everything is put aside.
func (s *Server) unitsToGo(c echo.Context, today time.Time, chosen []string) ([]toGoRow, error) {
	units, err := s.Sales.OpenUnits(c.Request().Context(), false, 500)
	var out []toGoRow
	for _, u := range units {
		if !u.Unit.Ready() || (!u.Unit.WantsBox && !u.Unit.WantsColony) {
			continue
		}
		id := strconv.FormatInt(u.Unit.ID, 10)
		row := toGoRow{Unit: u.Unit.ID, Buyer: u.PartyName, What: unitWords(u), Order: u.OrderNumber, OrderHref: hrefOf("order", u.OrderID), Promised: show.DateOr(u.Unit.DueOn(), ""), HandOver: "/runs/hand-over/" + id,
			Late: u.Unit.DueOn() != nil && u.Unit.DueOn().Before(today)}
		for _, x := range chosen {
			row.Chosen = row.Chosen || x == id
		}
		out = append(out, row)
	}
	return out, err
}

func unitWords(u sales.OpenUnit) string {
	parts := []string{u.Line.Description}
	if u.Unit.BoxSerial != nil {
		parts = append(parts, "box "+*u.Unit.BoxSerial)
	}
	if u.Unit.ColonyNumber != nil {
		parts = append(parts, "colony "+*u.Unit.ColonyNumber)
	}
	return strings.Join(parts, ", ")
}

type runNewView struct {
	Form  *Form
	Units []toGoRow
	Kinds []Choice
	Loads []Choice
}

var runNewPage = definePage[runNewView]("run-new")

func (s *Server) handleRunNew(c echo.Context) error {
	today, err := s.today(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("run_on", show.ISODate(today.AddDate(0, 0, 1)))
	chosen := f.All("unit")
	if one := c.QueryParam("unit"); one != "" {
		chosen = append(chosen, one)
	}
	units, err := s.unitsToGo(c, today, chosen)
	if err != nil {
		return err
	}
	return runNewPage.show(s, c, "Plan a run", runNewView{Form: f, Units: units, Kinds: []Choice{{Value: "delivery", Text: "We bring it"}, {Value: "collection", Text: "It is fetched here"}}, Loads: []Choice{{Value: "dawn", Text: "At dawn: close the entrances the evening before"}, {Value: "dusk", Text: "In the evening: close them at dusk of that day"}}})
}

func (s *Server) handleRunNewPost(c echo.Context) error {
	f := formOf(c)
	n := answer.NewRun{Kind: f.Text("kind"), Loads: f.Text("loads"), Driver: f.Text("driver"), Notes: f.Text("notes"), ForecastC: decimalField(f, "forecast_c")}
	if on := f.Date("run_on"); on != nil {
		n.On = *on
	} else {
		f.Wrong("run_on", "Say on which day.")
	}
	for _, u := range f.All("unit") {
		id, err := strconv.ParseInt(u, 10, 64)
		if err != nil {
			f.Wrong("unit_ids", "Choose from the list.")
			continue
		}
		n.UnitIDs = append(n.UnitIDs, id)
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleRunNew)
	}
	run, err := s.Answer.RunMake(c.Request().Context(), n)
	if err != nil {
		return again(err, s.handleRunNew)
	}
	return goTo(c, hrefOf("run", run.ID), "Run "+run.Number+" is planned.")
}

// handleFetchPost plans that the buyer fetches a unit: a collection with one stop.
func (s *Server) handleFetchPost(c echo.Context) error {
	u, _, _, err := s.unitLine(c)
	if err != nil {
		return err
	}
	f := formOf(c, "fetch")
	on := f.Date("run_on")
	if on == nil {
		f.Wrong("run_on", "Say on which day.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleHandOver)
	}
	run, err := s.Answer.RunMake(c.Request().Context(), answer.NewRun{On: *on, Kind: "collection", UnitIDs: []int64{u.ID}})
	if err != nil {
		return again(err, s.handleHandOver)
	}
	return goTo(c, hrefOf("run", run.ID), "They fetch it: "+run.Number+" is on the list.")
}

type runView struct {
	Number, On, Kind, Driver, KM, Forecast, Notes, PutOff, Dusk string
	ID                                                          int64
	Version                                                     int
	Done, Cancelled, Hot                                        bool
	Stops                                                       []stopRow
	Mass, Leave                                                 string
	Mind                                                        []string
	Tell                                                        []tellRow
	Map                                                         *runMap
	Legs                                                        []legRow
	Marks, Later, Heat, Paper                                   *Form
	Permits, AllStops                                           []Choice // for the permit of a stop
}

// legRow is the way to a stop from the place before it.
type legRow struct {
	N        int
	Who, Way string
}

// tellRow is a buyer to be told of the new day, with links that open the phone's own
// messages with the words in them; only told or written to where the book has a number.
type tellRow struct {
	Stop            int64
	Who, Text, Ring string
	SMS, Mail       template.URL
	Told            bool
}

// tellRows words what each buyer is to hear.
func tellRows(list []answer.RunMessage) []tellRow {
	var out []tellRow
	for _, m := range list {
		row := tellRow{Stop: m.StopID, Who: m.Name, Text: m.Text, Ring: dialled(m.Phone), Told: m.Told}
		if row.Ring != "" {
			row.SMS = smsTo(row.Ring, m.Text)
		}
		if m.Email != "" {
			row.Mail = mailTo(answer.Letter{To: m.Email, Subject: "A new day", Body: m.Text})
		}
		out = append(out, row)
	}
	return out
}

// dialled keeps what a phone dials of a number as typed.
func dialled(phone string) string {
	return strings.Map(func(r rune) rune {
		if r == '+' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, phone)
}

type stopRow struct {
	ID                                        int64
	N                                         int
	Who, Phone, Address, What, Closed, Opened string
	Done                                      bool
	OrderHref, HandOver                       string
	Bees                                      bool
	Mass, CloseAt, OpenBy, Held               string
	Closing                                   bool   // of the closing round
	Visit, LookFor, Due                       string // at a host tree: address of the visit's note, what to look at, when it is due
	Mind                                      []string
}

var runPage = definePage[runView]("run")

// hotC is the forecast from which hives in a car need thought, degrees Celsius. Common
// practice, no source; the limit of the kind of bee comes on top.
const hotC = 32

func (s *Server) handleRun(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	n, err := s.Handover.RunGet(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := runView{ID: id, Version: n.Version, Number: n.Number, On: show.Date(n.RunOn), Kind: n.Kind, Driver: n.Driver, Notes: n.Notes, PutOff: n.PutOffBecause, Done: n.DoneAt != nil, Cancelled: n.CancelledAt != nil,
		Marks: formOf(c, "marks"), Later: formOf(c, "later"), Heat: formOf(c, "heat"), Paper: formOf(c, "permit")}
	v.Later.FillVersion(n.Version)
	v.Heat.FillVersion(n.Version)
	if n.ForecastC != nil {
		v.Heat.Fill("forecast_c", strconv.FormatFloat(*n.ForecastC, 'f', -1, 64))
	}
	if n.KM != nil {
		v.KM = strconv.FormatFloat(*n.KM, 'f', 0, 64) + " km there and back"
	}
	if n.ForecastC != nil {
		v.Forecast, v.Hot = strconv.FormatFloat(*n.ForecastC, 'f', -1, 64)+" °C", *n.ForecastC >= hotC
	}
	if n.Kind == "delivery" {
		dusk, err := answer.DuskAt(ctx, set, nil, n.ClosingDay())
		if err != nil {
			return err
		}
		if !dusk.IsZero() {
			v.Dusk = dusk.Format("15:04 on Mon 2 January")
		}
	}
	told, err := s.Answer.RunMessages(ctx, n)
	if err != nil {
		return err
	}
	v.Tell = tellRows(told)
	for _, st := range n.Stops {
		v.Stops = append(v.Stops, stopRowOf(st, set.Location()))
		v.AllStops = append(v.AllStops, Choice{Value: strconv.FormatInt(st.ID, 10), Text: strings.TrimSpace(strconv.Itoa(st.Position) + ". " + stopName(st))})
	}
	if v.Permits, err = s.permitChoices(c, nil); err != nil {
		return err
	}
	if err := s.layCare(ctx, &v, n); err != nil {
		return err
	}
	return runPage.show(s, c, "Run "+n.Number, v)
}

// layCare draws the run, and puts on the page what it asks for while it is to be driven.
func (s *Server) layCare(ctx context.Context, v *runView, n handover.Run) error {
	care, err := s.Answer.RunCare(ctx, n)
	if err != nil {
		return err
	}
	if n.Kind != "collection" {
		v.Map = runMapOf(care.Home, slices.DeleteFunc(slices.Clone(care.Stops), func(c answer.StopCare) bool { return c.Closing }))
	}
	for _, c := range care.Stops {
		if c.Closing {
			continue
		}
		if c.LegKM != nil && v.Map != nil {
			v.Legs = append(v.Legs, legRow{c.Position, c.Who, strconv.FormatFloat(*c.LegKM, 'f', 1, 64) + " km"})
		} else if v.Map != nil {
			v.Legs = append(v.Legs, legRow{c.Position, c.Who, "not known"})
		}
	}
	if v.Done || v.Cancelled {
		return nil
	}
	v.Mass, v.Mind = care.MassWords(), care.Lines
	if care.LeaveBy != nil {
		v.Leave = care.LeaveBy.Format("15:04 on Mon 2 January")
	}
	for i, c := range care.Stops {
		row := &v.Stops[i]
		row.Bees, row.Mind, row.Held = c.Bees, c.Warnings, c.Held
		if c.MassKG != nil {
			row.Mass = strconv.FormatFloat(*c.MassKG, 'f', 1, 64) + " kg"
		}
		row.LookFor = c.LookFor
		if c.DueOn != nil {
			row.Due = show.Date(*c.DueOn)
		}
		if c.CloseAt != nil {
			row.CloseAt = c.CloseAt.Format("15:04 on Mon 2 January")
		}
		if c.OpenBy != nil {
			row.OpenBy = c.OpenBy.Format("15:04 on Mon 2 January")
		}
	}
	return nil
}

func stopRowOf(st handover.Stop, loc *time.Location) stopRow {
	row := stopRow{ID: st.ID, N: st.Position, Closing: st.Closes(), Who: stopName(st), Phone: st.PartyPhone, Address: st.Address, What: st.What, Done: st.DoneAt != nil, Bees: st.ColonyID != nil}
	if st.ClosedAt != nil {
		row.Closed = show.Time(*st.ClosedAt, loc)
	}
	if st.OpenedAt != nil {
		row.Opened = show.Time(*st.OpenedAt, loc)
	}
	if st.OrderID != nil {
		row.OrderHref = hrefOf("order", *st.OrderID)
	}
	if row.What == row.Who {
		row.What = ""
	}
	if st.HostTreeID != nil {
		row.Visit = hrefOf("tree", *st.HostTreeID) + "/visit?stop=" + strconv.FormatInt(st.ID, 10)
	}
	if st.UnitID != nil && !row.Done {
		row.HandOver = "/runs/hand-over/" + strconv.FormatInt(*st.UnitID, 10) + "?stop=" + strconv.FormatInt(st.ID, 10)
	}
	return row
}

// stopName is whom or what a stop calls on.
func stopName(st handover.Stop) string {
	switch {
	case st.PartyName != "":
		return st.PartyName
	case st.TreeName != "":
		return st.TreeName
	}
	return st.What
}

func (s *Server) handleRunPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	here := hrefOf("run", id)
	if f := formOf(c, "marks"); f.Text("mark") != "" {
		if err := s.Answer.StopMarkAnyway(ctx, f.ID("stop"), f.Text("mark"), time.Time{}, f.Text("in_spite")); err != nil {
			return again(err, s.handleRun)
		}
		return goTo(c, here, "Noted.")
	}
	if f := formOf(c, "permit"); f.Text("permit_stop") != "" {
		return s.nameStopPermit(c, id, f)
	}
	if f := formOf(c, "heat"); f.Text("deed") == "forecast" {
		heat := decimalField(f, "forecast_c")
		if err := f.Err(); err != nil {
			return again(err, s.handleRun)
		}
		if err := s.Handover.RunForecast(ctx, id, f.Version, heat); err != nil {
			return again(err, s.handleRun)
		}
		return goTo(c, here, "The forecast is noted.")
	}
	f := formOf(c, "later")
	if f.Text("deed") == "cancel" {
		if err := s.Handover.RunCancel(ctx, id, f.Version); err != nil {
			return again(err, s.handleRun)
		}
		return goTo(c, "/runs", "The run is off the list.")
	}
	to := f.Date("run_on")
	if to == nil {
		f.Wrong("run_on", "Say to which day.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleRun)
	}
	if err := s.Handover.RunPutOff(ctx, id, f.Version, *to, f.Text("because")); err != nil {
		return again(err, s.handleRun)
	}
	return goTo(c, here, "The run is put off. Tell the buyers.")
}

func (s *Server) handleRunSheet(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	pdf, err := s.Answer.RunSheet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return sendPDF(c, "run-"+strconv.FormatInt(id, 10), pdf)
}

func (s *Server) handleSiteSheet(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	pdf, err := s.Answer.SiteSheet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return sendPDF(c, "site-"+strconv.FormatInt(id, 10), pdf)
}

func (s *Server) handleHandoverSheet(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	h, err := s.Handover.Get(c.Request().Context(), id)
	if err != nil {
		return err
	}
	if h.DocumentID == nil {
		return fault.New(fault.NotFound, "No sheet was printed for this handover.")
	}
	return s.sendPaper(c, *h.DocumentID)
}
