package web

import (
	"fmt"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerEveningPages(r *routes) {
	r.get(access.Bench, "/bench/evening", s.handleEvening)
	r.post(access.Bench, "/bench/evening", s.handleEveningPost)
	r.post(access.Bench, "/bench/clock/stopped/:at", s.handleClockStopped)
	r.get(access.Bench, "/bench/spells/:id", s.handleSpell)
	r.post(access.Bench, "/bench/spells/:id/:deed", s.handleSpellPost)
}

// nextLead offers the next step to start with one thumb, when no time runs.
func (s *Server) nextLead(c echo.Context, v *sheetView) error {
	if len(v.Buttons) > 0 {
		return nil
	}
	n, err := s.Workshop.NextStep(c.Request().Context(), person(c).Role == access.Owner)
	if fault.Is(err, fault.NotFound) {
		return nil
	}
	if err != nil {
		return err
	}
	v.Lead = fmt.Sprintf("Next: %s of %s, %s.", plain(n.Name), n.BuildNumber, n.What)
	b := startButton(n)
	b.Main = true
	v.Buttons = []sheetButton{b}
	return nil
}

// eveningDay is the day that is asked about: today, or the one in the address.
func (s *Server) eveningDay(c echo.Context, f *Form) (time.Time, error) {
	day, err := s.today(c)
	if err != nil {
		return day, err
	}
	on := c.QueryParam("on")
	if text := f.Text("on"); text != "" {
		on = text
	}
	if on == "" {
		return day, nil
	}
	asked, err := time.Parse(time.DateOnly, on)
	if err != nil || asked.After(day) || asked.Year() < 1900 {
		return day, fault.Bad("/on", "This must be today or a day that is past, such as %s.", show.ISODate(day))
	}
	return asked, nil
}

// handleEvening asks what a day held.
func (s *Server) handleEvening(c echo.Context) error {
	f := formOf(c)
	day, err := s.eveningDay(c, f)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	e, err := s.Workshop.EveningGet(ctx, person(c).ID, day)
	if err != nil {
		return err
	}
	v := sheetView{Lead: "What did " + show.Date(day) + " hold?", Links: []sheetLink{{"The day before", "/bench/evening?on=" + show.ISODate(day.AddDate(0, 0, -1))}, {"Bench", "/bench"}}}
	if day.Before(set.Today(s.DB.Now())) {
		v.Links = append(v.Links, sheetLink{"The day after", "/bench/evening?on=" + show.ISODate(day.AddDate(0, 0, 1))})
	}
	forgotten, err := s.Workshop.SpellsForgotten(ctx, person(c).ID)
	if err != nil {
		return err
	}
	for _, x := range forgotten {
		v.Late = "Still running:"
		v.Lead = fmt.Sprintf("%s of %s since %s. When did you stop?", plain(x.OperationName), x.BuildNumber, show.Time(x.StartedAt, set.Location()))
		for _, stop := range x.Stops {
			v.Buttons = append(v.Buttons, stoppedButton(stop))
		}
	}
	t := sheetTable{Title: "Your time that day", Heads: heads("Operation", "From, to", "#Time"), Empty: "Nobody tapped: tick below what was done."}
	for _, x := range e.Spells {
		to, took := "runs", ""
		if x.StoppedAt != nil {
			to, took = x.StoppedAt.In(set.Location()).Format("15:04"), minutesOf(x.StoppedAt.Sub(x.StartedAt).Minutes())
		}
		t.add(linkCell(plain(x.OperationName)+" of "+x.BuildNumber, "/bench/spells/"+idText(x.ID)), cellOf(x.StartedAt.In(set.Location()).Format("15:04")+" to "+to), cellOf(took))
	}
	v.Tables = []sheetTable{t}
	if len(e.Steps) == 0 {
		v.Tables[0].Empty = "No build was open that day."
		return s.showSheet(c, "What did the day hold?", v)
	}
	v.Forms = []sheetForm{eveningForm(f, e)}
	return s.showSheet(c, "What did the day hold?", v)
}

// eveningForm ticks what was done, with the day's hours.
func eveningForm(f *Form, e workshop.Evening) sheetForm {
	f.Fill("hours", clock(max(e.HoursMin, int(e.TappedMin+0.5))))
	near := sheetPart{Legend: "Done (touched or planned that day)"}
	far := sheetPart{Legend: "Done: other open work", Fold: true}
	worked := sheetPart{Legend: "Worked on, not done yet", Fold: true}
	for _, x := range e.Steps {
		name := fmt.Sprintf("%s of %s, %s", plain(x.Name), x.BuildNumber, x.What)
		if x.TappedMin > 0 {
			name += ", " + minutesOf(x.TappedMin) + " tapped"
		}
		field := tick(f.Field("done."+idText(x.OperationID), name))
		switch {
		case x.DoneAt != nil && x.TappedMin > 0:
			continue
		case x.Planned || x.TappedMin > 0 || x.DoneAt != nil:
			near.Fields = append(near.Fields, field)
		default:
			far.Fields = append(far.Fields, field)
		}
		worked.Fields = append(worked.Fields, tick(f.Field("worked."+idText(x.OperationID), name)))
	}
	parts := []sheetPart{}
	for _, p := range []sheetPart{near, far, worked} {
		if len(p.Fields) > 0 {
			parts = append(parts, p)
		}
	}
	if len(parts) > 0 && len(near.Fields) == 0 {
		parts[0].Fold = false
	}
	parts = append(parts, sheetPart{Fields: []kindField{in(f.Field("hours", "Hours at the bench that day, tapped ones too", "required", "hint=Hours and minutes, such as 06:30."))}})
	return sheetForm{Title: "Write the day down", Action: "/bench/evening", Form: f, Parts: parts, Button: "Keep the day", Hidden: []sheetHidden{{"on", show.ISODate(e.On)}},
		About: "What was tapped stays. The rest of the hours is split over what you tick, by its standard minutes; it teaches how long the day's work took in all."}
}

func (s *Server) handleEveningPost(c echo.Context) error {
	f := formOf(c)
	day, err := s.eveningDay(c, f)
	if err != nil {
		return err
	}
	n := workshop.EveningNote{On: day}
	minutes, ok := minuteOf(f.Text("hours"))
	if !ok {
		f.Wrong("hours", "Write hours and minutes, such as 06:30.")
	}
	n.Minutes = minutes
	ctx := c.Request().Context()
	e, err := s.Workshop.EveningGet(ctx, person(c).ID, day)
	if err != nil {
		return err
	}
	for _, x := range e.Steps {
		switch {
		case f.Ticked("done." + idText(x.OperationID)):
			n.DoneIDs = append(n.DoneIDs, x.OperationID)
		case f.Ticked("worked." + idText(x.OperationID)):
			n.WorkedID = append(n.WorkedID, x.OperationID)
		}
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleEvening)
	}
	if _, err := s.Workshop.EveningPut(ctx, person(c).ID, n); err != nil {
		return again(err, s.handleEvening)
	}
	return goTo(c, "/bench/evening?on="+show.ISODate(day), "The day is written down.")
}

