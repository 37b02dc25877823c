package web

import (
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/apiary"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

func (s *Server) registerTreePages(r *routes) {
	r.get(access.Bees, "/bees/trees", s.handleTrees)
	r.get(access.Bees, "/bees/trees/new", s.handleTreeNew)
	r.post(access.Bees, "/bees/trees/new", s.handleTreeNewPost)
	r.get(access.Bees, "/bees/trees/:id", s.handleTree)
	r.post(access.Bees, "/bees/trees/:id", s.handleTreePost)
	r.get(access.Bees, "/bees/trees/:id/change", s.handleTreeChange)
	r.post(access.Bees, "/bees/trees/:id/change", s.handleTreeChangePost)
	r.get(access.Bees, "/bees/trees/:id/visit", s.handleTreeVisit)
	r.post(access.Bees, "/bees/trees/:id/visit", s.handleTreeVisitPost)
}

// treeRow is a host tree on a list.
type treeRow struct {
	ID                                                   int64
	Name, Place, Href, Visit, Box, Next, Asks, Last, How string
	Late, Mind                                           bool
}

func treeRowOf(t apiary.HostTree, today time.Time, loc *time.Location) treeRow {
	row := treeRow{ID: t.ID, Name: t.Name, Place: t.Place, Href: hrefOf("tree", t.ID), Visit: hrefOf("tree", t.ID) + "/visit", Box: text(t.BoxSerial), Next: show.DateOr(t.DueOn, ""), Asks: t.Asks(), How: t.State(),
		Late: t.DueOn != nil && t.DueOn.Before(today), Mind: len(t.Mind(today)) > 0}
	if t.LastVisitAt != nil {
		row.Last = apiary.Visit{Found: t.LastFound, Seen: t.LastSeen}.Words() + " (" + show.Date(t.LastVisitAt.In(loc)) + ")"
	}
	return row
}

// treeRows lists host trees.
func (s *Server) treeRows(c echo.Context, f apiary.TreeFilter) ([]treeRow, error) {
	set, err := s.settings(c)
	if err != nil {
		return nil, err
	}
	list, err := s.Apiary.HostTreeList(c.Request().Context(), f)
	var out []treeRow
	for _, t := range list {
		out = append(out, treeRowOf(t, set.Today(s.DB.Now()), set.Location()))
	}
	return out, err
}

type treesView struct {
	Asked string
	Away  bool
	Trees []treeRow
	Count string
}

var treesPage = definePage[treesView]("host-trees")

func (s *Server) handleTrees(c echo.Context) error {
	v := treesView{Asked: c.QueryParam("q"), Away: c.QueryParam("away") != ""}
	var err error
	if v.Trees, err = s.treeRows(c, apiary.TreeFilter{Find: v.Asked, PutAway: v.Away}); err != nil {
		return err
	}
	v.Count = show.Count(int64(len(v.Trees)), "tree", "trees")
	return treesPage.show(s, c, "Host trees", v)
}

// treeFormView is a tree to be put down or changed.
type treeFormView struct {
	Form             *Form
	Species, Permits []Choice
	Back             string // address of the tree; "" for a new one
}

var (
	treeNewPage    = definePage[treeFormView]("host-tree-new")
	treeChangePage = definePage[treeFormView]("host-tree-change")
)

func (s *Server) treeForm(c echo.Context, permit *int64) (treeFormView, error) {
	v := treeFormView{Form: formOf(c)}
	species, err := s.speciesChoices(c)
	if err != nil {
		return v, err
	}
	v.Species = append([]Choice{{Text: "Not known"}}, species...)
	v.Permits, err = s.permitChoices(c, permit)
	return v, err
}

func (s *Server) handleTreeNew(c echo.Context) error {
	v, err := s.treeForm(c, nil)
	if err != nil {
		return err
	}
	v.Form.FillTick("box_leaves", true)
	return treeNewPage.show(s, c, "A host tree", v)
}

// treeTyped reads a tree from its form into t.
func (s *Server) treeTyped(c echo.Context, f *Form, t *apiary.HostTree) error {
	t.Name, t.Place, t.Permission, t.Notes = f.Text("name"), f.Text("place"), f.Text("permission"), f.Text("notes")
	t.Latitude, t.Longitude = signed(f, "latitude"), signed(f, "longitude")
	t.PermissionOn, t.PermissionUntil, t.FixedOn, t.NextVisitOn = f.Date("permission_on"), f.Date("permission_until"), f.Date("fixed_on"), f.Date("next_visit_on")
	t.BoxLeaves, t.VisitEveryDays = f.Ticked("box_leaves"), intField(f, "visit_every_days", 730)
	t.BeeSpeciesID, t.PermitID, t.BoxID = idOr(f, "species_id"), idOr(f, "permit_id"), nil
	box, err := s.boxOf(c, f, "box_id")
	if err != nil {
		return err
	}
	if box != 0 {
		t.BoxID = &box
	}
	if t.OwnerPartyID, err = s.partyTyped(c, f, "owner", t.OwnerPartyID); err != nil {
		return err
	}
	return f.Err()
}

func idOr(f *Form, name string) *int64 {
	if f.Text(name) == "" {
		return nil
	}
	id := f.ID(name)
	return &id
}

// partyTyped finds the one person of the book by the name or phone number in a field;
// several or none are noted at it. The person it was stays when the name still fits.
func (s *Server) partyTyped(c echo.Context, f *Form, name string, was *int64) (*int64, error) {
	typed := f.Text(name)
	if typed == "" {
		return nil, nil
	}
	ctx := c.Request().Context()
	if was != nil {
		if p, err := s.Sales.PartyGet(ctx, *was); err == nil && p.Name == typed {
			return was, nil
		}
	}
	list, _, err := s.Sales.PartyList(ctx, sales.PartyFilter{Find: typed, Limit: 2})
	switch {
	case err != nil:
		return nil, err
	case len(list) == 0:
		f.Wrong(name, "Nobody in the book has this name or number. Leave it empty, or put them into the book first.")
	case len(list) > 1:
		f.Wrong(name, "Several in the book fit. Write more of the name, or the phone number.")
	default:
		return &list[0].ID, nil
	}
	return nil, nil
}

func (s *Server) handleTreeNewPost(c echo.Context) error {
	t := apiary.HostTree{}
	if err := s.treeTyped(c, formOf(c), &t); err != nil {
		return again(err, s.handleTreeNew)
	}
	t, err := s.Answer.TreePut(c.Request().Context(), t)
	if err != nil {
		return again(err, s.handleTreeNew)
	}
	return goTo(c, hrefOf("tree", t.ID), "The tree is in the book.")
}

func (s *Server) handleTreeChange(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	t, err := s.Apiary.HostTreeGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	v, err := s.treeForm(c, t.PermitID)
	if err != nil {
		return err
	}
	v.Back = hrefOf("tree", id)
	f := v.Form
	f.FillVersion(t.Version)
	for name, value := range map[string]string{"name": t.Name, "place": t.Place, "latitude": degrees(t.Latitude), "longitude": degrees(t.Longitude), "permission": t.Permission, "permission_on": isoOr(t.PermissionOn), "permission_until": isoOr(t.PermissionUntil),
		"owner": t.OwnerName, "permit_id": idText(idOf(t.PermitID)), "species_id": idText(idOf(t.BeeSpeciesID)), "box_id": text(t.BoxSerial), "fixed_on": isoOr(t.FixedOn), "next_visit_on": isoOr(t.NextVisitOn), "notes": t.Notes} {
		f.Fill(name, value)
	}
	if t.VisitEveryDays != nil {
		f.Fill("visit_every_days", strconv.Itoa(*t.VisitEveryDays))
	}
	f.FillTick("box_leaves", t.BoxLeaves)
	return treeChangePage.show(s, c, t.Name, v)
}

// idOf is the id a pointer leads to, 0 for none.
func idOf(p *int64) int64 {
	if p == nil {
		return 0
	}
	return *p
}

func (s *Server) handleTreeChangePost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	t, err := s.Apiary.HostTreeGet(ctx, id)
	if err != nil {
		return err
	}
	f := formOf(c)
	if err := s.treeTyped(c, f, &t); err != nil {
		return again(err, s.handleTreeChange)
	}
	t.Version = f.Version
	if _, err := s.Answer.TreePut(ctx, t); err != nil {
		return again(err, s.handleTreeChange)
	}
	return goTo(c, hrefOf("tree", id), "The tree is kept.")
}

