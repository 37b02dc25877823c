package web

import (
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
)

type findingRow struct{ Kind, On, By string }

// colonyForms fills the forms of a colony's page with what is known and with today.
func (s *Server) colonyForms(c echo.Context, v *colonyView, x apiary.Colony, today time.Time) error {
	for _, f := range []*Form{v.Note, v.Join, v.Mark} {
		f.Fill("happened_at", show.ISODate(today))
	}
	v.Found.Fill("found_on", show.ISODate(today))
	v.Found.FillTick("sure", true)
	if x.SpeciesID != nil {
		v.Found.Fill("species_id", strconv.FormatInt(*x.SpeciesID, 10))
	}
	v.Facts.FillVersion(x.Version)
	for name, value := range map[string]string{"name": x.Name, "began_about": x.BeganAbout, "origin": x.Origin, "notes": x.Notes} {
		v.Facts.Fill(name, value)
	}
	if x.BeganOn != nil {
		v.Facts.Fill("began_on", show.ISODate(*x.BeganOn))
	}
	var err error
	if v.Bees, err = s.speciesChoices(c); err != nil {
		return err
	}
	found, err := s.Apiary.FindingsOf(c.Request().Context(), x.ID)
	for _, f := range found {
		row := findingRow{f.SpeciesName, show.Date(f.FoundOn), f.FoundBy}
		if !f.Sure {
			row.Kind += " (not sure)"
		}
		v.Findings = append(v.Findings, row)
	}
	return err
}

// when reads the day in a form, noon of it unless it is today, and the words of a time
// that is known about, which win.
func (s *Server) when(c echo.Context, f *Form) (at time.Time, about string, err error) {
	if about = f.Text("happened_about"); about != "" {
		return time.Time{}, about, nil
	}
	on := f.Date("happened_at")
	set, err := s.settings(c)
	if err != nil || on == nil || on.Equal(set.Today(s.DB.Now())) {
		return time.Time{}, "", err
	}
	return time.Date(on.Year(), on.Month(), on.Day(), 12, 0, 0, 0, set.Location()), "", nil
}

func (s *Server) noteColony(c echo.Context, id int64) (string, error) {
	f := formOf(c, "note")
	e := apiary.Event{ColonyID: id, Kind: f.Text("kind"), Note: f.Text("note")}
	if f.Text("mass_kg") != "" {
		m, _ := f.Decimal("mass_kg", 2).Float64()
		e.MassKG = &m
	}
	var err error
	if e.HappenedAt, e.HappenedAbout, err = s.when(c, f); err != nil {
		return "", err
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	_, err = s.Apiary.EventNote(c.Request().Context(), e)
	return "Noted.", err
}

// joinColony notes that the colony gave brood to another, or was united into it.
func (s *Server) joinColony(c echo.Context, id int64) (string, error) {
	f := formOf(c, "join")
	j := apiary.Joining{FromID: id, Note: f.Text("note"), InSpite: f.Text("in_spite")}
	other, err := s.Apiary.ColonyByNumber(c.Request().Context(), f.Text("to_id"))
	switch {
	case fault.Is(err, fault.NotFound):
		f.Wrong("to_id", "There is no colony of this number.")
	case err != nil:
		return "", err
	}
	j.ToID = other.ID
	if j.At, j.About, err = s.when(c, f); err != nil {
		return "", err
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	if f.Text("deed") == "united" {
		return "It is united into " + other.Number + ".", s.Apiary.Unite(c.Request().Context(), j)
	}
	return "It gave brood to " + other.Number + ".", s.Apiary.BroodGive(c.Request().Context(), j)
}

// foundColony notes which kind of bee it was found to be.
func (s *Server) foundColony(c echo.Context, id int64) (string, error) {
	f := formOf(c, "found")
	n := apiary.Finding{ColonyID: id, SpeciesID: f.ID("species_id"), Sure: f.Ticked("sure"), FoundBy: f.Text("found_by")}
	if on := f.Date("found_on"); on != nil {
		n.FoundOn = *on
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	return "The finding is noted.", s.Apiary.FindingNote(c.Request().Context(), n)
}

// factsColony puts right what is known of a colony.
func (s *Server) factsColony(c echo.Context, id int64) (string, error) {
	f := formOf(c, "facts")
	n := apiary.ColonyFacts{ID: id, Version: f.Version, Name: f.Text("name"), BeganOn: f.Date("began_on"), BeganAbout: f.Text("began_about"), Origin: f.Text("origin"), Notes: f.Text("notes")}
	if err := f.Err(); err != nil {
		return "", err
	}
	_, err := s.Apiary.ColonyPut(c.Request().Context(), n)
	return "Kept.", err
}

func (s *Server) markColony(c echo.Context, id int64) (string, error) {
	f := formOf(c, "mark")
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return "", err
	}
	at, about, err := s.when(c, f)
	if err != nil {
		return "", err
	}
	if err := f.Err(); err != nil {
		return "", err
	}
	switch f.Text("mark") {
	case "settled":
		on := set.Today(s.DB.Now())
		if day := f.Date("happened_at"); day != nil {
			on = *day
		}
		return "It is settled and can be handed over.", s.Apiary.Settle(ctx, id, on)
	case "held back":
		return "It is held back: nobody can be promised it.", s.Apiary.HoldBack(ctx, id, f.Text("because"))
	case "released":
		return "It is no longer held back.", s.Apiary.Release(ctx, id)
	case "keep", "give":
		keep := f.Text("mark") == "keep"
		said := "It may be given away; the line for bees counts on it."
		if keep {
			said = "It is kept to be split and not proposed to anybody; the line counts on its splits."
		}
		return said, s.Apiary.KeepToSplit(ctx, id, &keep)
	case "gone":
		return "Noted as gone.", s.Apiary.EndIn(ctx, apiary.Ending{ColonyID: id, How: f.Text("because"), At: at, About: about})
	}
	return "", fault.Bad("/mark", "Choose what is so.")
}
