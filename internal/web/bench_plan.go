package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

func (s *Server) registerPlanPages(r *routes) {
	r.get(access.Bench, "/bench/plan", s.handlePlan)
	r.post(access.Bench, "/bench/plan", s.handlePlanPost)
	r.post(access.Bench, "/bench/plan/hold", s.handlePlanHold)
	r.post(access.Bench, "/bench/plan/builds/:id/:deed", s.handlePlanMove)
	r.post(access.Bench, "/bench/plans/:id/:deed", s.handlePlanDecide)
	r.get(access.Bench, "/bench/promises", s.handlePromises)
}

// keptWords says how the last promises went; empty where none has come due yet.
func keptWords(k answer.Kept) string {
	n := int64(len(k.Items))
	switch {
	case n == 0:
		return ""
	case n == 1:
		return map[bool]string{true: "The one promise so far was kept.", false: "The one promise so far was not kept."}[k.Kept == 1]
	}
	return fmt.Sprintf("%d of the last %d promises were kept.", k.Kept, n)
}

// handlePromises shows which of the last promises were kept.
func (s *Server) handlePromises(c echo.Context) error {
	k, err := s.Answer.PromisesKept(c.Request().Context())
	if err != nil {
		return err
	}
	v := sheetView{Lead: keptWords(k), Links: []sheetLink{{"Open builds", "/bench"}, {"Plan of the bench", "/bench/plan"}}}
	t := sheetTable{Heads: heads("Promised", "How it went", "Order", "What", "Ready", "Handed over", "Moved to"), Empty: "No promise has come due yet."}
	orders := person(c).May(access.Orders)
	for _, p := range k.Items {
		how := cellOf("kept")
		if !p.Kept {
			how = sheetCell{Late: "not kept"}
		}
		order := cellOf(p.Order + ", " + p.Who)
		if orders {
			order.Href = hrefOf("order", p.OrderID)
		}
		moved := ""
		if p.Moved != nil {
			moved = show.Date(*p.Moved)
			if p.Why != "" {
				moved += ": " + p.Why
			}
		}
		t.add(cellOf(show.Date(p.Promised)), how, order, cellOf(fmt.Sprintf("%s, piece %d", p.What, p.N)), cellOf(show.DateOr(p.Ready, "")), cellOf(show.DateOr(p.Handed, "")), cellOf(moved))
	}
	v.Tables = []sheetTable{t}
	return s.showSheet(c, "Promises kept", v)
}

// handlePlan shows the plan: the one that is proposed, beside the one in force, else the
// one in force as it stands now.
func (s *Server) handlePlan(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	list, err := s.Workshop.PlanList(ctx)
	if err != nil {
		return err
	}
	v := sheetView{Links: []sheetLink{{"Open builds", "/bench"}, {"Hours, second hands, days away", "/settings/hours"}, {"Dry weather", "/bench/weather"}, {"Promises kept", "/bench/promises"}}}
	proposed := len(list) > 0 && list[0].AcceptedAt == nil && list[0].TurnedDownAt == nil
	if proposed {
		err = s.showProposed(c, &v, list[0])
	} else {
		err = s.showStanding(c, &v, len(list) > 0)
	}
	if err != nil {
		return err
	}
	v.Tables = append(v.Tables, plansTable(list, set.Location()))
	return s.showSheet(c, "Plan of the bench", v)
}

func plansTable(list []workshop.BenchPlan, loc *time.Location) sheetTable {
	t := sheetTable{Title: "Plans", Fold: true, Heads: heads("Plan", "Laid", "Why", "What became of it"), Empty: "No plan was laid yet."}
	inForce := false
	for _, p := range list {
		state := "proposed"
		switch {
		case p.TurnedDownAt != nil:
			state = "turned down"
		case p.AcceptedAt != nil && !inForce:
			state, inForce = "in force", true
		case p.AcceptedAt != nil:
			state = "replaced"
		case inForce:
			state = "passed over"
		}
		if p.LateMinutes > 0 {
			state += ", late by " + minutesOf(float64(p.LateMinutes))
		}
		t.add(cellOf(strconv.Itoa(p.Number)), cellOf(show.Time(p.ProposedAt, loc)), cellOf(p.Why), cellOf(state))
	}
	return t
}

