package web

import (
	"fmt"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/door"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
)

var wayChoices = []Choice{{Value: "dressed", Text: "Dressed: what must I saw?"}, {Value: "green", Text: "Green: what does it dress to?"}}

// handleSizes says what to saw for a dressed size, and what a green size dresses to.
// Everything stands in the address; nothing is kept.
func (s *Server) handleSizes(c echo.Context) error {
	usual, err := s.Answer.Allowance(c.Request().Context())
	if err != nil {
		return err
	}
	kinds, err := s.timberChoices(c)
	if err != nil {
		return err
	}
	f := formOf(c, "sizes")
	for name, values := range c.QueryParams() {
		if len(values) > 0 {
			f.Fill(name, values[0])
		}
	}
	f.Fill("grain", usual.Grain)
	figures := []struct {
		name, label, unit string
		at                *decimal.Decimal
	}{{"to_mc_pct", "Moisture it will live at", "%", &usual.MCPct}, {"planing_mm", "The planer takes off both faces together", "mm", &usual.PlaningMM}, {"saw_variation_mm", "It may come off the mill too small by", "mm", &usual.SawVariationMM},
		{"straighten_width_mm", "Straightening takes off the width", "mm", &usual.StraightenWidthMM}, {"straighten_thickness_mm", "Flattening takes off the thickness", "mm", &usual.StraightenThicknessMM}}
	v := sheetView{Lead: "A board is sawn larger than it is dressed: it shrinks, and saw and planer take their part.",
		Cautions: []string{"Saw one board first, dry and dress it, and set the figures right by it."}}
	if person(c).May(access.Settings) {
		v.Links = []sheetLink{{"The workshop's own figures", "/settings/sawing"}}
	}
	if f.Text("width_mm") != "" || f.Text("thickness_mm") != "" || f.Text("species_id") != "" {
		z := timber.Size{WidthMM: f.Decimal("width_mm", 1), ThicknessMM: f.Decimal("thickness_mm", 1)}
		q := answer.SizeQuestion{SpeciesID: f.chosen("species_id", "Choose the timber."), Dressed: &z}
		if f.Text("way") == "green" {
			q.Dressed, q.Green = nil, &z
		}
		for _, fig := range figures {
			if f.Text(fig.name) != "" {
				*fig.at = f.Decimal(fig.name, 1)
			}
		}
		usual.Grain = f.Text("grain")
		q.Change = func(a *timber.Allowance) { *a = usual }
		err := f.Err()
		var a answer.SizeAnswer
		if err == nil {
			a, err = s.Answer.Sizes(c.Request().Context(), q)
		}
		switch {
		case err == nil:
			v.Facts = sizeFacts(a, q.Green != nil)
		case fault.Is(err, fault.Invalid):
			f.fail(err)
			c.Set(statusIn, door.StatusOf(err))
		default:
			return err
		}
	}
	var more []kindField
	for _, fig := range figures {
		f.Fill(fig.name, fig.at.String())
		more = append(more, in(f.Field(fig.name, fig.label, "mode=decimal", "unit="+fig.unit)))
	}
	parts := []sheetPart{{Fields: []kindField{choose(f.Choose("species_id", "Timber", kinds, "required")), choose(f.Choose("way", "This size is", wayChoices)), in(f.Field("width_mm", "Width", "mode=decimal", "unit=mm", "required")),
		in(f.Field("thickness_mm", "Thickness", "mode=decimal", "unit=mm", "required")), choose(f.Choose("grain", "Shrinkage", grainChoices))}}, {Legend: "The figures it is reckoned with", Fields: more}}
	v.Forms = []sheetForm{{Action: "/timber/sizes", Form: f, Parts: parts, Button: "Work it out", Look: true}}
	return s.showSheet(c, "Sizes to saw", v)
}

func sizeFacts(a answer.SizeAnswer, fromGreen bool) []sheetFact {
	green, dressed, sure := show.BoardSize(a.Green.WidthMM, a.Green.ThicknessMM), show.BoardSize(a.Dressed.WidthMM, a.Dressed.ThicknessMM), show.BoardSize(a.Sure.WidthMM, a.Sure.ThicknessMM)
	shrinks := fmt.Sprintf("%.1f %% from green to %g %% moisture", a.ShrinkagePct, a.ShrinkageToMC)
	if !a.Known {
		shrinks += ": our estimate, the book has no figure for this timber"
	}
	if fromGreen {
		return []sheetFact{{Name: "Sawn green", Text: green}, {Name: "Is sure to dress to", Text: dressed}, {Name: "Shrinks", Text: shrinks}}
	}
	return []sheetFact{{Name: "To dress to", Text: dressed}, {Name: "Saw it green", Text: green}, {Name: "Which is sure to dress to", Text: sure}, {Name: "Shrinks", Text: shrinks}}
}
