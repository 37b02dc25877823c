package web

import (
	"fmt"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// dayBench is the bench at the top of the Day sheet: what runs, with a button to stop it,
// and what comes next, with one to start it.
type dayBench struct {
	Late, Lead string
	Buttons    []sheetButton
	At         sheetLink // the build that runs, or where a time is mended
	Next       string
	Start      sheetButton
	NextAt     sheetLink
}

// fromDay is what the buttons of the Day sheet send along, so that they lead back there.
const fromDay = "day"

// dayBench asks how things stand at the bench for the one who looks; the subject is that of
// the line which asks about the same forgotten time, "" without one.
func (s *Server) dayBench(c echo.Context, today time.Time) (*dayBench, string, error) {
	if !person(c).May(access.Bench) {
		return nil, "", nil
	}
	set, err := s.settings(c)
	if err != nil {
		return nil, "", err
	}
	a, err := s.Workshop.AtBench(c.Request().Context(), person(c).ID, person(c).Role == access.Owner)
	if err != nil || a.Running == nil && a.Next == nil {
		return nil, "", err
	}
	v, subject := &dayBench{}, ""
	switch {
	case a.Forgotten != nil:
		f := a.Forgotten
		subject, v.Late = fmt.Sprintf("spell:%d:open", f.ID), "Still running:"
		v.Lead = fmt.Sprintf("%s of %s since %s. When did you stop?", plain(f.OperationName), f.BuildNumber, show.Time(f.StartedAt, set.Location()))
		for _, stop := range f.Stops {
			v.Buttons = append(v.Buttons, stoppedButton(stop))
		}
		v.At = sheetLink{"At another time", "/bench/spells/" + idText(f.ID)}
	case a.Running != nil:
		x := a.Running
		v.Lead = fmt.Sprintf("Your time runs on %s of %s since %s.", plain(x.OperationName), x.BuildNumber, x.StartedAt.In(set.Location()).Format("15:04"))
		v.Buttons = runningButtons(*x)
		v.At = buildLink(x.BuildNumber, x.BuildID)
	}
	if a.Next != nil {
		v.Next = nextWords(*a.Next, today, set.Location())
		v.Start = startButton(*a.Next)
		v.Start.Main = a.Running == nil
		v.NextAt = buildLink(a.Next.BuildNumber, a.Next.BuildID)
	}
	return v, subject, nil
}

func buildLink(number string, id int64) sheetLink {
	return sheetLink{"Build " + number, hrefOf("build", id)}
}

// runningButtons stop the time that runs, or say that the operation is done, which stops it.
func runningButtons(x workshop.Spell) []sheetButton {
	stop := button("/bench/clock/stop", "Stop", "Stop my time on "+plain(x.OperationName))
	stop.Main = true
	return []sheetButton{stop, button("/bench/operations/"+idText(x.OperationID)+"/done", "It is done", "It is done: "+plain(x.OperationName)+" of "+x.BuildNumber)}
}

func startButton(x workshop.NextStep) sheetButton {
	return button("/bench/operations/"+idText(x.OperationID)+"/start", "Start "+plain(x.Name), "Start "+plain(x.Name)+" of "+x.BuildNumber+": my time runs")
}

func stoppedButton(stop workshop.ForgottenStop) sheetButton {
	return button("/bench/clock/stopped/"+stop.At.UTC().Format("20060102T150405Z"), "Stopped "+stop.Words, "")
}

// nextWords says what comes next, and on which day the plan has it.
func nextWords(x workshop.NextStep, today time.Time, loc *time.Location) string {
	what := fmt.Sprintf("%s of %s, %s; %s by its standard.", plain(x.Name), x.BuildNumber, x.What, minutesOf(x.StandardMin))
	if x.StartsAt == nil {
		return "Next at the bench: " + what
	}
	switch on := house.DateIn(*x.StartsAt, loc); {
	case on.Before(today):
		return "On the plan since " + show.Date(on) + ": " + what
	case on.After(today):
		return "Next on the plan, for " + show.Date(on) + ": " + what
	}
	return "On the plan today: " + what
}

// backFrom is where a button leads back to: the Day sheet when it was pressed there.
func backFrom(c echo.Context, otherwise string) string {
	if formOf(c).Text("from") == fromDay {
		return "/"
	}
	return otherwise
}

// againFrom shows the page a button was pressed on once more, with what is wrong.
func (s *Server) againFrom(c echo.Context, err error, otherwise echo.HandlerFunc) error {
	if formOf(c).Text("from") == fromDay {
		return again(err, s.handleDay)
	}
	if otherwise == nil {
		return err
	}
	return again(err, otherwise)
}