// showProposed shows a plan that waits for a yes or a no, and what it does to each build.
func (s *Server) showProposed(c echo.Context, v *sheetView, p workshop.BenchPlan) error {
	ctx := c.Request().Context()
	jobs, err := s.Workshop.PlanEffects(ctx, p.ID)
	if err != nil {
		return err
	}
	b, err := s.Workshop.BenchOf(ctx, p.ID)
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	at := "/bench/plans/" + idText(p.ID)
	yes := button(at+"/accept", "Put it in force", fmt.Sprintf("Put it in force: plan %d", p.Number))
	yes.Main = true
	v.Buttons = []sheetButton{yes, button(at+"/turn-down", "Turn it down", fmt.Sprintf("Turn it down: plan %d", p.Number))}
	v.Lead = fmt.Sprintf("Plan %d is proposed and not in force yet. %s", p.Number, effectWords(jobs))
	v.Short = leftWords(p.Left)
	t := sheetTable{Title: "What it does", Heads: heads("Build", "Begins", "Done", "To be done by", "Beside the plan in force"), Empty: "No build has a place in it."}
	for _, j := range jobs {
		t.add(linkCell(j.Number, hrefOf("build", j.BuildID)), cellOf(wasWords(house.DateIn(j.StartsAt, b.Zone()), j.WasStart)), cellOf(wasWords(j.EndsOn, j.WasOn)), dueWords(j), movedCell(j))
	}
	v.Tables = []sheetTable{t}
	drawings(v, b, jobs, today)
	return nil
}

// movedCell says how a build fares beside the plan in force.
func movedCell(j workshop.BenchJob) sheetCell {
	if j.WasOn == nil {
		return cellOf("new in it")
	}
	days := int64(j.EndsOn.Sub(*j.WasOn).Hours() / 24)
	was := 0
	if j.DueOn != nil {
		was = max(0, int(j.WasOn.Sub(*j.DueOn).Hours()/24))
	}
	switch {
	case j.LateDays > 0 && was == 0:
		return sheetCell{Late: "breaks its promise", Text: "by " + show.Count(int64(j.LateDays), "day", "days")}
	case j.LateDays == 0 && was > 0:
		return cellOf("its promise is saved")
	case days > 0:
		return cellOf(show.Count(days, "day", "days") + " later")
	case days < 0:
		return cellOf(show.Count(-days, "day", "days") + " sooner")
	case j.WasStart != nil && days == 0:
		return cellOf("as it is")
	}
	return cellOf("")
}

// effectWords sums up what a plan does to promises.
func effectWords(jobs []workshop.BenchJob) string {
	var late, saved, moved int64
	for _, j := range jobs {
		cell := movedCell(j)
		switch {
		case cell.Late != "":
			late++
		case cell.Text == "its promise is saved":
			saved++
		}
		if j.WasOn != nil && !j.WasOn.Equal(j.EndsOn) {
			moved++
		}
	}
	text := "Nothing moves."
	if moved > 0 {
		text = show.Count(moved, "build moves.", "builds move.")
	}
	if saved > 0 {
		text += " " + show.Count(saved, "promise is saved.", "promises are saved.")
	}
	if late > 0 {
		return text + " " + show.Count(late, "promise would break.", "promises would break.")
	}
	return text + " No promise breaks by it."
}

func leftWords(left []workshop.LeftOut) []string {
	var list []string
	for _, l := range left {
		list = append(list, fmt.Sprintf("Build %s has no place: %s", l.Number, l.Why))
	}
	return list
}

