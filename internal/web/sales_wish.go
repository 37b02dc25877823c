package web

import (
	"context"
	"net/url"
	"slices"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// wishFields are the choices of what a buyer wants, the same on every form that asks it.
type wishFields struct {
	Model, Timber, Count, Finish, Mount Field
	Sections, Others                    []Field
	Bees, Deliver, KM                   Field
}

// offer is what the workshop can offer: the lists behind the choices of a wish.
type offer struct {
	models  []workshop.Model
	options []workshop.Option
	timbers []Choice
	bees    []Choice
}

// Choices of a box that is not the workshop's: none, or the buyer has one for the bees.
const (
	noBox  = "none"
	ownBox = "own"
)

func (s *Server) offer(ctx context.Context) (offer, error) {
	var o offer
	var err error
	if o.models, err = s.Workshop.ModelList(ctx, false); err != nil {
		return o, err
	}
	if o.options, err = s.Workshop.OptionList(ctx, 0); err != nil {
		return o, err
	}
	timbers, err := s.Timber.SpeciesList(ctx, false)
	if err != nil {
		return o, err
	}
	o.timbers = []Choice{{Value: "", Text: "Whatever is on the shelf"}}
	for _, t := range timbers {
		o.timbers = append(o.timbers, Choice{Value: strconv.FormatInt(t.ID, 10), Text: t.Name})
	}
	bees, err := s.Apiary.SpeciesList(ctx)
	if err != nil {
		return o, err
	}
	o.bees = []Choice{{Value: "", Text: "No bees"}}
	for _, b := range bees {
		o.bees = append(o.bees, Choice{Value: strconv.FormatInt(b.ID, 10), Text: "Colony of " + b.Name})
	}
	return o, nil
}

func optionField(id int64) string { return "option-" + strconv.FormatInt(id, 10) }

// fields lays the choices out over f.
func (o offer) fields(f *Form) wishFields {
	models := []Choice{}
	for _, m := range o.models {
		if m.LatestID != nil {
			models = append(models, Choice{Value: strconv.FormatInt(m.ID, 10), Text: m.Name})
		}
	}
	models = append(models, Choice{Value: ownBox, Text: "None: the bees go into a box they have"}, Choice{Value: noBox, Text: "No box"})
	w := wishFields{
		Model: f.Choose("model_id", "Box", models), Timber: f.Choose("timber_id", "Timber", o.timbers),
		Count: f.Field("count", "How many", "mode=numeric"), Finish: f.Choose("finish", "Finish", o.kind("finish", "No finish")),
		Mount: f.Choose("mount", "Mount", o.kind("mount", "No mount")), Bees: f.Choose("bee_species_id", "Bees", o.bees),
		Deliver: f.Field("deliver", "Bring it to the place"), KM: f.Field("deliver_km", "How far is that, one way?", "mode=decimal", "unit=km"),
	}
	for _, p := range o.options {
		switch p.Kind {
		case "section":
			w.Sections = append(w.Sections, f.Choose(optionField(p.ID), p.Name+", further ones", []Choice{{Text: "none"}, {Value: "1", Text: "1"}, {Value: "2", Text: "2"}, {Value: "3", Text: "3"}}))
		case "other":
			w.Others = append(w.Others, f.Field(optionField(p.ID), p.Name))
		}
	}
	return w
}

func (o offer) kind(kind, none string) []Choice {
	list := []Choice{{Value: "", Text: none}}
	for _, p := range o.options {
		if p.Kind == kind {
			list = append(list, Choice{Value: strconv.FormatInt(p.ID, 10), Text: p.Name})
		}
	}
	return list
}

// fill puts a wish into the fields of f.
func (o offer) fill(f *Form, w sales.Wish) {
	switch {
	case w.OwnBox:
		f.Fill("model_id", ownBox)
	case w.ModelID == 0:
		f.Fill("model_id", noBox)
	default:
		f.Fill("model_id", idText(w.ModelID))
	}
	f.Fill("timber_id", idText(w.TimberID))
	f.Fill("count", strconv.Itoa(w.Pieces()))
	f.Fill("bee_species_id", idText(w.BeeSpeciesID))
	f.FillTick("deliver", w.Deliver)
	if w.DeliverKM > 0 {
		f.Fill("deliver_km", strconv.FormatFloat(w.DeliverKM, 'f', -1, 64))
	}
	for _, p := range o.options {
		n := 0
		for _, id := range w.OptionIDs {
			if id == p.ID {
				n++
			}
		}
		switch {
		case n == 0:
		case p.Kind == "section":
			f.Fill(optionField(p.ID), strconv.Itoa(n))
		case p.Kind == "other":
			f.FillTick(optionField(p.ID), true)
		default:
			f.Fill(p.Kind, idText(p.ID))
		}
	}
}

// wish reads the fields of f; what is wrong is noted there. Options that belong to
// another model are left out: without script their fields stand on the page too.
func (o offer) wish(f *Form) sales.Wish {
	w := sales.Wish{TimberID: f.ID("timber_id"), BeeSpeciesID: f.ID("bee_species_id"), Deliver: f.Ticked("deliver"), Count: 1}
	switch f.Text("model_id") {
	case noBox:
	case ownBox:
		w.OwnBox = true
	default:
		w.ModelID = f.ID("model_id")
	}
	if f.Text("count") != "" {
		w.Count = int(f.Int("count", 1, sales.MaxPieces))
	}
	w.WithColony = w.BeeSpeciesID != 0
	if w.Deliver && f.Text("deliver_km") != "" {
		w.DeliverKM = f.Decimal("deliver_km", 1).InexactFloat64()
	}
	for _, p := range o.options {
		if w.ModelID == 0 || (p.ModelID != nil && *p.ModelID != w.ModelID) {
			continue
		}
		n := int64(0)
		switch p.Kind {
		case "section":
			if f.Text(optionField(p.ID)) != "" {
				n = f.Int(optionField(p.ID), 0, 3)
			}
		case "other":
			if f.Ticked(optionField(p.ID)) {
				n = 1
			}
		default:
			if f.ID(p.Kind) == p.ID {
				n = 1
			}
		}
		w.OptionIDs = append(w.OptionIDs, slices.Repeat([]int64{p.ID}, int(n))...)
	}
	return w
}

// words says a wish in one line, such as 2 × Garden box, hoop pine, painted, with a
// colony of Tetragonula carbonaria, brought.
func (o offer) words(w sales.Wish) string {
	text := "a colony"
	if w.ModelID == 0 && !w.WithColony {
		return ""
	}
	for _, m := range o.models {
		if m.ID == w.ModelID {
			text = m.Name
		}
	}
	if w.Pieces() > 1 {
		text = strconv.Itoa(w.Pieces()) + " × " + text
	}
	if name := chosen(o.timbers, w.TimberID); w.TimberID != 0 && name != "" {
		text += ", " + name
	}
	for _, p := range o.options {
		if slices.Contains(w.OptionIDs, p.ID) {
			text += ", " + p.Name
		}
	}
	if w.WithColony {
		text += ", " + chosen(o.bees, w.BeeSpeciesID)
	}
	if w.OwnBox {
		text += ", into their own box"
	}
	if w.Deliver {
		text += ", brought"
	}
	return text
}

func chosen(list []Choice, id int64) string {
	for _, c := range list {
		if c.Value == idText(id) {
			return c.Text
		}
	}
	return ""
}

// idText writes an id for a form; empty for none.
func idText(id int64) string {
	if id == 0 {
		return ""
	}
	return strconv.FormatInt(id, 10)
}

// queryForm gives the form that stands in the address, as a GET form sends it.
func queryForm(c echo.Context) *Form {
	f := formOf(c)
	if q := c.QueryParams(); len(q) > 0 && !f.Sent {
		f.values = url.Values{}
		for name, list := range q {
			f.values[name] = list
		}
	}
	return f
}