type treeVisitView struct {
	Name, Place, Back, LookFor, Due, Last string
	Mind                                  []string
	Found                                 []Choice
	Form                                  *Form
	Stop                                  string // of a round, done by the visit
}

var treeVisitPage = definePage[treeVisitView]("host-tree-visit")

// handleTreeVisit is the note of a visit: one tap for the common findings.
func (s *Server) handleTreeVisit(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	t, err := s.Apiary.HostTreeGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	row := treeRowOf(t, today, set.Location())
	v := treeVisitView{Name: t.Name, Place: t.Place, Back: hrefOf("tree", id), LookFor: t.LookFor(), Due: row.Next, Last: row.Last, Mind: t.Mind(today), Form: formOf(c), Stop: c.QueryParam("stop")}
	if v.Form.Text("stop") != "" {
		v.Stop = v.Form.Text("stop")
	}
	for _, f := range apiary.Findings {
		v.Found = append(v.Found, Choice{Value: f.Found, Text: f.Words})
	}
	return treeVisitPage.show(s, c, t.Name+": what you saw", v)
}

func (s *Server) handleTreeVisitPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	v := apiary.Visit{TreeID: id, Found: f.Text("found"), Seen: f.Text("seen"), NextVisitOn: f.Date("next_visit_on")}
	var stop *int64
	if f.Text("stop") != "" {
		stop = idOr(f, "stop")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleTreeVisit)
	}
	ctx := c.Request().Context()
	if err := s.Answer.TreeVisit(ctx, v, stop); err != nil {
		return again(err, s.handleTreeVisit)
	}
	t, err := s.Apiary.HostTreeGet(ctx, id)
	if err != nil {
		return err
	}
	said := "The visit is noted."
	if t.DueOn != nil {
		said = "The visit is noted. Next: " + show.Date(*t.DueOn) + "."
	}
	switch {
	case v.Found == "ready" && t.SettledOn == nil && t.BoxID != nil:
		return goTo(c, hrefOf("tree", id), said+" Settled? Then make it a colony of record below.")
	case stop != nil:
		run, err := s.Handover.RunOfStop(ctx, *stop)
		if err != nil {
			return err
		}
		return goTo(c, hrefOf("run", run), said)
	}
	return goTo(c, hrefOf("tree", id), said)
}

