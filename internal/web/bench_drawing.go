package web

import (
	"fmt"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// A drawing offers the lines a model has and a few empty ones; no form of ours takes more
// than drawingRows of a kind.
const (
	emptyRows   = 3
	drawingRows = 60
)

var heldChoices = []Choice{{Value: "outside", Text: "The outside"}, {Value: "inside", Text: "The inside"}}

func sectionKinds() []Choice {
	out := make([]Choice, len(hive.Kinds))
	for i, k := range hive.Kinds {
		out[i] = Choice{Value: k, Text: k}
	}
	return out
}

// drawingParts are the fields of a drawing, filled from a revision. Names are those of
// the model, so that what the calculation refuses stands at its field.
func (s *Server) drawingParts(c echo.Context, f *Form, r workshop.Revision, further bool) ([]sheetPart, error) {
	fits, err := s.Workshop.FitList(c.Request().Context())
	if err != nil {
		return nil, err
	}
	choices := []Choice{{Text: "None"}}
	for _, x := range fits {
		choices = append(choices, Choice{Value: idText(x.ID), Text: x.Name})
	}
	m := r.Body
	f.Fill("body.held_from", m.HeldFrom)
	for name, v := range map[string]float64{"body.length_mm": m.LengthMM, "body.width_mm": m.WidthMM, "body.wall_mm": m.WallMM} {
		if v > 0 {
			f.Fill(name, figureText(v))
		}
	}
	if r.FitID != nil {
		f.Fill("fit_id", idText(*r.FitID))
	}
	f.Fill("serial_section", r.SerialSection)
	fields := []kindField{choose(f.Choose("body.held_from", "Sizes are held from", heldChoices)), in(f.Field("body.length_mm", "Length", "mode=decimal", "unit=mm", "required")), in(f.Field("body.width_mm", "Width", "mode=decimal", "unit=mm", "required")),
		in(f.Field("body.wall_mm", "Wall", "mode=decimal", "unit=mm", "required")), choose(f.Choose("fit_id", "Fit", choices)), in(f.Field("serial_section", "Section that bears the serial", "hint=Empty: the lowest brood section, which has the entrance."))}
	if further {
		fields = append(fields, in(f.Field("reason", "Why it changes", "required")))
	}
	parts := one(fields...)
	parts = append(parts, sectionParts(f, m.Sections)...)
	parts = append(parts, partParts(f, m.Parts)...)
	parts = append(parts, fittingParts(f, "body.", m.Fittings, emptyRows)...)
	needs, err := s.needChoices(c.Request().Context())
	if err != nil {
		return nil, err
	}
	return append(parts, operationParts(f, "body.", m.Operations, emptyRows, needs)...), nil
}

// rows is how many lines to show: those there are, those that were sent, a few more.
func (f *Form) rows(prefix, last string, have, empty int) int {
	n := have + empty
	for n < drawingRows && f.values.Has(fmt.Sprintf("%s%d.%s", prefix, n, last)) {
		n++
	}
	return min(n, drawingRows)
}

func sectionParts(f *Form, list []hive.Section) []sheetPart {
	var parts []sheetPart
	kinds := sectionKinds()
	for i := range f.rows("body.sections.", "id", len(list), emptyRows) {
		at := fmt.Sprintf("body.sections.%d.", i)
		if i < len(list) {
			f.Fill(at+"id", list[i].ID)
			f.Fill(at+"kind", list[i].Kind)
			f.Fill(at+"count", fmt.Sprint(list[i].Count))
			if list[i].HeightMM > 0 {
				f.Fill(at+"height_mm", figureText(list[i].HeightMM))
			}
		}
		parts = append(parts, sheetPart{Legend: fmt.Sprintf("Section %d from the ground", i+1), Fields: []kindField{in(f.Field(at+"id", "Short name")), choose(f.Choose(at+"kind", "Kind", kinds)), in(f.Field(at+"height_mm", "Height", "mode=decimal", "unit=mm")), in(f.Field(at+"count", "How many", "mode=numeric"))}})
	}
	return parts
}

func partParts(f *Form, list []hive.Part) []sheetPart {
	var parts []sheetPart
	for i := range f.rows("body.parts.", "id", len(list), emptyRows) {
		at := fmt.Sprintf("body.parts.%d.", i)
		if i < len(list) {
			p := list[i]
			for name, value := range map[string]string{"id": p.ID, "name": p.Name, "section": p.Section, "count": fmt.Sprint(p.Count), "board_size.width_mm": figureText(p.BoardSize.WidthMM), "board_size.thickness_mm": figureText(p.BoardSize.ThicknessMM),
				"length.length": figureText(p.Length.Length), "length.width": figureText(p.Length.Width), "length.wall": figureText(p.Length.Wall), "length.height": figureText(p.Length.Height), "length.plus_mm": figureText(p.Length.PlusMM)} {
				f.Fill(at+name, value)
			}
			f.Fill(at+"grade", p.Grade)
			if p.Strips != nil {
				f.Fill(at+"strips.count", fmt.Sprint(p.Strips.Count))
				f.Fill(at+"strips.width_mm", figureText(p.Strips.WidthMM))
			}
		}
		parts = append(parts, sheetPart{Legend: fmt.Sprintf("Part %d", i+1), Fields: []kindField{in(f.Field(at+"name", "Name")), in(f.Field(at+"id", "Short name")), in(f.Field(at+"section", "Section", "hint=Its short name; empty for the whole box.")),
			in(f.Field(at+"count", "How many in a box", "mode=numeric")), in(f.Field(at+"board_size.width_mm", "Board width", "mode=decimal", "unit=mm")), in(f.Field(at+"board_size.thickness_mm", "Board thickness", "mode=decimal", "unit=mm")),
			in(f.Field(at+"length.length", "Times the length", "mode=text")), in(f.Field(at+"length.width", "Times the width", "mode=text")), in(f.Field(at+"length.wall", "Times the wall", "mode=text")), in(f.Field(at+"length.height", "Times the height", "mode=text")), in(f.Field(at+"length.plus_mm", "and more", "mode=text", "unit=mm")),
			choose(f.Choose(at+"grade", "Boards for it", gradeNeeds)), in(f.Field(at+"strips.count", "Strips glued side by side", "mode=numeric", "hint=Where it is wider than any board; else empty.")), in(f.Field(at+"strips.width_mm", "Its width once glued", "mode=decimal", "unit=mm"))}})
	}
	return parts
}

// gradeNeeds are the poorest grades that a part may allow.
var gradeNeeds = []Choice{{Text: "Any grade"}, {Value: "sound", Text: "Sound or clear"}, {Value: "clear", Text: "Clear only"}}

// readStrips reads the strips of a part; nil when it is cut whole.
func readStrips(f *Form, at string) *hive.Strips {
	if f.Text(at+"count") == "" && f.Text(at+"width_mm") == "" {
		return nil
	}
	return &hive.Strips{Count: int(f.Int(at+"count", 2, 20)), WidthMM: f.Decimal(at+"width_mm", 2).InexactFloat64()}
}

func fittingParts(f *Form, prefix string, list []hive.Fitting, empty int) []sheetPart {
	var parts []sheetPart
	for i := range f.rows(prefix+"fittings.", "id", len(list), empty) {
		at := fmt.Sprintf("%sfittings.%d.", prefix, i)
		if i < len(list) {
			f.Fill(at+"id", list[i].ID)
			f.Fill(at+"count", fmt.Sprint(list[i].Count))
		}
		parts = append(parts, sheetPart{Legend: fmt.Sprintf("Fitting %d", i+1), Fields: []kindField{in(f.Field(at+"id", "Short name, as in the list of fittings")), in(f.Field(at+"count", "How many", "mode=numeric"))}})
	}
	return parts
}

func operationParts(f *Form, prefix string, list []hive.Operation, empty int, needs []Choice) []sheetPart {
	var parts []sheetPart
	for i := range f.rows(prefix+"operations.", "id", len(list), empty) {
		at := fmt.Sprintf("%soperations.%d.", prefix, i)
		var o hive.Operation
		if i < len(list) {
			o = list[i]
			f.Fill(at+"id", o.ID)
			f.Fill(at+"setup_minutes", figureText(o.SetupMinutes))
			f.Fill(at+"piece_minutes", figureText(o.PieceMinutes))
			f.Fill(at+"wait_minutes", figureText(o.WaitMinutes))
			f.FillTick(at+"owner_only", o.OwnerOnly)
		}
		fields := []kindField{in(f.Field(at+"id", "Name")), in(f.Field(at+"setup_minutes", "Once a batch", "mode=decimal", "unit=minutes")), in(f.Field(at+"piece_minutes", "Each", "mode=decimal", "unit=minutes")), in(f.Field(at+"wait_minutes", "Then wait", "mode=decimal", "unit=minutes"))}
		fields = append(fields, needFields(f, at+"needs.", o.Needs, needs)...)
		parts = append(parts, sheetPart{Legend: fmt.Sprintf("Operation %d", i+1), Fields: append(fields, tick(f.Field(at+"owner_only", "Only the owner does it")))})
	}
	return parts
}

// signed reads a number that may lie below zero; 0 when the field is empty.
func (f *Form) signed(name string, places int32) float64 {
	if f.Text(name) == "" {
		return 0
	}
	d, ok := show.Decimal(f.Text(name), places)
	if !ok {
		f.Wrong(name, "Write a number such as 1, 0.5 or -2.")
	}
	return d.InexactFloat64()
}

// readDrawing reads the model that a drawing was filled in with; empty lines are left out.
func readDrawing(f *Form) hive.Model {
	m := hive.Model{HeldFrom: f.Text("body.held_from"), LengthMM: f.Decimal("body.length_mm", 2).InexactFloat64(), WidthMM: f.Decimal("body.width_mm", 2).InexactFloat64(), WallMM: f.Decimal("body.wall_mm", 2).InexactFloat64(),
		Sections: []hive.Section{}, Parts: []hive.Part{}}
	for i := range drawingRows {
		at := fmt.Sprintf("body.sections.%d.", i)
		if f.Text(at+"id") == "" {
			continue
		}
		m.Sections = append(m.Sections, hive.Section{ID: f.Text(at + "id"), Kind: f.Text(at + "kind"), HeightMM: f.Decimal(at+"height_mm", 2).InexactFloat64(), Count: int(f.Int(at+"count", 1, 1000))})
	}
	for i := range drawingRows {
		at := fmt.Sprintf("body.parts.%d.", i)
		if f.Text(at+"id") == "" {
			continue
		}
		m.Parts = append(m.Parts, hive.Part{ID: f.Text(at + "id"), Name: f.Text(at + "name"), Section: f.Text(at + "section"), Count: int(f.Int(at+"count", 1, 1000)),
			BoardSize: hive.BoardSize{WidthMM: f.Decimal(at+"board_size.width_mm", 1).InexactFloat64(), ThicknessMM: f.Decimal(at+"board_size.thickness_mm", 1).InexactFloat64()},
			Grade:     f.Text(at + "grade"), Strips: readStrips(f, at+"strips."),
			Length: hive.Length{Length: f.signed(at+"length.length", 1), Width: f.signed(at+"length.width", 1), Wall: f.signed(at+"length.wall", 1), Height: f.signed(at+"length.height", 1), PlusMM: f.signed(at+"length.plus_mm", 2)}})
	}
	m.Fittings, m.Operations = readFittings(f, "body.", drawingRows), readOperations(f, "body.", drawingRows)
	return m
}

func readFittings(f *Form, prefix string, rows int) []hive.Fitting {
	out := []hive.Fitting{}
	for i := range rows {
		at := fmt.Sprintf("%sfittings.%d.", prefix, i)
		if f.Text(at+"id") != "" {
			out = append(out, hive.Fitting{ID: f.Text(at + "id"), Count: int(f.Int(at+"count", 1, 1000))})
		}
	}
	return out
}

func readOperations(f *Form, prefix string, rows int) []hive.Operation {
	out := []hive.Operation{}
	for i := range rows {
		at := fmt.Sprintf("%soperations.%d.", prefix, i)
		if f.Text(at+"id") == "" {
			continue
		}
		o := hive.Operation{ID: f.Text(at + "id"), SetupMinutes: f.optionalDecimal(at+"setup_minutes", 1).InexactFloat64(), PieceMinutes: f.optionalDecimal(at+"piece_minutes", 1).InexactFloat64(), WaitMinutes: f.optionalDecimal(at+"wait_minutes", 0).InexactFloat64(), OwnerOnly: f.Ticked(at + "owner_only")}
		for k := range drawingRows {
			if need := f.Text(fmt.Sprintf("%sneeds.%d", at, k)); need != "" {
				o.Needs = append(o.Needs, need)
			}
		}
		out = append(out, o)
	}
	return out
}