// handleClockStopped stops the time that runs at an instant that is past.
func (s *Server) handleClockStopped(c echo.Context) error {
	at, err := time.Parse("20060102T150405Z", c.Param("at"))
	if err != nil {
		return fault.New(fault.NotFound, "There is no such page.")
	}
	sp, err := s.Workshop.SpellStop(c.Request().Context(), person(c).ID, at)
	if err != nil {
		return s.againFrom(c, err, s.handleEvening)
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	return goTo(c, backFrom(c, "/bench/evening?on="+show.ISODate(house.DateIn(sp.StartedAt, set.Location()))), "Stopped: "+minutesOf(sp.StoppedAt.Sub(sp.StartedAt).Minutes())+" on "+plain(sp.OperationName)+".")
}

// localMinute is how a field for a day and a time of day writes an instant.
const localMinute = "2006-01-02T15:04"

// handleSpell is one spell of somebody's own, to be mended.
func (s *Server) handleSpell(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	x, err := s.Workshop.SpellGet(c.Request().Context(), id, person(c).ID)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("started_at", x.StartedAt.In(set.Location()).Format(localMinute))
	if x.StoppedAt != nil {
		f.Fill("stopped_at", x.StoppedAt.In(set.Location()).Format(localMinute))
	}
	at := "/bench/spells/" + idText(id)
	return s.showSheet(c, "Time on "+plain(x.OperationName)+" of "+x.BuildNumber, sheetView{Links: []sheetLink{{"What did the day hold?", "/bench/evening?on=" + show.ISODate(house.DateIn(x.StartedAt, set.Location()))}, {"Build " + x.BuildNumber, hrefOf("build", x.BuildID)}},
		Forms:  []sheetForm{{Action: at + "/mend", Form: f, Button: "Keep", Parts: one(in(f.Field("started_at", "It began", "type=datetime-local", "required")), in(f.Field("stopped_at", "It stopped", "type=datetime-local", "required")))}},
		Tables: []sheetTable{{Empty: "Was it a mistake altogether?", Buttons: []sheetButton{button(at+"/strike", "Take it out", "Take it out: this time")}}}})
}

func (s *Server) handleSpellPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	ctx, f := c.Request().Context(), formOf(c)
	x, err := s.Workshop.SpellGet(ctx, id, person(c).ID)
	if err != nil {
		return err
	}
	back := "/bench/evening?on=" + show.ISODate(house.DateIn(x.StartedAt, set.Location()))
	switch c.Param("deed") {
	case "strike":
		if err := s.Workshop.SpellStrike(ctx, id, person(c).ID); err != nil {
			return again(err, s.handleSpell)
		}
		return goTo(c, back, "That time is out.")
	case "mend":
		var at [2]time.Time
		for i, name := range []string{"started_at", "stopped_at"} {
			t, err := time.ParseInLocation(localMinute, f.Text(name), set.Location())
			if err != nil {
				f.Wrong(name, "Write the day and the time of day.")
			}
			at[i] = t
		}
		if err := f.Err(); err != nil {
			return again(err, s.handleSpell)
		}
		if _, err := s.Workshop.SpellMend(ctx, id, person(c).ID, at[0].UTC(), at[1].UTC()); err != nil {
			return again(err, s.handleSpell)
		}
		return goTo(c, back, "The time is mended.")
	}
	return fault.New(fault.NotFound, "There is no such page.")
}