// showStanding shows the bench as it stands, with what slips and the ways to change it.
func (s *Server) showStanding(c echo.Context, v *sheetView, any bool) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	b, err := s.Workshop.Bench(ctx, set.Location())
	if err != nil {
		return err
	}
	jobs, err := b.Jobs()
	if err != nil {
		return err
	}
	if !any {
		v.Lead = "No plan is in force. Answers to buyers count open builds one behind the other."
	}
	v.Short = leftWords(b.Lost())
	slips, err := s.Answer.Slips(ctx)
	if err != nil {
		return err
	}
	if len(slips) > 0 {
		v.Tables = append(v.Tables, slipTable(slips))
	}
	t := sheetTable{Title: "The builds as they stand", Heads: heads("Build", "Begins", "Done", "To be done by", "How it is", ""), Empty: "No build is open."}
	var choices []Choice
	for _, j := range jobs {
		cell, state := sheetCell{}, ""
		at := "/bench/plan/builds/" + idText(j.BuildID)
		switch {
		case j.Started:
			state = "begun"
		case j.HeldTo != nil:
			state = "held to " + show.Date(*j.HeldTo)
			cell.Buttons = []sheetButton{button(at+"/let-go", "Let it go", "Let it go: "+j.Number)}
		default:
			cell.Buttons = []sheetButton{button(at+"/earlier", "Earlier", j.Number+" earlier"), button(at+"/later", "Later", j.Number+" later")}
		}
		if !j.Started {
			choices = append(choices, Choice{Value: idText(j.BuildID), Text: j.Number + ", " + j.What})
		}
		t.add(linkCell(j.Number, hrefOf("build", j.BuildID)), cellOf(show.Date(house.DateIn(j.StartsAt, b.Zone()))), cellOf(show.Date(j.EndsOn)), dueWords(j), cellOf(state), cell)
	}
	v.Tables = append(v.Tables, t)
	drawings(v, b, jobs, set.Today(s.DB.Now()))
	steps := sheetTable{Title: "Operation by operation", Fold: true, Heads: heads("Begins", "Ends", "Build", "Operation"), Empty: "Nothing is left to do."}
	for _, z := range spansOf(jobs) {
		steps.add(cellOf(show.Time(z.StartsAt, set.Location())), cellOf(show.Time(z.EndsAt, set.Location())), cellOf(z.number), cellOf(plain(z.Operation)+map[bool]string{true: " (dry weather)"}[z.Dry]))
	}
	v.Tables = append(v.Tables, steps)
	f, hold := formOf(c), formOf(c, "hold")
	v.Side = []sheetForm{{Title: "Lay it anew", Action: "/bench/plan", Form: f, Button: "Propose a plan", About: "Work that has begun, that you hold, or that begins in the next two days stays where it is.", Parts: one(in(f.Field("why", "Why")))}}
	if len(choices) > 0 {
		v.Side = append(v.Side, sheetForm{Title: "Hold a build to a day", Action: "/bench/plan/hold", Form: hold, Button: "See what that does", About: "You see what it does to the others before you say yes.", Parts: one(choose(hold.Choose("build_id", "Build", choices)), in(hold.Field("hold_to", "Begins on", "type=date", "required")))})
	}
	return nil
}

type numberedSpan struct {
	workshop.BenchSpan
	number string
	build  int64
}

// stepsShown is how many operations the page lists.
const stepsShown = 60

func spansOf(jobs []workshop.BenchJob) []numberedSpan {
	var list []numberedSpan
	for _, j := range jobs {
		for _, z := range j.Spans {
			list = append(list, numberedSpan{z, j.Number, j.BuildID})
		}
	}
	slices.SortStableFunc(list, func(a, b numberedSpan) int { return a.StartsAt.Compare(b.StartsAt) })
	return list[:min(len(list), stepsShown)]
}

// slipTable says what slips, why, what would save it and what could be said.
func slipTable(slips []answer.Slip) sheetTable {
	t := sheetTable{Title: "What slips", Heads: heads("Build", "To be done by", "As it stands", "Why", "What would save it", "What could be said")}
	for _, x := range slips {
		var ways []string
		cell := sheetCell{}
		for i, w := range x.Ways {
			ways = append(ways, w.Text)
			if w.Change != nil && w.Change.HoldTo != nil {
				b := button(fmt.Sprintf("/bench/plan/builds/%d/hold-%s", x.BuildID, w.Change.HoldTo.Format(time.DateOnly)), "See that plan", fmt.Sprintf("See that plan for %s, way %d", x.Number, i+1))
				cell.Buttons = append(cell.Buttons, b)
			}
		}
		if len(ways) == 0 {
			ways = []string{"Nothing that is found here brings it back to its day; lay the plan anew, or tell the buyer."}
			if x.LateDays == 0 {
				ways = []string{"It may still be in time. Keep what comes before it short."}
			}
		}
		cell.Text = strings.Join(ways, " ")
		var said []string
		for _, b := range x.Buyers {
			said = append(said, strings.TrimSpace(b.Name+" "+b.Phone)+": \""+b.Words+"\"")
		}
		due := cellOf(show.DateOr(x.DueOn, ""))
		if x.LateDays > 0 {
			due.Late = show.Count(int64(x.LateDays), "day", "days") + " late:"
		} else {
			due.Late = "At risk:"
		}
		stands := show.Date(x.EndsOn)
		if x.EndsP80 != nil {
			stands += ", in four of five by " + show.Date(*x.EndsP80)
		}
		t.add(linkCell(x.Number, hrefOf("build", x.BuildID)), due, cellOf(stands), cellOf(strings.Join(x.Causes, " ")), cell, cellOf(strings.Join(said, " ")))
	}
	return t
}

