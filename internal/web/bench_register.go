package web

import (
	"fmt"
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

func (s *Server) registerRegisterPages(r *routes) {
	r.get(access.Orders, "/bench/boxes/:id/sold-on", s.handleSoldOn)
	r.post(access.Orders, "/bench/boxes/:id/sold-on", s.handleSoldOnPost)
	r.get(access.Orders, "/bench/boxes/:id/stolen", s.handleStolen)
	r.post(access.Orders, "/bench/boxes/:id/stolen", s.handleStolenPost)
	r.post(access.Orders, "/bench/boxes/:id/recovered", s.handleRecoveredPost)
	r.post(access.Orders, "/bench/boxes/:id/register-paper", s.handleRegisterPaperPost)
	r.get(access.Orders, "/bench/boxes/:id/register/:issue", s.handleRegisterPaper)
	r.get(access.Orders, "/bench/boxes/stolen", s.handleStolenBoxes)
}

// careFinder is said wherever somebody may come upon a stolen box.
const careFinder = "Do not fetch a stolen box yourself, and open nothing: note where it stands, ring the police with their reference, and go there with them."

// boxRegister adds to the page of a box whose it is and was, and what was reported of it,
// for those who may see names.
func (s *Server) boxRegister(c echo.Context, b workshop.Box, set house.Settings, v *sheetView) error {
	if b.StolenAt != nil {
		v.Late, v.Lead = "Reported stolen", "since "+show.Date(house.DateIn(*b.StolenAt, set.Location()))
		v.Cautions = append(v.Cautions, careFinder)
	}
	if person(c).May(access.Bees) {
		if err := s.boxBees(c, b, set, v); err != nil {
			return err
		}
	}
	if !person(c).May(access.Orders) {
		return nil
	}
	at := hrefOf("box", b.ID)
	switch {
	case b.StolenAt != nil:
		v.Links = append(v.Links, sheetLink{"It was found, or the police's reference", at + "/stolen"})
	case b.GoneAt == nil:
		if !b.Ours {
			v.Links = append(v.Links, sheetLink{"Sold on", at + "/sold-on"})
		}
		v.Links = append(v.Links, sheetLink{"Reported stolen", at + "/stolen"})
	}
	v.Buttons = append(v.Buttons, button(at+"/register-paper", "Paper: whose box it is", ""))
	on := func(t time.Time) string { return show.Date(house.DateIn(t, set.Location())) }
	owners := sheetTable{Title: "Whose it is and was", Heads: heads("Owner", "From", "Until", "How"), Empty: "Not known."}
	for _, o := range b.Owners {
		name, until := cellOf(orWorkshop(o.PartyName)), "now"
		if o.PartyID != nil {
			name = linkCell(o.PartyName, hrefOf("party", *o.PartyID))
		}
		if o.ToAt != nil {
			until = on(*o.ToAt)
		}
		owners.add(name, cellOf(on(o.FromAt)), cellOf(until), cellOf(o.Note))
	}
	v.Tables = append([]sheetTable{owners}, v.Tables...)
	reports, err := s.Workshop.ReportsOf(c.Request().Context(), b.ID)
	if err != nil {
		return err
	}
	if len(reports) > 0 {
		v.Tables = append(v.Tables, reportTable(reports, false, on))
	}
	return s.registerPapers(c, b, on, v)
}

// boxBees lists the colonies that live and lived in a box.
func (s *Server) boxBees(c echo.Context, b workshop.Box, set house.Settings, v *sheetView) error {
	list, err := s.Apiary.HousedIn(c.Request().Context(), b.ID)
	if err != nil || len(list) == 0 {
		return err
	}
	t := sheetTable{Title: "Bees that live and lived in it", Heads: heads("Colony", "From", "Until"), Fold: len(list) > 6}
	for _, h := range list {
		from, until := show.Date(house.DateIn(h.FromAt, set.Location())), "now"
		if h.FromAbout != "" {
			from = h.FromAbout
		}
		if h.ToAt != nil {
			until = show.Date(house.DateIn(*h.ToAt, set.Location()))
		}
		t.add(linkCell(h.Number, hrefOf("colony", h.ColonyID)), cellOf(from), cellOf(until))
	}
	v.Tables = append(v.Tables, t)
	return nil
}

// registerPapers lists the papers that were issued for a box.
func (s *Server) registerPapers(c echo.Context, b workshop.Box, on func(time.Time) string, v *sheetView) error {
	list, err := s.House.PapersOf(c.Request().Context(), "register", b.Serial)
	if err != nil || len(list) == 0 {
		return err
	}
	t := sheetTable{Title: "Papers that say whose it is", Heads: heads("Number", "Issued"), Narrow: true, Fold: len(list) > 3}
	for _, p := range list {
		t.add(linkCell(fmt.Sprintf("%s-%d", p.Number, p.Revision), fmt.Sprintf("%s/register/%d.pdf", hrefOf("box", b.ID), p.Revision)), cellOf(on(p.IssuedAt)))
	}
	v.Tables = append(v.Tables, t)
	return nil
}

func reportTable(list []workshop.StolenReport, boxes bool, on func(time.Time) string) sheetTable {
	t := sheetTable{Title: "Reported stolen", Heads: heads("Missed on", "Reported by", "Police reference", "Found again"), Empty: "No box is missing."}
	if boxes {
		t.Title, t.Heads = "", heads("Box", "Missed on", "Reported by", "Police reference", "Serial last typed by a stranger")
	}
	for _, x := range list {
		last := "not yet"
		if x.RecoveredAt != nil {
			last = strings.TrimSuffix(on(*x.RecoveredAt)+", "+x.RecoveredHow, ", ")
		}
		cells := []sheetCell{cellOf(on(x.StolenAt)), cellOf(x.ReportedBy), cellOf(x.PoliceReference), cellOf(last)}
		if boxes {
			if cells[3].Text = "never"; x.AskedAt != nil {
				cells[3].Text = on(*x.AskedAt)
			}
			cells = append([]sheetCell{linkCell(x.Serial, hrefOf("box", x.BoxID))}, cells...)
		}
		t.add(cells...)
	}
	return t
}

// theBox reads the box of the address, and the settings.
func (s *Server) theBox(c echo.Context) (workshop.Box, house.Settings, error) {
	id, err := pathID(c)
	if err != nil {
		return workshop.Box{}, house.Settings{}, err
	}
	set, err := s.settings(c)
	if err != nil {
		return workshop.Box{}, set, err
	}
	b, err := s.Workshop.BoxGet(c.Request().Context(), id)
	return b, set, err
}

// dayField reads a date as the noon of that day, now when it is today or empty.
func (s *Server) dayField(f *Form, name string, set house.Settings) time.Time {
	now := s.DB.Now()
	day := f.Date(name)
	if day == nil || day.Equal(set.Today(now)) {
		return now
	}
	return time.Date(day.Year(), day.Month(), day.Day(), 12, 0, 0, 0, set.Location()).UTC()
}

func (s *Server) handleSoldOn(c echo.Context) error {
	b, set, err := s.theBox(c)
	if err != nil {
		return err
	}
	at := hrefOf("box", b.ID)
	v := sheetView{Lead: "Now of " + orWorkshop(ownerName(b)) + ".", Links: []sheetLink{{"Back to the box", at}}}
	if b.Ours {
		v.Lead = "The box is the workshop's. Sell it, so that its invoice and guarantee stand in the book."
		v.Links = append(v.Links, sheetLink{"Sell from the shelf", "/orders/shelf"})
		return s.showSheet(c, "Box "+b.Serial+" sold on", v)
	}
	f := formOf(c)
	f.Fill("from_at", show.ISODate(set.Today(s.DB.Now())))
	parts := []sheetPart{{Fields: []kindField{in(f.Field("name", "Whose it is now", "required"))}}}
	more := sheetPart{Legend: "More, as far as you know", Fold: true, Fields: []kindField{in(f.Field("number", "Their phone number", "type=tel", "mode=tel", "hint=Somebody the book knows by it is found.")), in(f.Field("from_at", "Since", "type=date")),
		in(f.Field("note", "How, and who told you")), in(f.Field("place", "Where it stands now"))}}
	if b.ColonyID != nil {
		f.FillTick("with_bees", s.sameOwner(c, b))
		parts[0].Fields = append(parts[0].Fields, tick(f.Field("with_bees", "The bees in it go along")))
		more.Fields = append(more.Fields, in(f.Field("permit_number", "Permit number, if moving them needs one")))
	}
	more.Fields = append(more.Fields, tick(f.Field("back", "It came back to the workshop")))
	v.Forms = []sheetForm{{Action: at + "/sold-on", Form: f, Button: "It is theirs now", Parts: append(parts, more)}}
	v.Cautions = []string{"You write down what you were told; the register is no legal title. Guarantee and questions stay with the first sale, and the page says so afterwards."}
	return s.showSheet(c, "Box "+b.Serial+" sold on", v)
}

// sameOwner reports whether the bees in a box are its owner's.
func (s *Server) sameOwner(c echo.Context, b workshop.Box) bool {
	x, err := s.Apiary.ColonyGet(c.Request().Context(), *b.ColonyID)
	return err == nil && x.OwnerID != nil && b.OwnerPartyID != nil && *x.OwnerID == *b.OwnerPartyID
}

func (s *Server) handleSoldOnPost(c echo.Context) error {
	f := formOf(c)
	b, set, err := s.theBox(c)
	if err != nil {
		return err
	}
	n := answer.SoldOn{BoxID: b.ID, Name: f.Text("name"), Phone: f.Text("number"), BackToUs: f.Ticked("back"), At: s.dayField(f, "from_at", set), Note: f.Text("note"), WithBees: f.Ticked("with_bees"),
		Place: f.Text("place"), PermitNumber: f.Text("permit_number")}
	if err := f.Err(); err != nil {
		return again(err, s.handleSoldOn)
	}
	if n.Phone != "" && !n.BackToUs {
		known, err := s.knownOwner(c, f)
		if err != nil {
			return again(err, s.handleSoldOn)
		}
		if known != 0 {
			n.PartyID = &known
		}
	}
	got, said, err := s.Answer.SellOn(c.Request().Context(), n)
	if err != nil {
		return again(err, s.handleSoldOn)
	}
	return goTo(c, hrefOf("box", b.ID), joined("Box "+b.Serial+" is with "+orWorkshop(got.Owners[0].PartyName)+".", said))
}

func (s *Server) handleStolen(c echo.Context) error {
	b, set, err := s.theBox(c)
	if err != nil {
		return err
	}
	at := hrefOf("box", b.ID)
	v := sheetView{Links: []sheetLink{{"Back to the box", at}, {"All boxes that are missing", "/bench/boxes/stolen"}, {"What a finder sees", "/found"}}, Cautions: []string{careFinder}}
	today := show.ISODate(set.Today(s.DB.Now()))
	reports, err := s.Workshop.ReportsOf(c.Request().Context(), b.ID)
	if err != nil {
		return err
	}
	if b.StolenAt == nil || len(reports) == 0 {
		f := formOf(c)
		f.Fill("stolen_at", today)
		f.Fill("reported_by", ownerName(b))
		v.Lead = "It is then neither promised nor sold, and its public page asks whoever knows of it to ring you."
		v.Forms = []sheetForm{{Action: at + "/stolen", Form: f, Button: "It is stolen", Parts: one(in(f.Field("stolen_at", "Missed on", "type=date", "required")), in(f.Field("reported_by", "Who reported it", "required")),
			in(f.Field("police_reference", "Police reference", "hint=It can be added later.")), area(f.Field("note", "What is known")))}}
		return s.showSheet(c, "Box "+b.Serial+" stolen", v)
	}
	last := reports[len(reports)-1]
	found, change := formOf(c, "found"), formOf(c, "change")
	found.Fill("recovered_at", today)
	change.FillVersion(last.Version)
	change.Fill("police_reference", last.PoliceReference)
	change.Fill("note", last.Note)
	v.Late, v.Lead = "Missing", "since "+show.Date(house.DateIn(last.StolenAt, set.Location()))+", reported by "+last.ReportedBy+"."
	v.Forms = []sheetForm{{Title: "It was found", Action: at + "/recovered", Form: found, Button: "It is found", Parts: one(in(found.Field("recovered_at", "On", "type=date")), in(found.Field("how", "Where, and by whom")))},
		{Title: "The report", Action: at + "/stolen", Form: change, Button: "Keep", Parts: one(in(change.Field("police_reference", "Police reference")), area(change.Field("note", "What is known")))}}
	return s.showSheet(c, "Box "+b.Serial+" stolen", v)
}

func (s *Server) handleStolenPost(c echo.Context) error {
	ctx := c.Request().Context()
	b, set, err := s.theBox(c)
	if err != nil {
		return err
	}
	if f := formOf(c, "change"); f.Sent {
		reports, err := s.Workshop.ReportsOf(ctx, b.ID)
		if err != nil {
			return err
		}
		if len(reports) == 0 {
			return fault.New(fault.Conflict, "Box %s is not reported stolen.", b.Serial)
		}
		if err := s.Workshop.ReportChange(ctx, workshop.StolenReport{ID: reports[len(reports)-1].ID, Version: f.Version, PoliceReference: f.Text("police_reference"), Note: f.Text("note")}); err != nil {
			return again(err, s.handleStolen)
		}
		return goTo(c, hrefOf("box", b.ID), "The report is kept.")
	}
	f := formOf(c)
	n := workshop.StolenReport{BoxID: b.ID, StolenAt: s.dayField(f, "stolen_at", set), ReportedBy: f.Text("reported_by"), PoliceReference: f.Text("police_reference"), Note: f.Text("note")}
	if err := f.Err(); err != nil {
		return again(err, s.handleStolen)
	}
	if _, err := s.Answer.BoxStolen(ctx, n); err != nil {
		return again(err, s.handleStolen)
	}
	return goTo(c, hrefOf("box", b.ID), "It is reported stolen. Ring the police for a reference, and print the paper that says whose box it is.")
}

func (s *Server) handleRecoveredPost(c echo.Context) error {
	f := formOf(c, "found")
	b, set, err := s.theBox(c)
	if err != nil {
		return err
	}
	at := s.dayField(f, "recovered_at", set)
	if err := f.Err(); err != nil {
		return again(err, s.handleStolen)
	}
	if _, err := s.Answer.BoxRecovered(c.Request().Context(), b.ID, at, f.Text("how")); err != nil {
		return again(err, s.handleStolen)
	}
	return goTo(c, hrefOf("box", b.ID), "Good: it is found. Tell the police, and look at its bees before it is promised.")
}

func (s *Server) handleStolenBoxes(c echo.Context) error {
	list, err := s.Workshop.StolenNow(c.Request().Context())
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	on := func(t time.Time) string { return show.Date(house.DateIn(t, set.Location())) }
	return s.showSheet(c, "Boxes that are missing", sheetView{Lead: "Look at the serial of every box that is offered or brought in.", Links: []sheetLink{{"All boxes", "/bench/boxes"}, {"What a finder sees", "/found"}},
		Tables: []sheetTable{reportTable(list, true, on)}, Cautions: []string{careFinder}})
}

func (s *Server) handleRegisterPaperPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	p, err := s.Answer.RegisterPaper(c.Request().Context(), id)
	if err != nil {
		return again(err, s.handleBox)
	}
	return goTo(c, fmt.Sprintf("%s/register/%d.pdf", hrefOf("box", id), p.Revision), "")
}