type treeView struct {
	ID                                                                   int64
	Name, Place, At, Map, Permission, Owner, OwnerHref, Permit, PermitAt string
	Box, BoxHref, Fixed, Every, Next, Asks, LookFor, State, Notes        string
	Colony, ColonyHref, Species, Away                                    string
	Leaves, Late, Settled, PutAway                                       bool
	Mind                                                                 []string
	Visits                                                               []eventRow
	Drawn                                                                []relationRow
	Settle, Take, Put                                                    *Form
	Kinds                                                                []Choice
}

var treePage = definePage[treeView]("host-tree")

func (s *Server) handleTree(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	t, err := s.Apiary.HostTreeGet(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	visits, err := s.Apiary.HostTreeVisits(ctx, id)
	if err != nil {
		return err
	}
	drawn, err := s.Apiary.DrawnFrom(ctx, id)
	if err != nil {
		return err
	}
	v := treeFacts(t, set.Today(s.DB.Now()))
	v.Settle, v.Take, v.Put = formOf(c, "settle"), formOf(c, "take"), formOf(c, "put")
	for _, f := range []*Form{v.Settle, v.Take, v.Put} {
		f.FillVersion(t.Version)
	}
	v.Settle.FillTick("box_leaves", t.BoxLeaves)
	v.Settle.Fill("species_id", idText(idOf(t.BeeSpeciesID)))
	for _, x := range visits {
		v.Visits = append(v.Visits, eventRow{On: show.Time(x.HappenedAt, set.Location()), Note: x.Words()})
	}
	for _, p := range drawn {
		v.Drawn = append(v.Drawn, relationRow{p.Number, hrefOf("colony", p.ColonyID), p.Kind, show.DateOr(p.HappenedOn, "")})
	}
	if v.Kinds, err = s.speciesChoices(c); err != nil {
		return err
	}
	return treePage.show(s, c, t.Name, v)
}

// treeFacts says what is known of a tree.
func treeFacts(t apiary.HostTree, today time.Time) treeView {
	v := treeView{ID: t.ID, Name: t.Name, Place: t.Place, Permission: t.Permission, Owner: t.OwnerName, Box: text(t.BoxSerial), Fixed: show.DateOr(t.FixedOn, ""), Next: show.DateOr(t.DueOn, ""), Asks: t.Asks(), LookFor: t.LookFor(), State: t.State(), Notes: t.Notes,
		Species: t.SpeciesName, Leaves: t.BoxLeaves, Late: t.DueOn != nil && t.DueOn.Before(today), Settled: t.SettledOn != nil, PutAway: t.PutAway, Away: t.PutAwayBecause, Mind: t.Mind(today), Colony: text(t.ColonyNumber)}
	if t.AtLatitude != nil && t.AtLongitude != nil {
		v.At = degrees(t.AtLatitude) + ", " + degrees(t.AtLongitude)
	}
	if t.PermissionOn != nil {
		v.Permission += " on " + show.Date(*t.PermissionOn)
	}
	if t.PermissionUntil != nil {
		v.Permission += ", until " + show.Date(*t.PermissionUntil)
	}
	if t.OwnerPartyID != nil {
		v.OwnerHref = hrefOf("party", *t.OwnerPartyID)
	}
	if p, named := t.Permit(); named {
		v.Permit, v.PermitAt = p.Title(), hrefOf("permit", p.ID)
	}
	if t.BoxID != nil {
		v.BoxHref = hrefOf("box", *t.BoxID)
	}
	if t.ColonyID != nil {
		v.ColonyHref = hrefOf("colony", *t.ColonyID)
	}
	if t.VisitEveryDays != nil {
		v.Every = "every " + strconv.Itoa(*t.VisitEveryDays) + " days"
	}
	return v
}

func (s *Server) handleTreePost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	deed, ok := map[string]func(echo.Context, int64, *Form) (string, string, error){"settle": s.settleTree, "take": s.takeBox, "put": s.putTreeAway}[c.Get(formIn).(*Form).Name]
	if !ok {
		return fault.New(fault.NotFound, "There is no such page.")
	}
	to, said, err := deed(c, id, c.Get(formIn).(*Form))
	if err != nil {
		return again(err, s.handleTree)
	}
	return goTo(c, to, said)
}

