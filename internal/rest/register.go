package rest

import (
	"fmt"
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/answer"
	"kerfbook/internal/door"
	"kerfbook/internal/house"
	"kerfbook/internal/workshop"
)

func (s *Server) registerRegisterRoutes(g *echo.Group) {
	g.GET("/serials/:serial/like", s.handleBoxesLike)
	g.GET("/found/:serial", s.handleFoundBox)
	g.GET("/boxes/:id/owners", s.handleBoxOwners)
	g.POST("/boxes/:id/owners", s.handleBoxSoldOn)
	g.POST("/boxes/:id/stolen", s.handleBoxStolen)
	g.POST("/boxes/:id/recovered", s.handleBoxRecovered)
	g.GET("/boxes/:id/reports", s.handleStolenReports)
	g.GET("/stolen-boxes", s.handleStolenBoxes)
	g.PUT("/stolen-reports/:id", s.handleStolenReportChange)
	g.GET("/boxes/:id/register-papers", s.handleRegisterPapers)
	g.POST("/boxes/:id/register-papers", s.handleRegisterPaperIssue)
	g.GET("/boxes/:id/register-papers/:number", s.handleRegisterPaper)
}

func (s *Server) handleBoxesLike(c echo.Context) error {
	list, err := s.Workshop.BoxesLike(c.Request().Context(), c.Param("serial"))
	if err != nil {
		return err
	}
	out := api.BoxList{Items: make([]api.Box, len(list))}
	for i, b := range list {
		out.Items[i] = boxOf(c, b)
	}
	return reply(c, http.StatusOK, out)
}

// handleFoundBox answers strangers; it is braked before the book is asked.
func (s *Server) handleFoundBox(c echo.Context) error {
	r := c.Request()
	if err := s.Access.Look(r.Context(), door.Address(r)); err != nil {
		return err
	}
	f, err := s.Answer.FoundBox(r.Context(), c.Param("serial"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusOK, api.FoundBox{State: api.FoundBoxState(f.State), StolenOn: dayOut(f.StolenOn), Workshop: f.Workshop, Phone: f.Phone})
}

func (s *Server) handleBoxOwners(c echo.Context) error {
	b, err := s.Workshop.BoxGet(c.Request().Context(), pathID(c, "id"))
	return s.replyOwners(c, b, nil, err)
}

func (s *Server) replyOwners(c echo.Context, b workshop.Box, said []string, err error) error {
	if err != nil {
		return err
	}
	set, err := s.House.SettingsGet(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.BoxOwnerList{Items: make([]api.BoxHand, len(b.Owners)), Said: append([]string{}, said...)}
	for i, o := range b.Owners {
		out.Items[i] = api.BoxHand{PartyID: o.PartyID, Name: o.PartyName, FromAt: o.FromAt, ToAt: o.ToAt, Note: o.Note, RecordedAt: o.RecordedAt}
		if o.PartyID == nil {
			out.Items[i].Name = set.Name
		}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleBoxSoldOn(c echo.Context) error {
	var in api.BoxSoldOn
	if err := bind(c, &in); err != nil {
		return err
	}
	b, said, err := s.Answer.SellOn(c.Request().Context(), answer.SoldOn{BoxID: pathID(c, "id"), PartyID: in.PartyID, Name: val(in.Name), Phone: val(in.Phone), BackToUs: val(in.BackToWorkshop), At: s.happened(in.At),
		Note: val(in.Note), WithBees: val(in.WithBees), SiteID: in.SiteID, Place: val(in.Place), PermitNumber: val(in.PermitNumber)})
	return s.replyOwners(c, b, said, err)
}

func (s *Server) handleBoxStolen(c echo.Context) error {
	var in api.StolenReportNew
	if err := bind(c, &in); err != nil {
		return err
	}
	_, err := s.Answer.BoxStolen(c.Request().Context(), workshop.StolenReport{BoxID: pathID(c, "id"), StolenAt: s.happened(in.StolenAt), ReportedBy: in.ReportedBy, PoliceReference: val(in.PoliceReference), Note: val(in.Note)})
	if err != nil {
		return err
	}
	return s.handleStolenReports(c)
}

func (s *Server) handleBoxRecovered(c echo.Context) error {
	var in api.BoxRecovered
	if err := bind(c, &in); err != nil {
		return err
	}
	if _, err := s.Answer.BoxRecovered(c.Request().Context(), pathID(c, "id"), s.happened(in.At), val(in.How)); err != nil {
		return err
	}
	return s.handleStolenReports(c)
}

func (s *Server) handleStolenReports(c echo.Context) error {
	b, err := s.Workshop.BoxGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	list, err := s.Workshop.ReportsOf(c.Request().Context(), b.ID)
	return replyReports(c, list, err)
}

func (s *Server) handleStolenBoxes(c echo.Context) error {
	list, err := s.Workshop.StolenNow(c.Request().Context())
	return replyReports(c, list, err)
}

func replyReports(c echo.Context, list []workshop.StolenReport, err error) error {
	if err != nil {
		return err
	}
	out := api.StolenReportList{Items: make([]api.StolenReport, len(list))}
	for i, x := range list {
		out.Items[i] = api.StolenReport{ID: x.ID, Version: x.Version, BoxID: x.BoxID, Serial: x.Serial, StolenAt: x.StolenAt, ReportedBy: x.ReportedBy, PoliceReference: x.PoliceReference, Note: x.Note,
			RecordedAt: x.RecordedAt, RecoveredAt: x.RecoveredAt, RecoveredHow: some(x.RecoveredHow), AskedAt: x.AskedAt}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleStolenReportChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.StolenReportChange
	if err := bind(c, &in); err != nil {
		return err
	}
	if err := s.Workshop.ReportChange(c.Request().Context(), workshop.StolenReport{ID: pathID(c, "id"), Version: version, PoliceReference: val(in.PoliceReference), Note: val(in.Note)}); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

func registerPaperOf(p house.Paper) api.RegisterPaper {
	return api.RegisterPaper{Serial: p.Number, Issue: p.Revision, Number: fmt.Sprintf("%s-%d", p.Number, p.Revision), IssuedAt: p.IssuedAt}
}

func (s *Server) handleRegisterPapers(c echo.Context) error {
	b, err := s.Workshop.BoxGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	list, err := s.House.PapersOf(c.Request().Context(), "register", b.Serial)
	if err != nil {
		return err
	}
	out := api.RegisterPaperList{Items: make([]api.RegisterPaper, len(list))}
	for i, p := range list {
		out.Items[i] = registerPaperOf(p)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleRegisterPaperIssue(c echo.Context) error {
	p, err := s.Answer.RegisterPaper(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, registerPaperOf(p))
}

func (s *Server) handleRegisterPaper(c echo.Context) error {
	b, err := s.Workshop.BoxGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	p, err := s.House.PaperRevision(c.Request().Context(), "register", b.Serial, int(pathID(c, "number")))
	return replySheet(c, p.Bytes, fmt.Sprintf("register-%s-%d", p.Number, p.Revision), err)
}