func (s *Server) handleRegisterPaper(c echo.Context) error {
	b, _, err := s.theBox(c)
	if err != nil {
		return err
	}
	issue, err := strconv.Atoi(strings.TrimSuffix(c.Param("issue"), ".pdf"))
	if err != nil {
		return fault.New(fault.NotFound, "There is no such paper.")
	}
	p, err := s.House.PaperRevision(c.Request().Context(), "register", b.Serial, issue)
	if err != nil {
		return err
	}
	return sendPDF(c, fmt.Sprintf("register-%s-%d", p.Number, p.Revision), p.Bytes)
}

// findBox leads to the box a typed serial belongs to, or shows those it may be meant for.
func (s *Server) findBox(c echo.Context, typed string) ([]workshop.Box, string, error) {
	list, err := s.Workshop.BoxesLike(c.Request().Context(), typed)
	switch {
	case fault.Is(err, fault.Invalid):
		return nil, "A serial has 4 to 8 digits. Look at the box again.", nil
	case err != nil:
		return nil, "", err
	case len(list) == 0:
		return nil, "No box bears " + typed + ", nor one that is near it.", nil
	case list[0].Serial != workshop.SerialTyped(typed):
		return list, "No box bears " + typed + ". Near it, with the right check digit:", nil
	}
	return list, "", nil
}

// ownerName is the present owner of a box; "" for the workshop.
func ownerName(b workshop.Box) string {
	if len(b.Owners) > 0 && b.Owners[0].ToAt == nil {
		return b.Owners[0].PartyName
	}
	return ""
}
