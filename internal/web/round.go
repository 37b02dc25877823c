package web

import (
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/show"
)

func (s *Server) registerRoundPages(r *routes) {
	r.get(access.Runs, "/runs/round", s.handleRound)
	r.post(access.Runs, "/runs/round", s.handleRoundPost)
}

type roundView struct {
	Form  *Form
	Trees []roundRow
	Near  []roundNear
}

type roundRow struct {
	treeRow
	Chosen bool
}

// roundNear is one tap: all trees due within so many days.
type roundNear struct {
	Days  int
	Words string
}

var roundPage = definePage[roundView]("round")

// roundSpans are the days within which all trees due are taken with one tap; our choice.
var roundSpans = []int{0, 7, 14, 30}

func (s *Server) handleRound(c echo.Context) error {
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	list, err := s.Apiary.HostTreeList(c.Request().Context(), apiary.TreeFilter{})
	if err != nil {
		return err
	}
	v := roundView{Form: formOf(c)}
	v.Form.Fill("run_on", show.ISODate(today.AddDate(0, 0, 1)))
	chosen := map[string]bool{}
	for _, id := range v.Form.All("tree") {
		chosen[id] = true
	}
	counts := make([]int, len(roundSpans))
	for _, t := range list {
		row := roundRow{treeRowOf(t, today, set.Location()), chosen[strconv.FormatInt(t.ID, 10)]}
		for i, days := range roundSpans {
			if t.DueOn != nil && !t.DueOn.After(today.AddDate(0, 0, days)) {
				counts[i]++
			}
		}
		v.Trees = append(v.Trees, row)
	}
	for i, days := range roundSpans {
		if counts[i] > 0 && (i == 0 || counts[i] > counts[i-1]) {
			words := "due within " + strconv.Itoa(days) + " days"
			if days == 0 {
				words = "due today"
			}
			v.Near = append(v.Near, roundNear{days, show.Count(int64(counts[i]), "tree", "trees") + " " + words})
		}
	}
	return roundPage.show(s, c, "A round of visits", v)
}

func (s *Server) handleRoundPost(c echo.Context) error {
	f := formOf(c)
	n := answer.NewRound{Driver: f.Text("driver"), Notes: f.Text("notes")}
	if on := f.Date("run_on"); on != nil {
		n.On = *on
	} else {
		f.Wrong("run_on", "Say on which day.")
	}
	if f.Text("due_within_days") != "" {
		days := int(f.Int("due_within_days", 0, 365))
		n.WithinDays = &days
	}
	for _, x := range f.All("tree") {
		id, err := strconv.ParseInt(x, 10, 64)
		if err != nil {
			f.Wrong("tree_ids", "Choose from the list.")
			continue
		}
		n.TreeIDs = append(n.TreeIDs, id)
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleRound)
	}
	run, err := s.Answer.RoundMake(c.Request().Context(), n)
	if err != nil {
		return again(err, s.handleRound)
	}
	return goTo(c, hrefOf("run", run.ID), "The round is planned: "+show.Count(int64(len(run.Stops)), "tree", "trees")+".")
}

// nameStopPermit notes under which permit the bees of a stop travel.
func (s *Server) nameStopPermit(c echo.Context, run int64, f *Form) error {
	stop, permit := f.ID("permit_stop"), idOr(f, "permit_id")
	if err := f.Err(); err != nil {
		return again(err, s.handleRun)
	}
	if err := s.Handover.StopPermit(c.Request().Context(), stop, permit); err != nil {
		return again(err, s.handleRun)
	}
	return goTo(c, hrefOf("run", run), "The permit is noted at the stop.")
}