// benchOutlook puts the fortnight, what slips and the promises kept on the Bench page.
func (s *Server) benchOutlook(c echo.Context, v *sheetView, today time.Time) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	b, err := s.Workshop.Bench(ctx, set.Location())
	if err != nil {
		return err
	}
	jobs, err := b.Jobs()
	if err != nil {
		return err
	}
	kept, err := s.Answer.PromisesKept(ctx)
	if err != nil {
		return err
	}
	late := int64(0)
	for _, j := range jobs {
		if j.LateDays > 0 {
			late++
		}
	}
	text := keptWords(kept)
	if late > 0 {
		v.Late, text = "Slips:", strings.TrimSpace(fmt.Sprintf("%s late as things stand; the plan says what would save them. %s", show.Count(late, "build is", "builds are"), text))
	}
	if v.Lead == "" {
		v.Lead = text
	} else {
		v.Late, v.Lead = "", v.Lead+" "+text
	}
	v.Short = leftWords(b.Lost())
	if err := s.weatherLead(c, v, jobs, set.Location()); err != nil {
		return err
	}
	if len(jobs) > 0 {
		drawings(v, b, jobs, today)
	}
	return nil
}

func (s *Server) propose(c echo.Context, why string, change workshop.PlanChange) error {
	p, err := s.Workshop.PlanLay(c.Request().Context(), why, change)
	if err != nil {
		return again(err, s.handlePlan)
	}
	return goTo(c, "/bench/plan", fmt.Sprintf("Plan %d is proposed. Look at it, then put it in force or turn it down.", p.Number))
}

func (s *Server) handlePlanPost(c echo.Context) error {
	return s.propose(c, formOf(c).Text("why"), workshop.PlanChange{})
}

func (s *Server) handlePlanHold(c echo.Context) error {
	f := formOf(c, "hold")
	change := workshop.PlanChange{BuildID: f.chosen("build_id", "Choose the build."), HoldTo: f.Date("hold_to")}
	if change.HoldTo == nil {
		f.Wrong("hold_to", "Say on which day it begins.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handlePlan)
	}
	return s.propose(c, "held to "+show.Date(*change.HoldTo), change)
}

// handlePlanMove proposes a plan in which one build moves.
func (s *Server) handlePlanMove(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	b, err := s.Workshop.BuildGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	switch deed := c.Param("deed"); deed {
	case "earlier":
		return s.propose(c, b.Number+" earlier", workshop.PlanChange{BuildID: id, Move: -1})
	case "later":
		return s.propose(c, b.Number+" later", workshop.PlanChange{BuildID: id, Move: 1})
	case "let-go":
		return s.propose(c, b.Number+" is held no longer", workshop.PlanChange{BuildID: id, LetGo: true})
	default:
		day, err := time.Parse("hold-"+time.DateOnly, deed)
		if err != nil {
			return fault.New(fault.NotFound, "There is no such page.")
		}
		return s.propose(c, b.Number+" before another", workshop.PlanChange{BuildID: id, HoldTo: &day})
	}
}

func (s *Server) handlePlanDecide(c echo.Context) error {
	decide := map[string]func(echo.Context, int64) (string, error){
		"accept": func(c echo.Context, id int64) (string, error) {
			_, err := s.Workshop.PlanAccept(c.Request().Context(), id)
			return "It is in force.", err
		},
		"turn-down": func(c echo.Context, id int64) (string, error) {
			_, err := s.Workshop.PlanTurnDown(c.Request().Context(), id)
			return "It is turned down.", err
		}}
	return s.deed(c, s.handlePlan, func(int64) string { return "/bench/plan" }, decide)
}