// learntTable says what builds of a model took beside its standard minutes.
func learntTable(id int64, list []workshop.Learnt) sheetTable {
	t := sheetTable{Title: "Minutes a piece, as builds took them", Heads: heads("Operation", "#Standard", "#Middle of the builds", "#Builds", "")}
	for _, x := range list {
		cell := cellOf("as it stands")
		if x.Worth {
			cell = sheetCell{Buttons: []sheetButton{button("/bench/models/"+idText(id)+"/learnt?operation="+x.Operation, "Take over "+x.BetterMin.String(), fmt.Sprintf("Take over %s minutes for %s as a new revision", x.BetterMin, plain(x.Operation)))}}
		}
		t.add(cellOf(plain(x.Operation)), cellOf(x.StandardMin.String()+" min"), cellOf(x.RealMin.String()+" min"), cellOf(taughtBy(x)), cell)
	}
	return t
}

// taughtBy says how many builds tell; of whole days it is known only how long they were.
func taughtBy(x workshop.Learnt) string {
	switch {
	case x.FromDays == 0:
		return strconv.Itoa(x.Builds)
	case x.Builds == 0:
		return fmt.Sprintf("%d, from whole days", x.FromDays)
	}
	return fmt.Sprintf("%d, and %d from whole days", x.Builds, x.FromDays)
}

// takeLearnt makes a new revision with minutes learnt.
func (s *Server) takeLearnt(c echo.Context, id int64) (string, error) {
	rev, err := s.Workshop.LearntTake(c.Request().Context(), id, []string{c.QueryParam("operation")})
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("Revision %d has it. %s.", rev.Revision, rev.Reason), nil
}
