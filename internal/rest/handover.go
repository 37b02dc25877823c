package rest

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
)

func (s *Server) registerHandoverRoutes(g *echo.Group) {
	g.GET("/runs", s.handleRunList)
	g.POST("/runs", s.handleRunPlan)
	s.registerRoundRoutes(g)
	g.GET("/runs/:id", s.handleRun)
	g.POST("/runs/:id/put-off", s.handleRunPutOff)
	g.POST("/runs/:id/cancel", s.handleRunCancel)
	g.GET("/runs/:id/care", s.handleRunCare)
	g.PUT("/runs/:id/forecast", s.handleRunForecast)
	g.GET("/runs/:id/messages", s.handleRunMessages)
	g.POST("/run-stops/:id/mark", s.handleStopMark)
	g.GET("/handovers", s.handleHandoverList)
	g.GET("/handovers/:id", s.handleHandover)
	g.POST("/units/:id/hand-over", s.handleHandOver)
	g.GET("/handovers/:id/sheet", s.handleHandoverSheet)
	g.GET("/runs/:id/sheet", s.handleRunSheet)
	g.GET("/orders/:id/site-sheet", s.handleSiteSheet)
	g.POST("/units/:id/put-aside", s.handlePutAside)
	g.POST("/units/:id/free", s.handleFreeAside)
}

func (s *Server) handleRunList(c echo.Context) error {
	today, err := s.today(c)
	if err != nil {
		return err
	}
	list, err := s.Handover.RunList(c.Request().Context(), today, c.QueryParam("past") == "true", listOf(c).Limit)
	if err != nil {
		return err
	}
	out := api.RunList{Items: make([]api.Run, len(list))}
	for i, n := range list {
		out.Items[i] = runOf(n)
	}
	return reply(c, http.StatusOK, out)
}

func runOf(n handover.Run) api.Run {
	out := api.Run{ID: n.ID, Version: n.Version, Number: n.Number, RunOn: *dayOut(&n.RunOn), Kind: n.Kind, Loads: n.Loads, Driver: n.Driver, Km: narrow(n.KM), ForecastC: narrow(n.ForecastC), Notes: n.Notes,
		PutOffBecause: some(n.PutOffBecause), Done: n.DoneAt != nil, Cancelled: n.CancelledAt != nil, Stops: []api.RunStop{}}
	for _, st := range n.Stops {
		out.Stops = append(out.Stops, api.RunStop{ID: st.ID, Position: st.Position, Kind: st.Kind, ClosedByID: st.ClosedByID, HostTreeID: st.HostTreeID, PermitID: st.PermitID, UnitID: st.UnitID, ColonyID: st.ColonyID, What: st.What, Buyer: st.PartyName, Phone: st.PartyPhone, Address: st.Address,
			ClosedAt: st.ClosedAt, OpenedAt: st.OpenedAt, Done: st.DoneAt != nil, ToldAt: st.ToldAt, SeenOpenAt: st.SeenOpenAt})
	}
	return out
}

func (s *Server) handleRunPlan(c echo.Context) error {
	var in api.RunNew
	if err := bind(c, &in); err != nil {
		return err
	}
	on, err := dayIn(&in.RunOn, "/run_on")
	if err != nil {
		return err
	}
	n, err := s.Answer.RunMake(c.Request().Context(), answer.NewRun{On: *on, Kind: string(val(in.Kind)), Loads: string(val(in.Loads)), UnitIDs: in.UnitIds, Driver: val(in.Driver), ForecastC: wide(in.ForecastC), Notes: val(in.Notes)})
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusCreated, n.Version, runOf(n))
}

func (s *Server) handleRun(c echo.Context) error { return s.showRun(c, nil) }

// showRun replies with the run of the path after doing deed to it.
func (s *Server) showRun(c echo.Context, deed func(ctx context.Context, id int64) error) error {
	ctx, id := c.Request().Context(), pathID(c, "id")
	if deed != nil {
		if err := deed(ctx, id); err != nil {
			return err
		}
	}
	n, err := s.Handover.RunGet(ctx, id)
	if err != nil {
		return err
	}
	return replyVersion(c, http.StatusOK, n.Version, runOf(n))
}

func (s *Server) handleRunPutOff(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.RunPutOff
	if err := bind(c, &in); err != nil {
		return err
	}
	on, err := dayIn(&in.RunOn, "/run_on")
	if err != nil {
		return err
	}
	return s.showRun(c, func(ctx context.Context, id int64) error {
		return s.Handover.RunPutOff(ctx, id, version, *on, in.Because)
	})
}

func (s *Server) handleRunCancel(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.showRun(c, func(ctx context.Context, id int64) error { return s.Handover.RunCancel(ctx, id, version) })
}

func (s *Server) handleRunForecast(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.RunForecast
	if err := bind(c, &in); err != nil {
		return err
	}
	return s.showRun(c, func(ctx context.Context, id int64) error {
		return s.Handover.RunForecast(ctx, id, version, wide(in.ForecastC))
	})
}