func (s *Server) settleTree(c echo.Context, id int64, f *Form) (string, string, error) {
	leaves := f.Ticked("box_leaves")
	n := apiary.TreeSettling{TreeID: id, Version: f.Version, BoxLeaves: &leaves, SpeciesID: f.ID("species_id"), Sure: f.Ticked("species_sure")}
	if on := f.Date("on"); on != nil {
		n.On = *on
	}
	if err := f.Err(); err != nil {
		return "", "", err
	}
	x, err := s.Apiary.HostTreeSettle(c.Request().Context(), n)
	return hrefOf("colony", x.ID), "It is colony " + x.Number + " now.", err
}

func (s *Server) takeBox(c echo.Context, id int64, f *Form) (string, string, error) {
	went, err := s.Answer.TreeBoxAway(c.Request().Context(), apiary.BoxAway{TreeID: id, Version: f.Version, Place: f.Text("place"), Note: f.Text("note")})
	if went != 0 {
		return hrefOf("colony", went), "The box and its colony have left the tree; it stands in the movement record.", err
	}
	return hrefOf("tree", id), "The box is taken away.", err
}

func (s *Server) putTreeAway(c echo.Context, id int64, f *Form) (string, string, error) {
	return "/bees/trees", "The tree is off the list.", s.Apiary.HostTreePutAway(c.Request().Context(), id, f.Version, f.Text("because"))
}
