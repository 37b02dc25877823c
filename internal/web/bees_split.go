package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

type splitView struct {
	ID                  int64
	Lead, Back          string
	Held                bool
	Mind                []string
	Boxes               []Choice
	Sections            []splitSection
	FromBox, SerialStay string
	Form                *Form
}

// splitSection is one section of the box that is split, the uppermost first.
type splitSection struct {
	Place  string
	Name   string
	Ticked bool
}

var splitPage = definePage[splitView]("split")

// handleSplit asks into which box a split went, and which sections with it.
func (s *Server) handleSplit(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	x, err := s.Apiary.ColonyGet(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	v := splitView{ID: id, Back: hrefOf("colony", id), Held: x.HeldBackBecause != "", Form: formOf(c), Lead: strings.Join(slices.DeleteFunc([]string{strings.TrimSpace(x.Number + " " + x.Name), speciesWords(x), whereWords(x)}, func(p string) bool { return p == "" }), ", ")}
	v.Form.Fill("happened_at", show.ISODate(today))
	v.Form.FillTick("exchange", true)
	if v.Mind, err = s.splitMind(c, x, today, set.Location()); err != nil {
		return err
	}
	shelf, _, err := s.Workshop.BoxList(ctx, workshop.BoxFilter{Shelf: true, Limit: 200})
	if err != nil {
		return err
	}
	v.Boxes = []Choice{{Text: "Another: its serial below"}}
	for _, b := range shelf {
		v.Boxes = append(v.Boxes, Choice{Value: strconv.FormatInt(b.ID, 10), Text: b.Serial + ", " + b.What()})
	}
	if x.BoxID == nil {
		return splitPage.show(s, c, "A split", v)
	}
	b, err := s.Workshop.BoxGet(ctx, *x.BoxID)
	if err != nil {
		return err
	}
	serial, err := s.Workshop.SerialPlace(ctx, b)
	if err != nil {
		return err
	}
	v.FromBox = b.Serial
	for _, z := range slices.Backward(b.Sections) {
		switch place := strconv.Itoa(z.Place); {
		case z.ToAt != nil:
		case z.Place == serial:
			v.SerialStay = fmt.Sprintf("The %s at place %d bears the serial %s, so it stayed.", plain(z.Section), z.Place, b.Serial)
		default:
			v.Sections = append(v.Sections, splitSection{Place: place, Name: plain(z.Section), Ticked: slices.Contains(v.Form.All("section"), place)})
		}
	}
	return splitPage.show(s, c, "A split", v)
}

// splitMind says what speaks against a split now by the figures of the kind.
func (s *Server) splitMind(c echo.Context, x apiary.Colony, today time.Time, loc *time.Location) (mind []string, err error) {
	if x.SpeciesID == nil {
		return nil, nil
	}
	sp, err := s.Apiary.SpeciesGet(c.Request().Context(), *x.SpeciesID)
	if err != nil {
		return nil, err
	}
	if len(sp.SplitMonths) > 0 && !slices.Contains(sp.SplitMonths, int32(today.Month())) {
		mind = append(mind, today.Month().String()+" is out of season for splitting "+sp.Name+", by the figures of the kind.")
	}
	events, err := s.Apiary.EventsOf(c.Request().Context(), x.ID)
	for _, e := range events {
		on := house.DateIn(e.HappenedAt, loc)
		if e.Kind == "split" && sp.SplitIntervalMonths != nil && on.AddDate(0, *sp.SplitIntervalMonths, 0).After(today) {
			return append(mind, fmt.Sprintf("It was split on %s; the kind asks for %s between splits.", show.Date(on), show.Count(int64(*sp.SplitIntervalMonths), "month", "months"))), err
		}
	}
	return mind, err
}

func (s *Server) handleSplitPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	box, err := s.boxOf(c, f, "serial")
	if err != nil {
		return err
	}
	if box == 0 {
		box = f.ID("box_id")
	}
	if box == 0 {
		f.Wrong("box_id", "Choose the box that the split went into, or give its serial.")
	}
	made := answer.SplitMade{Splitting: apiary.Splitting{ParentID: id, BoxID: box, Note: f.Text("note"), InSpite: f.Text("in_spite")}, Exchange: f.Ticked("exchange")}
	for _, place := range f.All("section") {
		n, err := strconv.Atoi(place)
		if err != nil {
			f.Wrong("sections", "Choose sections from the list.")
		}
		made.Sections = append(made.Sections, workshop.SectionStep{Place: n})
	}
	if made.At, _, err = s.when(c, f); err != nil {
		return err
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleSplit)
	}
	child, said, err := s.Answer.SplitColony(c.Request().Context(), made)
	if err != nil {
		return again(err, s.handleSplit)
	}
	return goTo(c, hrefOf("colony", child.ID), joined("The split is colony "+child.Number+".", said))
}
