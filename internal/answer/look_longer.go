package answer

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/fault"
	"kerfbook/internal/searches"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// Longer is a long search for a better cutting plan of one board size of a build.
type Longer struct {
	searches.Search
	Size string // such as "150 x 25 mm"
}

// Plan gives the plan that was found; false while it is still sought.
func (l Longer) Plan() (cutting.Out, bool) {
	var out cutting.Out
	return out, l.Answered != nil && json.Unmarshal(l.Answered, &out) == nil
}

// aboutBuild names what a search is for.
func aboutBuild(id int64) string { return fmt.Sprintf("build/%d", id) }

// LookLonger starts a search for a better cutting plan, one for each board size of an open
// build, each for at most so many seconds. The plan in force stays until
// [Room.LookLongerTake]. Errors: NotFound; Conflict where nothing can be planned, where a
// search for the build runs, or when too many run.
func (r *Room) LookLonger(ctx context.Context, account, buildID int64, seconds int) ([]Longer, error) {
	if most := searches.MostMS / 1000; seconds < 1 || seconds > most {
		return nil, fault.Bad("/seconds", "Choose between 1 and %d seconds.", most)
	}
	before, err := r.LookLongerList(ctx, account, buildID)
	if err != nil {
		return nil, err
	}
	for _, l := range before {
		if l.State() != searches.Ended {
			return nil, fault.New(fault.Conflict, "A search for this build runs already. Wait for it, or stop it.")
		}
	}
	asked, err := r.Workshop.CuttingQuestions(ctx, buildID)
	if err != nil {
		return nil, err
	}
	if len(asked) == 0 {
		return nil, fault.New(fault.Conflict, "There is nothing to plan: no board on the rack is long enough for a part of it.")
	}
	start := rand.Text() // joins the searches of one start
	var list []Longer
	err = r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		list = nil
		for _, p := range asked {
			limit := seconds * 1000
			p.Asked.TimeLimitMS = &limit
			input, err := json.Marshal(p.Asked)
			if err != nil {
				return err
			}
			size := show.BoardSize(p.WidthMM, p.ThicknessMM)
			s, err := r.Searches.Start(ctx, searches.Ask{AccountID: account, Topic: "cutting", Input: input, About: aboutBuild(buildID) + "/" + start + "/" + size})
			if err != nil {
				return err
			}
			list = append(list, Longer{s, size})
		}
		return nil
	})
	return list, err
}

// LookLongerList gives the searches for a build that were started last, in the order of
// its board sizes; none when nobody has looked in the last day.
func (r *Room) LookLongerList(ctx context.Context, account, buildID int64) ([]Longer, error) {
	all, err := r.Searches.List(ctx, account, aboutBuild(buildID))
	if err != nil {
		return nil, err
	}
	var list []Longer
	last := ""
	for _, s := range all { // the newest first
		start, size, _ := strings.Cut(strings.TrimPrefix(s.About, aboutBuild(buildID)+"/"), "/")
		if last == "" {
			last = start
		}
		if start == last {
			list = append(list, Longer{s, size})
		}
	}
	slices.Reverse(list)
	return list, nil
}

// LookLongerStop ends the searches for a build with the best they have.
func (r *Room) LookLongerStop(ctx context.Context, account, buildID int64) error {
	list, err := r.LookLongerList(ctx, account, buildID)
	for _, l := range list {
		if err == nil && l.State() != searches.Ended {
			_, err = r.Searches.Stop(ctx, account, l.ID)
		}
	}
	return err
}

// LookLongerTake lays the cutting plans of a build anew as the searches found them; their
// boards are meant for it. It gives how many of the searched plans were taken. Errors:
// NotFound; Conflict where nothing has ended, or where the rack or the parts have changed
// so that no answer fits any more.
func (r *Room) LookLongerTake(ctx context.Context, account, buildID int64) (workshop.Build, error) {
	list, err := r.LookLongerList(ctx, account, buildID)
	if err != nil {
		return workshop.Build{}, err
	}
	known := map[string]cutting.Out{}
	for _, l := range list {
		var in cutting.In
		if out, ended := l.Plan(); ended && json.Unmarshal(l.Asked, &in) == nil {
			known[workshop.CuttingKey(in)] = out
		}
	}
	if len(known) == 0 {
		return workshop.Build{}, fault.New(fault.Conflict, "No search for this build has ended yet.")
	}
	var b workshop.Build
	err = r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		taken := 0
		ctx = workshop.WithPlanner(ctx, func(ctx context.Context, in cutting.In) (cutting.Out, error) {
			if out, ok := known[workshop.CuttingKey(in)]; ok && cutting.Check(in, out) == nil {
				taken++
				return out, nil
			}
			return cutting.Plan(ctx, in)
		})
		var err error
		if b, err = r.Workshop.CuttingLay(ctx, buildID); err != nil {
			return err
		}
		if taken == 0 {
			return fault.New(fault.Conflict, "The rack or the parts have changed since this was sought. Look again.")
		}
		return nil
	})
	return b, err
}