func (s *Server) handleRunCare(c echo.Context) error {
	ctx := c.Request().Context()
	n, err := s.Handover.RunGet(ctx, pathID(c, "id"))
	if err != nil {
		return err
	}
	care, err := s.Answer.RunCare(ctx, n)
	if err != nil {
		return err
	}
	out := api.RunCare{MassKg: float32(care.MassKG), MassUnknown: care.MassUnknown, LeaveBy: care.LeaveBy, Lines: append([]string{}, care.Lines...), Stops: []api.RunStopCare{}}
	for _, x := range care.Stops {
		out.Stops = append(out.Stops, api.RunStopCare{StopID: x.StopID, Bees: x.Bees, Closing: some(x.Closing), LookFor: some(x.LookFor), DueOn: dayOut(x.DueOn), MovedKm: narrow(x.KM), LegKm: narrow(x.LegKM), FlightRangeM: x.FlightM, MassKg: narrow(x.MassKG), CloseAt: x.CloseAt, OpenBy: x.OpenBy, Warnings: append([]string{}, x.Warnings...)})
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleRunMessages(c echo.Context) error {
	ctx := c.Request().Context()
	n, err := s.Handover.RunGet(ctx, pathID(c, "id"))
	if err != nil {
		return err
	}
	list, err := s.Answer.RunMessages(ctx, n)
	if err != nil {
		return err
	}
	out := api.RunMessageList{Items: make([]api.RunMessage, len(list))}
	for i, m := range list {
		out.Items[i] = api.RunMessage{StopID: m.StopID, Buyer: m.Name, Phone: m.Phone, Email: m.Email, Text: m.Text, Told: m.Told}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleStopMark(c echo.Context) error {
	var in api.StopMark
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Answer.StopMarkAnyway(c.Request().Context(), pathID(c, "id"), string(in.Mark), val(in.HappenedAt), val(in.InSpite)); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func (s *Server) handleHandoverList(c echo.Context) error {
	q := listOf(c)
	list, cursor, err := s.Handover.List(c.Request().Context(), q.Limit, q.After)
	if err != nil {
		return err
	}
	out := api.HandoverList{Items: make([]api.Handover, len(list)), Next: next(cursor)}
	for i, h := range list {
		out.Items[i] = handoverOf(h, nil)
	}
	return reply(c, http.StatusOK, out)
}

func handoverOf(h handover.Handover, asks []handover.FollowUp) api.Handover {
	out := api.Handover{ID: h.ID, Version: h.Version, Number: h.Number, UnitID: h.UnitID, BoxID: h.BoxID, ColonyID: h.ColonyID, HappenedAt: h.HappenedAt, ReceivedBy: h.ReceivedBy, BeesIn: h.BeesIn, BeesOut: h.BeesOut,
		CareKey: h.CareKey, Note: h.Note, MassKg: narrow(h.MassKG), Guarantee: some(h.Guarantee), GuaranteeBoxUntil: dayOut(h.BoxUntil), GuaranteeColonyUntil: dayOut(h.ColonyUntil), Sheet: h.DocumentID != nil, FollowUps: []api.FollowUp{}}
	for _, f := range asks {
		out.FollowUps = append(out.FollowUps, followUpOf(f))
	}
	return out
}

func (s *Server) handleHandover(c echo.Context) error {
	h, err := s.Handover.Get(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return s.replyHandover(c, http.StatusOK, h)
}

func (s *Server) replyHandover(c echo.Context, status int, h handover.Handover) error {
	asks, err := s.Handover.FollowUpsOf(c.Request().Context(), h.ID)
	if err != nil {
		return err
	}
	return replyVersion(c, status, h.Version, handoverOf(h, asks))
}

func (s *Server) handlePutAside(c echo.Context) error {
	var in api.PutAside
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx, id := c.Request().Context(), pathID(c, "id")
	var err error
	switch {
	case in.BoxID != nil && in.ColonyID == nil:
		err = s.Answer.BoxPutAside(ctx, id, *in.BoxID)
	case in.ColonyID != nil && in.BoxID == nil:
		err = s.Answer.ColonyPutAside(ctx, id, *in.ColonyID)
	default:
		err = fault.Bad("/box_id", "Name a box or a colony, one of the two.")
	}
	if err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func (s *Server) handleFreeAside(c echo.Context) error {
	var in api.FreeAside
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Answer.UnitFree(c.Request().Context(), pathID(c, "id"), val(in.Box), val(in.Colony), val(in.Because)); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func (s *Server) handleHandOver(c echo.Context) error {
	var in api.HandOver
	if err := bind(c, &in); err != nil {
		return err
	}
	ctx := c.Request().Context()
	g, err := s.Answer.HandOver(ctx, answer.Giving{UnitID: pathID(c, "id"), BoxID: in.BoxID, ColonyID: in.ColonyID, SiteID: in.SiteID, RunStopID: in.RunStopID, HappenedAt: val(in.HappenedAt), ReceivedBy: in.ReceivedBy,
		BeesIn: in.BeesIn, BeesOut: in.BeesOut, Photo: val(in.Photo), Note: val(in.Note), MassKG: wide(in.MassKg), Fixing: val(in.Fixing)})
	if err != nil {
		return err
	}
	asks, err := s.Handover.FollowUpsOf(ctx, g.Handover.ID)
	if err != nil {
		return err
	}
	warnings := g.Warnings
	if warnings == nil {
		warnings = []string{}
	}
	return replyVersion(c, http.StatusCreated, g.Handover.Version, api.HandedOver{Handover: handoverOf(g.Handover, asks), Warnings: warnings})
}

func (s *Server) handleHandoverSheet(c echo.Context) error {
	h, err := s.Handover.Get(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	if h.DocumentID == nil {
		return fault.New(fault.NotFound, "No sheet was printed for this handover.")
	}
	p, err := s.House.PaperGet(c.Request().Context(), *h.DocumentID)
	if err != nil {
		return err
	}
	return replyPDF(c, p.Kind+"-"+p.Number, p.Bytes)
}

func (s *Server) handleRunSheet(c echo.Context) error {
	id := pathID(c, "id")
	pdf, err := s.Answer.RunSheet(c.Request().Context(), id)
	return replySheet(c, pdf, "run-"+itoa(int(id)), err)
}

func (s *Server) handleSiteSheet(c echo.Context) error {
	id := pathID(c, "id")
	pdf, err := s.Answer.SiteSheet(c.Request().Context(), id)
	return replySheet(c, pdf, "site-"+itoa(int(id)), err)
}
