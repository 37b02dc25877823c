package rest

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

func (s *Server) registerModelRoutes(g *echo.Group) {
	g.GET("/fits", s.handleFitList)
	g.POST("/fits", s.handleFitAdd)
	g.GET("/fits/:id", s.handleFit)
	g.PUT("/fits/:id", s.handleFitChange)
	g.GET("/models", s.handleModelList)
	g.POST("/models", s.handleModelAdd)
	g.GET("/models/:id", s.handleModel)
	g.PUT("/models/:id", s.handleModelChange)
	g.GET("/models/:id/revisions", s.handleRevisionList)
	g.POST("/models/:id/revisions", s.handleRevisionAdd)
	g.GET("/model-revisions/:id", s.handleRevision)
	g.GET("/box-options", s.handleOptionList)
	g.POST("/box-options", s.handleOptionAdd)
	g.PUT("/box-options/:id", s.handleOptionChange)
}

func (s *Server) handleFitList(c echo.Context) error {
	list, err := s.Workshop.FitList(c.Request().Context())
	if err != nil {
		return err
	}
	out := api.FitList{Items: make([]api.Fit, len(list))}
	for i, x := range list {
		out.Items[i] = fitOf(x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleFit(c echo.Context) error {
	x, err := s.Workshop.FitGet(c.Request().Context(), pathID(c, "id"))
	return s.replyFit(c, http.StatusOK, x, err)
}

func (s *Server) replyFit(c echo.Context, status int, x workshop.Fit, err error) error {
	if err != nil {
		return err
	}
	return replyVersion(c, status, x.Version, fitOf(x))
}

func (s *Server) handleFitAdd(c echo.Context) error { return s.putFit(c, 0, 0, http.StatusCreated) }

func (s *Server) handleFitChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putFit(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putFit(c echo.Context, id int64, version, status int) error {
	var in api.FitNew
	if err := bind(c, &in); err != nil {
		return err
	}
	f := workshop.Fit{ID: id, Version: version, Name: in.Name, Notes: val(in.Notes)}
	for _, z := range in.Sizes {
		f.Sizes = append(f.Sizes, workshop.FitSize{Name: z.Name, NominalMM: dec(z.NominalMm), LowMM: dec(z.LowMm), HighMM: dec(z.HighMm)})
	}
	x, err := s.Workshop.FitSave(c.Request().Context(), f)
	return s.replyFit(c, status, x, err)
}

func fitOf(x workshop.Fit) api.Fit {
	return api.Fit{ID: x.ID, Version: x.Version, Name: x.Name, Notes: x.Notes, InUse: x.InUse, Sizes: gaugesOf(x.Sizes)}
}

func (s *Server) handleModelList(c echo.Context) error {
	list, err := s.Workshop.ModelList(c.Request().Context(), c.QueryParam("all") == "true")
	if err != nil {
		return err
	}
	out := api.ModelList{Items: make([]api.Model, len(list))}
	for i, x := range list {
		out.Items[i] = modelOf(x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleModel(c echo.Context) error {
	x, err := s.Workshop.ModelGet(c.Request().Context(), pathID(c, "id"))
	return s.replyModel(c, http.StatusOK, x, err)
}

func (s *Server) replyModel(c echo.Context, status int, x workshop.Model, err error) error {
	if err != nil {
		return err
	}
	return replyVersion(c, status, x.Version, modelOf(x))
}

func (s *Server) handleModelAdd(c echo.Context) error {
	return s.putModel(c, workshop.Model{}, http.StatusCreated)
}

func (s *Server) handleModelChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	was, err := s.Workshop.ModelGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	was.Version = version
	return s.putModel(c, was, http.StatusOK)
}

func (s *Server) putModel(c echo.Context, was workshop.Model, status int) error {
	var in api.ModelNew
	if err := bind(c, &in); err != nil {
		return err
	}
	x, err := s.Workshop.ModelSave(c.Request().Context(), workshop.Model{ID: was.ID, Version: was.Version, Code: in.Code, Name: in.Name, PutAwayAt: putAwayAt(val(in.PutAway), was.PutAwayAt, s.DB.Now())})
	return s.replyModel(c, status, x, err)
}

func modelOf(x workshop.Model) api.Model {
	return api.Model{ID: x.ID, Version: x.Version, Code: x.Code, Name: x.Name, PutAway: x.PutAwayAt != nil, LatestRevision: x.Latest, LatestRevisionID: x.LatestID}
}

func (s *Server) handleRevisionList(c echo.Context) error {
	list, err := s.Workshop.RevisionList(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	out := api.RevisionList{Items: make([]api.Revision, len(list))}
	for i, x := range list {
		if out.Items[i], err = revisionOf(x); err != nil {
			return err
		}
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleRevision(c echo.Context) error {
	x, err := s.Workshop.RevisionGet(c.Request().Context(), pathID(c, "id"))
	return s.replyRevision(c, http.StatusOK, x, err)
}

func (s *Server) replyRevision(c echo.Context, status int, x workshop.Revision, err error) error {
	if err != nil {
		return err
	}
	out, err := revisionOf(x)
	if err != nil {
		return err
	}
	return reply(c, status, out)
}

// handleRevisionAdd takes the body as the calculation does: strictly, so that a field
// that is not one of its is refused by name.
func (s *Server) handleRevisionAdd(c echo.Context) error {
	var in api.RevisionNew
	if err := bind(c, &in); err != nil {
		return err
	}
	raw, err := json.Marshal(in.Body)
	if err != nil {
		return err
	}
	d := workshop.Drawing{ModelID: pathID(c, "id"), FitID: in.FitID, SerialSection: val(in.SerialSection), Reason: val(in.Reason)}
	if err := decodeModel(raw, &d.Body); err != nil {
		return err
	}
	x, err := s.Workshop.RevisionAdd(c.Request().Context(), d)
	return s.replyRevision(c, http.StatusCreated, x, err)
}

func decodeModel(raw []byte, m *hive.Model) error {
	err := contract.Decode(raw, m)
	if err == nil {
		return nil
	}
	bad, ok := err.(*contract.Error) //nolint:errorlint // Decode's own
	if !ok {
		return err
	}
	var l fault.List
	for _, f := range bad.Fields {
		l.Add("/body"+strings.TrimSuffix(f.Pointer, "/"), "%s", f.Detail)
	}
	return l.Err()
}

func revisionOf(x workshop.Revision) (api.Revision, error) {
	out := api.Revision{ID: x.ID, ModelID: x.ModelID, Model: x.ModelName, Revision: x.Revision, FitID: x.FitID, SerialSection: x.SerialSection, Reason: x.Reason, MadeAt: x.MadeAt}
	raw, err := json.Marshal(x.Body)
	if err == nil {
		err = json.Unmarshal(raw, &out.Body)
	}
	if err != nil {
		return out, fmt.Errorf("write model revision %d: %w", x.ID, err)
	}
	return out, nil
}

func (s *Server) handleOptionList(c echo.Context) error {
	list, err := s.Workshop.OptionList(c.Request().Context(), queryInt(c, "model_id", 0))
	if err != nil {
		return err
	}
	out := api.OptionList{Items: make([]api.Option, len(list))}
	for i, x := range list {
		out.Items[i] = optionOf(x)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handleOptionAdd(c echo.Context) error {
	return s.putOption(c, 0, 0, http.StatusCreated)
}

func (s *Server) handleOptionChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	return s.putOption(c, pathID(c, "id"), version, http.StatusOK)
}

func (s *Server) putOption(c echo.Context, id int64, version, status int) error {
	var in api.OptionNew
	if err := bind(c, &in); err != nil {
		return err
	}
	o := workshop.Option{ID: id, Version: version, Code: in.Code, Name: in.Name, Kind: string(in.Kind), ModelID: in.ModelID, Section: val(in.Section), CureDays: val(in.CureDays),
		PutAwayAt: putAwayAt(val(in.PutAway), nil, s.DB.Now())}
	for _, f := range val(in.Fittings) {
		o.Fittings = append(o.Fittings, hive.Fitting{ID: f.ID, Count: f.Count})
	}
	for _, p := range val(in.Operations) {
		o.Operations = append(o.Operations, hive.Operation{ID: p.ID, SetupMinutes: val(p.SetupMinutes), PieceMinutes: val(p.PieceMinutes), WaitMinutes: val(p.WaitMinutes), Needs: val(p.Needs), OwnerOnly: val(p.OwnerOnly)})
	}
	x, err := s.Workshop.OptionSave(c.Request().Context(), o)
	if err != nil {
		return err
	}
	return replyVersion(c, status, x.Version, optionOf(x))
}

func optionOf(x workshop.Option) api.Option {
	out := api.Option{ID: x.ID, Version: x.Version, Code: x.Code, Name: x.Name, Kind: x.Kind, ModelID: x.ModelID, Section: x.Section, Fittings: fittingsOf(x.Fittings),
		Operations: make([]api.OperationNew, len(x.Operations)), CureDays: x.CureDays, PutAway: x.PutAwayAt != nil}
	for i, p := range x.Operations {
		needs := append([]string{}, p.Needs...)
		out.Operations[i] = api.OperationNew{ID: p.ID, SetupMinutes: &p.SetupMinutes, PieceMinutes: &p.PieceMinutes, WaitMinutes: &p.WaitMinutes, Needs: &needs, OwnerOnly: &p.OwnerOnly}
	}
	return out
}
