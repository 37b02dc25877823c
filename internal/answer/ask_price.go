package answer

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/costing"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/calc/travel"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

// deliverySubject is the list price of one delivery, whatever the way.
const deliverySubject = "service:delivery"

// detour is road over straight line, as the calculation of runs takes it.
const detour = 1.3

var hundred = decimal.NewFromInt(100)

// addCost notes what something costs: minor units for n pieces, spread over all wanted,
// overhead added.
func (w *working) addCost(kind, what string, minor int64, n int) {
	all := decimal.NewFromInt(minor)
	if n > 0 && n != w.n {
		all = all.Mul(decimal.NewFromInt(int64(w.n))).Div(decimal.NewFromInt(int64(n)))
	}
	all = all.Mul(hundred.Add(w.set.OverheadPct)).Div(hundred).Round(0)
	w.out.Cost = append(w.out.Cost, CostLine{Kind: kind, What: what, CostMinor: all.IntPart()})
}

func (w *working) cost(kinds ...string) int64 {
	var sum int64
	for _, c := range w.out.Cost {
		for _, k := range kinds {
			if c.Kind == k {
				sum += c.CostMinor
			}
		}
	}
	return sum
}

// priced is a line before rounding and tax.
type priced struct {
	line  sales.Line
	each  decimal.Decimal // ex tax, minor units
	costs []string        // kinds of cost that belong to it
}

// price makes the lines of the answer.
func (w *working) price(ctx context.Context) error {
	var list []priced
	if w.rev != nil {
		w.labour()
		list = append(list, w.boxPrice()...)
	} else if w.bees != nil {
		each, code := w.colonyPrice()
		l := sales.Line{Kind: "colony", Description: "Colony of " + w.bees.Name, TaxCode: code, BeeSpeciesID: &w.bees.ID}
		if w.q.Wish.OwnBox {
			l.Description += ", into a box of your own"
		}
		list = append(list, priced{l, each, []string{"colony"}})
	}
	for i := range list {
		l := &list[i].line
		l.Quantity, l.NeedsJSON = decimal.NewFromInt(int64(w.n)), []byte("{}")
	}
	w.deliver(ctx, &list)
	return w.finishLines(ctx, list)
}

func (w *working) labour() {
	n := w.fresh
	if n == 0 {
		n = w.n
	}
	minutes := w.needs.minutes(n)
	w.addCost("labour", fmt.Sprintf("%s at the bench", show.Minutes(int64(math.Ceil(minutes*float64(w.n)/float64(n))))),
		int64(math.Round(minutes*float64(w.set.HourCostMinor)/60)), n)
}

// boxPrice is the box with its options, and its colony where the tax code is the same.
func (w *working) boxPrice() []priced {
	each, code := w.modelPrice()
	l := sales.Line{Kind: "box", TaxCode: code, ModelRevisionID: &w.rev.ID}
	words := []string{w.rev.ModelName}
	if w.species != nil {
		l.TimberSpeciesID = &w.species.ID
		words = append(words, strings.ToLower(w.species.Name))
	}
	for _, o := range w.options {
		words = append(words, strings.ToLower(o.Name))
	}
	l.Description = strings.Join(words, ", ")
	l.SetOptions(w.q.Wish.OptionIDs)
	box := priced{l, each, []string{"timber", "labour", "fittings", "finish"}}
	if w.bees == nil {
		return []priced{clipped(box)}
	}
	box.line.WithColony, box.line.BeeSpeciesID = true, &w.bees.ID
	colony, colonyCode := w.colonyPrice()
	if colonyCode == code {
		box.each = box.each.Add(colony)
		box.costs = append(box.costs, "colony")
		box.line.Description += ", with a colony of " + w.bees.Name
		return []priced{clipped(box)}
	}
	apart := priced{sales.Line{Kind: "text", Description: "The colony of " + w.bees.Name + " in it", TaxCode: colonyCode}, colony, []string{"colony"}}
	return []priced{clipped(box), apart}
}

// clipped keeps a description within a line of a paper.
func clipped(p priced) priced {
	if r := []rune(p.line.Description); len(r) > fault.ShortText {
		p.line.Description = string(r[:fault.ShortText-1]) + "…"
	}
	return p
}

