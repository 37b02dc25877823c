package web

import (
	"fmt"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/answer"
	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/searches"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func longerPage(build int64) string { return hrefOf("build", build) + "/longer" }

// lookAgain is after how many seconds the page of a running search comes anew by itself.
const lookAgain = "2"

// handleLonger shows how far the long search for a build's cutting plan is, or offers one.
func (s *Server) handleLonger(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	b, err := s.Workshop.BuildGet(ctx, id)
	if err != nil {
		return err
	}
	list, err := s.Answer.LookLongerList(ctx, person(c).ID, id)
	if err != nil {
		return err
	}
	at := longerPage(id)
	v := sheetView{Links: []sheetLink{{"Build " + b.Number, hrefOf("build", id)}}}
	open := 0
	for _, l := range list {
		if l.State() != searches.Ended {
			open++
		}
	}
	v.Tables = []sheetTable{planNowTable(b)}
	if len(list) > 0 {
		v.Tables = []sheetTable{s.longerTable(b, list)}
	}
	switch {
	case open > 0:
		v.Lead = "The search runs. This page comes anew every two seconds; you may leave it and come back."
		v.Links = append(v.Links, sheetLink{"How far is it now?", at})
		v.Tables[0].Buttons = []sheetButton{button(at+"/stop", "Stop with the best so far", "")}
		if c.Request().Method == http.MethodGet {
			c.Response().Header().Set("Refresh", lookAgain)
		}
	case b.Open():
		f := formOf(c, "longer")
		f.Fill("seconds", "60")
		v.Lead = "A plan is sought for a second when it is laid. Where it says about, a longer search may find one that takes less, or prove that there is none."
		if len(list) > 0 {
			v.Lead = "The search has ended. The build keeps its plan until you take the one that was found."
			v.Tables[0].Buttons = []sheetButton{button(at+"/take", "Take these plans", "")}
		}
		times := []Choice{{Value: "10", Text: "10 seconds"}, {Value: "60", Text: "1 minute"}, {Value: "300", Text: "5 minutes"}, {Value: "600", Text: "10 minutes"}}
		v.Forms = []sheetForm{{Title: "Look longer", Action: at + "/start", Form: f, Button: "Look for a better plan", About: "For each board size. It ends sooner when the plan is proved.",
			Parts: one(choose(f.Choose("seconds", "For how long at most", times)))}}
	default:
		v.Lead = "This build is finished or cancelled; there is nothing to plan."
	}
	return s.showSheet(c, "A better plan for build "+b.Number, v)
}

// longerTable tells how far the searches are, one a board size.
func (s *Server) longerTable(b workshop.Build, list []answer.Longer) sheetTable {
	t := sheetTable{Title: "The search", Heads: heads("Board size", "Its plan now", "Best found", "None below", "How it stands")}
	now := map[string][]string{}
	for _, p := range b.Plans {
		size := show.BoardSize(p.WidthMM, p.ThicknessMM)
		now[size] = append(now[size], planAmount(p.Answered.Out))
	}
	for _, l := range list {
		best, bound := "", ""
		if p := l.Progress; p != nil {
			best, bound = boardAmount(p.Best, p.Unit), boardAmount(p.Bound, p.Unit)
		}
		if out, ended := l.Plan(); ended {
			best, bound = planAmount(out), outBound(out)
		}
		t.add(cellOf(l.Size), cellOf(strings.Join(now[l.Size], "; ")), cellOf(best), cellOf(bound), cellOf(s.longerState(l)))
	}
	return t
}

func (s *Server) longerState(l answer.Longer) string {
	took := fmt.Sprintf("%.0f s", l.Took(s.DB.Now()).Seconds())
	out, ended := l.Plan()
	switch {
	case ended && out.Proved:
		return "proved after " + took
	case ended && l.Stopping:
		return "stopped after " + took
	case ended:
		return "ended after " + took + ", not proved"
	case l.Stopping:
		return "stops"
	case l.State() == searches.Waiting:
		return "waits for its turn"
	}
	return "looks since " + took + fmt.Sprintf(", %.0f s at most", l.Limit.Seconds())
}

// planNowTable shows what the plans in force take.
func planNowTable(b workshop.Build) sheetTable {
	t := sheetTable{Title: "The plan it has now", Heads: heads("Board size", "It takes", "How good it is"), Empty: "No plan is laid."}
	for _, p := range b.Plans {
		t.add(cellOf(show.BoardSize(p.WidthMM, p.ThicknessMM)), cellOf(planAmount(p.Answered.Out)), cellOf(p.Note()))
	}
	return t
}

// planAmount says what a plan takes, such as "7 boards, 19300 mm".
func planAmount(out cutting.Out) string {
	words := show.Count(int64(out.BoardsUsed), "board", "boards") + fmt.Sprintf(", %.0f mm", out.LengthUsedMM)
	if out.BoardsUsed == 0 {
		words = "no board"
	}
	missing := 0
	for _, u := range out.Unplaced {
		missing += u.Count
	}
	if missing > 0 {
		words += ", " + show.Count(int64(missing), "part", "parts") + " without a board"
	}
	return words
}

func outBound(out cutting.Out) string {
	v := out.Bound.InexactFloat64()
	return boardAmount(&v, out.BoundUnit)
}

// boardAmount writes an amount in the unit of a cutting plan's bound.
func boardAmount(v *float64, unit string) string {
	switch {
	case v == nil:
		return ""
	case unit == cutting.UnitBoards:
		return show.Count(int64(*v), "board", "boards")
	case strings.HasPrefix(unit, cutting.UnitMM):
		return fmt.Sprintf("%.0f %s", *v, unit)
	}
	return fmt.Sprintf("%g", *v)
}

func (s *Server) handleLongerPost(c echo.Context) error {
	return s.deed(c, s.handleLonger, longerPage, map[string]func(echo.Context, int64) (string, error){
		"start": func(c echo.Context, id int64) (string, error) {
			f := formOf(c, "longer")
			seconds := f.Int("seconds", 1, searches.MostMS/1000)
			if err := f.Err(); err != nil {
				return "", err
			}
			_, err := s.Answer.LookLonger(c.Request().Context(), person(c).ID, id, int(seconds))
			return "The search has begun.", err
		},
		"stop": func(c echo.Context, id int64) (string, error) {
			return "It stops with the best it has.", s.Answer.LookLongerStop(c.Request().Context(), person(c).ID, id)
		},
		"take": func(c echo.Context, id int64) (string, error) {
			_, err := s.Answer.LookLongerTake(c.Request().Context(), person(c).ID, id)
			return "The plan that was found is the build's plan now. Put its boards aside on the build's page.", err
		},
	})
}
