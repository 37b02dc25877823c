package rest

import (
	"context"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/apiary"
)

func (s *Server) handleColonyDescent(c echo.Context) error {
	d, err := s.Apiary.DescentOf(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	out := api.ColonyDescent{ColonyID: d.ColonyID, LeftOut: d.LeftOut, Kin: []api.ColonyKin{}, Ties: []api.ColonyTie{}}
	for _, k := range d.Kin {
		out.Kin = append(out.Kin, api.ColonyKin{ColonyID: k.ColonyID, Number: k.Number, Name: k.Name, Step: k.Step, Stands: k.Stands(), Words: k.Words(), BeganOn: dayOut(k.BeganOn), BeganAbout: some(k.BeganAbout)})
	}
	for _, t := range d.Ties {
		out.Ties = append(out.Ties, api.ColonyTie{ColonyID: t.ColonyID, ParentID: t.ParentID, Kind: t.Kind, HappenedOn: dayOut(t.HappenedOn)})
	}
	return reply(c, http.StatusOK, out)
}

// handleColonyChange puts right what is known of a colony.
func (s *Server) handleColonyChange(c echo.Context) error {
	version, err := ifMatch(c)
	if err != nil {
		return err
	}
	var in api.ColonyFacts
	if err := bind(c, &in); err != nil {
		return err
	}
	f := apiary.ColonyFacts{ID: pathID(c, "id"), Version: version, Name: val(in.Name), BeganAbout: val(in.BeganAbout), Origin: val(in.Origin), Notes: val(in.Notes)}
	if f.BeganOn, err = dayIn(in.BeganOn, "/began_on"); err != nil {
		return err
	}
	x, err := s.Apiary.ColonyPut(c.Request().Context(), f)
	if err != nil {
		return err
	}
	return s.replyColony(c, http.StatusOK, x)
}

func (s *Server) handleColonyBrood(c echo.Context) error { return s.joinColony(c, s.Apiary.BroodGive) }

func (s *Server) handleColonyUnite(c echo.Context) error { return s.joinColony(c, s.Apiary.Unite) }

func (s *Server) joinColony(c echo.Context, join func(context.Context, apiary.Joining) error) error {
	var in api.ColonyJoining
	if err := bind(c, &in); err != nil {
		return err
	}
	id := pathID(c, "id")
	if err := join(c.Request().Context(), apiary.Joining{FromID: id, ToID: in.ToID, At: val(in.HappenedAt), About: val(in.HappenedAbout), Note: val(in.Note), InSpite: val(in.InSpite)}); err != nil {
		return err
	}
	return s.replyColonyNow(c, id)
}

// replyColonyNow answers with a colony as it is after a deed.
func (s *Server) replyColonyNow(c echo.Context, id int64) error {
	x, err := s.Apiary.ColonyGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	return s.replyColony(c, http.StatusOK, x)
}

func (s *Server) handleColonyFinding(c echo.Context) error {
	var in api.ColonyFindingNew
	if err := bind(c, &in); err != nil {
		return err
	}
	f := apiary.Finding{ColonyID: pathID(c, "id"), SpeciesID: in.SpeciesID, Sure: in.Sure == nil || *in.Sure, FoundBy: val(in.FoundBy)}
	on, err := dayIn(in.FoundOn, "/found_on")
	if err != nil {
		return err
	}
	if on != nil {
		f.FoundOn = *on
	}
	if err := s.Apiary.FindingNote(c.Request().Context(), f); err != nil {
		return err
	}
	return s.replyColonyNow(c, f.ColonyID)
}

func (s *Server) findingsOf(c echo.Context, id int64) (*[]api.ColonyFinding, error) {
	list, err := s.Apiary.FindingsOf(c.Request().Context(), id)
	out := []api.ColonyFinding{}
	for _, f := range list {
		out = append(out, api.ColonyFinding{SpeciesID: f.SpeciesID, Species: f.SpeciesName, FoundOn: f.FoundOn.Format(time.DateOnly), Sure: f.Sure, FoundBy: f.FoundBy})
	}
	return &out, err
}

// colonyGone ends a colony on a day, noon of it unless it is today or not said.
func (s *Server) colonyGone(c echo.Context, e apiary.Ending, on *time.Time) error {
	set, err := s.House.SettingsGet(c.Request().Context())
	if err != nil {
		return err
	}
	if on != nil && !on.Equal(set.Today(s.DB.Now())) {
		e.At = time.Date(on.Year(), on.Month(), on.Day(), 12, 0, 0, 0, set.Location())
	}
	return s.Apiary.EndIn(c.Request().Context(), e)
}