// modelPrice is the list price of one box with its options less the class's step; without
// a list price cost plus margin.
func (w *working) modelPrice() (each decimal.Decimal, taxCode string) {
	p, ok := w.prices[sales.Subject("model", w.rev.ModelID)]
	if !ok {
		each = w.plusMargin(w.cost("timber", "labour", "fittings", "finish")).Div(decimal.NewFromInt(int64(w.n))).Round(0)
		w.part(w.rev.ModelName, each, false)
		w.short(PartPrice, "%s has no list price; this is what it costs plus a margin of %s.", w.rev.ModelName, show.Pct(w.set.MarginPct))
		return each, "standard"
	}
	each = w.listed(w.rev.ModelName, p)
	for i, o := range w.options {
		if q, ok := w.prices[sales.Subject("option", o.ID)]; ok {
			each = each.Add(w.listed(o.Name, q))
			continue
		}
		plus := w.plusMargin(w.optionCost(i)).Round(0)
		w.part(o.Name, plus, false)
		w.say(PartPrice, "%s has no list price; it is reckoned at cost plus margin.", o.Name)
		each = each.Add(plus)
	}
	if !w.stepPct.IsZero() {
		w.say(PartPrice, "%s: %s off the list.", w.class, show.Pct(w.stepPct))
	}
	w.say(PartPrice, "List price of %s since %s.", w.rev.ModelName, show.Date(p.FromOn))
	return each, p.TaxCode
}

// listed is a list price less the step of the buyer's class.
func (w *working) listed(what string, p sales.ListPrice) decimal.Decimal {
	each := decimal.NewFromInt(p.PriceMinor).Mul(hundred.Sub(w.stepPct)).Div(hundred).Round(0)
	w.part(what, each, true)
	return each
}

func (w *working) part(what string, each decimal.Decimal, listed bool) {
	w.out.PriceParts = append(w.out.PriceParts, PricePart{what, each.IntPart(), listed})
}

// plusMargin is a price that leaves the wanted margin on a cost with overhead.
func (w *working) plusMargin(cost int64) decimal.Decimal {
	return decimal.NewFromInt(cost).Mul(hundred).Div(hundred.Sub(w.set.MarginPct))
}

// optionCost is what option i adds to one box, with overhead: its own fittings and
// minutes, and for a further section its boards at the standard cost.
func (w *working) optionCost(i int) int64 {
	o := w.options[i]
	sum := decimal.Zero
	for _, f := range o.Fittings {
		sum = sum.Add(decimal.NewFromInt(w.items[f.ID].CostMinor * int64(f.Count)))
	}
	minutes := 0.0
	for _, op := range o.Operations {
		minutes += op.SetupMinutes/float64(w.n) + op.PieceMinutes
	}
	sum = sum.Add(decimal.NewFromFloat(minutes * float64(w.set.HourCostMinor) / 60))
	if o.Section != "" && w.species != nil {
		sum = sum.Add(decimal.NewFromInt(w.sectionCost(o.Section)))
	}
	return sum.Mul(hundred.Add(w.set.OverheadPct)).Div(hundred).Round(0).IntPart()
}

// sectionCost is the boards of one section at the standard cost, waste included.
func (w *working) sectionCost(id string) int64 {
	count := 1
	for _, s := range w.model.Sections {
		if s.ID == id {
			count = max(1, s.Count)
		}
	}
	var sum int64
	for _, p := range w.parts {
		if p.Section == id {
			sum += w.metreCost(hive.BoardSize{WidthMM: p.BoardSize.WidthMM, ThicknessMM: p.BoardSize.ThicknessMM}, p.LengthMM*float64(p.Count)/float64(count)*wasteFactor)
		}
	}
	return sum
}

// colonyPrice is the list price of a colony. What one costs is not kept in the book; it
// is reckoned as the list price less the wanted margin.
func (w *working) colonyPrice() (each decimal.Decimal, taxCode string) {
	p, ok := w.prices[sales.Subject("colony", w.bees.ID)]
	if !ok {
		w.short(PartPrice, "A colony of %s has no list price, so nothing is charged for it yet.", w.bees.Name)
		return decimal.Zero, "standard"
	}
	each = w.listed("Colony of "+w.bees.Name, p)
	cost := decimal.NewFromInt(p.PriceMinor * int64(w.n)).Mul(hundred.Sub(w.set.MarginPct)).Div(hundred).Round(0)
	w.out.Cost = append(w.out.Cost, CostLine{"colony", "Colonies, reckoned from the list price less the margin", cost.IntPart()})
	return each, p.TaxCode
}

// deliver adds the delivery: the way there and back at the cost of a kilometre, or the
// list price of a delivery.
func (w *working) deliver(ctx context.Context, list *[]priced) {
	if !w.q.Wish.Deliver {
		return
	}
	km, how := w.q.Wish.DeliverKM, "as typed"
	if km == 0 {
		if w.site == nil || w.site.Latitude == nil || w.set.Latitude == nil || w.set.Longitude == nil {
			w.short(PartDelivery, "The way to the buyer is not known: type the kilometres, or give the coordinates of the workshop and the site.")
			return
		}
		d, err := travel.Distance(ctx, travel.DistanceIn{From: travel.Place{Latitude: *w.set.Latitude, Longitude: *w.set.Longitude}, To: travel.Place{Latitude: *w.site.Latitude, Longitude: *w.site.Longitude}})
		if err != nil {
			w.short(PartDelivery, "The coordinates of the site cannot be right: %s", err.Error())
			return
		}
		km, how = math.Round(d.KM*detour), "from the map, roads reckoned a third longer"
	}
	w.addCost("delivery", fmt.Sprintf("%s km there and back", trimmed(2*km)), int64(math.Round(2*km*float64(w.set.DeliveryKMCostMinor))), w.n)
	w.say(PartDelivery, "%s km one way, %s.", trimmed(km), how)
	l := sales.Line{Kind: "service", Description: "Delivery", TaxCode: "standard", Quantity: decimal.NewFromInt(1), NeedsJSON: []byte("{}")}
	if w.site != nil && w.site.Town != "" {
		l.Description += " to " + w.site.Town
	}
	each := w.plusMargin(w.cost("delivery")).Round(0)
	if p, ok := w.prices[deliverySubject]; ok {
		each, l.TaxCode = decimal.NewFromInt(p.PriceMinor), p.TaxCode
		w.part(l.Description, each, true)
	} else {
		w.part(l.Description, each, false)
	}
	*list = append(*list, clipped(priced{l, each, []string{"delivery"}}))
}

// finishLines rounds and taxes the lines through the costing calculation, and fills in
// costs, needs and dates.
func (w *working) finishLines(ctx context.Context, list []priced) error {
	if len(list) == 0 {
		return nil
	}
	in := costing.CostingIn{TaxPct: costing.Whole(0)}
	if w.set.RoundToMinor > 1 {
		in.RoundTo = &costing.Step{Amount: costing.Minor(w.set.RoundToMinor)}
	}
	for i := range list {
		pct, err := w.tax.Pct(list[i].line.TaxCode)
		if err != nil {
			return err
		}
		list[i].line.TaxPct = pct
		each := costing.NewAmount(list[i].each.Div(hundred))
		number := costing.NewNumber(pct)
		in.Lines = append(in.Lines, costing.Line{ID: fmt.Sprint(i), Kind: "goods", Quantity: costing.NewNumber(list[i].line.Quantity), UnitCost: costing.Minor(0), Price: &each, TaxPct: &number})
	}
	out, err := costing.Costing(ctx, in)
	if err != nil {
		return fmt.Errorf("price the lines: %w", err)
	}
	for i, c := range out.Lines {
		l := list[i].line
		l.Position = i + 1
		l.PriceExTaxMinor, l.TaxMinor, l.PriceMinor = c.PriceExTax.MinorUnits(), c.Tax.MinorUnits(), c.Price.MinorUnits()
		l.UnitPriceMinor = decimal.NewFromInt(l.PriceExTaxMinor).Div(l.Quantity).Round(0).IntPart()
		l.CostMinor = w.cost(list[i].costs...)
		if l.Kind == "box" || l.Kind == "colony" {
			for _, line := range w.out.Cost {
				w.needs.Cost = append(w.needs.Cost, CostNeed(line))
			}
			l.NeedsJSON = w.needs.raw()
			if l.Kind == "box" {
				l.BoxOn = w.out.BoxOn
			}
			if w.bees != nil {
				l.ColonyOn = w.out.ColonyOn
			}
		}
		if len(l.OptionsJSON) == 0 {
			l.OptionsJSON = []byte("[]")
		}
		w.out.Lines = append(w.out.Lines, l)
	}
	return nil
}

// sum adds up the answer.
func (w *working) sum() {
	a := &w.out
	for _, l := range a.Lines {
		a.PriceExTaxMinor += l.PriceExTaxMinor
		a.TaxMinor += l.TaxMinor
		a.PriceMinor += l.PriceMinor
	}
	for _, c := range a.Cost {
		a.CostMinor += c.CostMinor
	}
	a.LeftMinor = a.PriceExTaxMinor - a.CostMinor
	if a.PriceExTaxMinor > 0 {
		a.MarginPct = ptr(decimal.NewFromInt(a.LeftMinor).Mul(hundred).Div(decimal.NewFromInt(a.PriceExTaxMinor)).Round(1))
	}
	if a.Decides != "" && (a.BoxOn != nil || a.ColonyOn != nil) {
		last := latest(a.BoxOn, a.ColonyOn)
		a.Reasons = append(a.Reasons, Reason{Part: a.Decides, Text: fmt.Sprintf("%s decides the date: %s with four-in-five certainty.", upper(deciding[a.Decides]), show.Date(*last))})
	}
	if !a.Registered {
		a.Reasons = append(a.Reasons, Reason{Part: PartPrice, Text: "The workshop is not registered for tax: none is added."})
	}
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
