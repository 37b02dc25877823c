package demo

import (
	"math"
	"slices"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/sales"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// ground is what stands before anything happens: models, options, prices, things bought.
type ground struct {
	revs      map[string]workshop.Revision // by model code, the latest
	models    map[string]workshop.Model
	options   map[string]workshop.Option
	woods     map[string]timber.Species
	items     map[string]timber.Item
	suppliers map[string]timber.Supplier
	classes   map[string]sales.BuyerClass
	climate   int64
	prices    map[string]int64 // list prices by subject, ex tax, minor units
}

// kind is a way in which boxes are often wanted.
type kind struct {
	model, wood string
	options     []string
	weight      int
}

// kinds are the boxes people ask for, with how often.
var kinds = []kind{
	{"two-tier-230", "hoop-pine", []string{"oiled"}, 34},
	{"two-tier-230", "white-cypress", []string{"oiled"}, 14},
	{"deep-honey-230", "hoop-pine", []string{"painted"}, 16},
	{"thick-wall-210", "hoop-pine", []string{"oiled"}, 10},
	{"deep-honey-230", "western-red-cedar", []string{"oiled"}, 9},
	{"two-tier-230", "hoop-pine", []string{"oiled", "wall-bracket"}, 8},
	{"two-tier-230", "southern-silky-oak", []string{"oiled"}, 5},
	{"two-tier-230", "hoop-pine", []string{"oiled", "more-honey"}, 4},
}

func (w *world) kind() kind {
	total := 0
	for _, k := range kinds {
		total += k.weight
	}
	n := w.rng.IntN(total)
	for _, k := range kinds {
		if n -= k.weight; n < 0 {
			return k
		}
	}
	return kinds[0]
}

func (w *world) optionIDs(codes []string) []int64 {
	ids := []int64{}
	for _, c := range codes {
		ids = append(ids, w.options[c].ID)
	}
	return ids
}

func (w *world) layGround() {
	w.layWoods()
	w.layThings()
	w.layModels()
	w.layPrices()
	w.layHours()
}

// layWoods takes the calculation's species into use and prices their metres.
func (w *world) layWoods() {
	got(w.Timber.SpeciesSeed(w.ctx))
	w.woods = map[string]timber.Species{}
	cost := map[string]int64{"hoop-pine": 340, "white-cypress": 420, "western-red-cedar": 980, "southern-silky-oak": 760, "red-cedar": 1150}
	for _, s := range got(w.Timber.SpeciesList(w.ctx, false)) {
		if c, used := cost[s.Code]; used {
			s.MetreCostMinor = c
			if s.Code == "hoop-pine" {
				s.MeterSource = "invented booklet"
				s.MeterTable = []timber.MeterStep{{ShowsPct: mm(10), TruePct: mm(10.5)}, {ShowsPct: mm(20), TruePct: mm(21.5)}}
			}
			s = got(w.Timber.SpeciesSave(w.ctx, s))
		} else {
			s.PutAwayAt = ptr(w.DB.Now())
			s = got(w.Timber.SpeciesSave(w.ctx, s))
		}
		w.woods[s.Code] = s
	}
	months := [12]timber.Month{}
	for i, m := range [12][2]float64{{25.0, 70}, {24.8, 72}, {23.6, 71}, {20.9, 69}, {17.5, 69}, {14.9, 68}, {14.1, 64}, {15.3, 60}, {18.3, 58}, {20.8, 61}, {22.7, 64}, {24.3, 66}} {
		months[i] = timber.Month{TemperatureC: m[0], HumidityPct: m[1]}
	}
	w.climate = got(w.Timber.ClimateSave(w.ctx, timber.Climate{Name: "Open shed, ridge side", Months: months})).ID
	for i := range months { // under glass: warmer by about 14 degrees, the same water in the air
		months[i].TemperatureC, months[i].HumidityPct = months[i].TemperatureC+14, math.Round(months[i].HumidityPct*0.45)
	}
	got(w.Timber.ClimateSave(w.ctx, timber.Climate{Name: "Glass lean-to", Kind: timber.Solar, Months: months}))
}

// layThings are suppliers, fittings, finishes and goods.
func (w *world) layThings() {
	w.suppliers = map[string]timber.Supplier{}
	for _, s := range []timber.Supplier{
		{Name: "Corrabin Hardware", Phone: "07 5550 0118", LeadDays: 4, Notes: "Closed Saturday afternoon."},
		{Name: "Range Fasteners", Phone: "07 7010 0433", LeadDays: 9, Notes: "Screws by the thousand; carriage paid over 150."},
		{Name: "Old Landing Timber Yard", Phone: "07 5550 0276", LeadDays: 12, Notes: "Dressed cedar, ask for the long ones."},
		{Name: "Tallowood Straps and Webbing", Phone: "07 7010 0509", LeadDays: 14},
	} {
		w.suppliers[s.Name] = got(w.Timber.SupplierSave(w.ctx, s))
	}
	sup := func(name string) *int64 { return ptr(w.suppliers[name].ID) }
	w.items = map[string]timber.Item{}
	for _, i := range []timber.Item{
		{Code: "screw-30", Name: "Screw 30 mm, stainless", Kind: "fitting", Counted: true, Unit: "each", CostMinor: 9, SupplierID: sup("Range Fasteners"), LowMark: 400},
		{Code: "screw-50", Name: "Screw 50 mm, stainless", Kind: "fitting", Counted: true, Unit: "each", CostMinor: 14, SupplierID: sup("Range Fasteners"), LowMark: 800},
		{Code: "screw-75", Name: "Screw 75 mm, stainless", Kind: "fitting", Counted: true, Unit: "each", CostMinor: 24, SupplierID: sup("Range Fasteners"), LowMark: 200},
		{Code: "entrance-tube", Name: "Entrance tube 13 mm", Kind: "fitting", Counted: true, Unit: "each", CostMinor: 85, SupplierID: sup("Corrabin Hardware"), LowMark: 20},
		{Code: "strap", Name: "Strap with buckle, 25 mm", Kind: "fitting", Counted: true, Unit: "each", CostMinor: 420, SupplierID: sup("Tallowood Straps and Webbing"), LowMark: 15},
		{Code: "wall-bracket", Name: "Wall bracket, galvanised", Kind: "fitting", Counted: true, Unit: "each", CostMinor: 1850, SupplierID: sup("Corrabin Hardware"), LowMark: 6},
		{Code: "tung-oil", Name: "Tung oil, 4 l", Kind: "finish", Unit: "tin", CostMinor: 8800, SupplierID: sup("Corrabin Hardware")},
		{Code: "outdoor-paint", Name: "Outdoor paint, light grey, 4 l", Kind: "finish", Unit: "tin", CostMinor: 9400, SupplierID: sup("Corrabin Hardware")},
		{Code: "wood-glue", Name: "Wood glue, waterproof, 1 kg", Kind: "finish", Unit: "bottle", CostMinor: 2600, SupplierID: sup("Corrabin Hardware")},
		{Code: "roof-sheet", Name: "Roof sheet, folded", Kind: "goods", Counted: true, Unit: "each", CostMinor: 1400, SupplierID: sup("Corrabin Hardware"), LowMark: 4},
		{Code: "post-stand", Name: "Stand for one box, 600 mm", Kind: "goods", Counted: true, Unit: "each", CostMinor: 3100, LowMark: 2},
	} {
		w.items[i.Code] = got(w.Timber.ItemSave(w.ctx, i))
	}
}

// layModels draws the models up, with the fits that let their sections interchange, and
// what can be chosen on them.
func (w *world) layModels() {
	w.models, w.revs, w.options = map[string]workshop.Model{}, map[string]workshop.Revision{}, map[string]workshop.Option{}
	fits := map[string]workshop.Fit{}
	size := func(name string, nominal, low, high float64) workshop.FitSize {
		return workshop.FitSize{Name: name, NominalMM: mm(nominal), LowMM: mm(low), HighMM: mm(high)}
	}
	fits["230 x 150"] = got(w.Workshop.FitSave(w.ctx, workshop.Fit{Name: "230 x 150", Notes: "Gauge block A on the wall above the saw.",
		Sizes: []workshop.FitSize{size("Inside length", 230, 229.5, 230.5), size("Inside width", 150, 149.5, 150.5), size("Rebate depth", 10, 9.8, 10.2)}}))
	fits["210 x 140"] = got(w.Workshop.FitSave(w.ctx, workshop.Fit{Name: "210 x 140", Notes: "Gauge block B.",
		Sizes: []workshop.FitSize{size("Inside length", 210, 209.5, 210.5), size("Inside width", 140, 139.5, 140.5), size("Rebate depth", 12, 11.8, 12.2)}}))
	for _, r := range hive.Ready() {
		m := got(w.Workshop.ModelSave(w.ctx, workshop.Model{Code: r.Model.ID, Name: r.Name}))
		w.models[m.Code] = m
		w.revs[m.Code] = got(w.Workshop.RevisionAdd(w.ctx, workshop.Drawing{ModelID: m.ID, Body: ownMachines(r.Model), FitID: ptr(fits[r.Model.Fit].ID), SerialSection: "brood"}))
	}
	two := w.models["two-tier-230"].ID
	for _, o := range []workshop.Option{
		{Code: "oiled", Name: "Oiled outside", Kind: "finish", CureDays: 10, Operations: []hive.Operation{{ID: "oil", SetupMinutes: 10, PieceMinutes: 6, WaitMinutes: 1440}}},
		{Code: "painted", Name: "Painted light grey", Kind: "finish", CureDays: 21, Operations: []hive.Operation{{ID: "paint two coats", SetupMinutes: 20, PieceMinutes: 14, WaitMinutes: 2880, Needs: []string{"paint rack"}}}},
		{Code: "wall-bracket", Name: "Wall bracket", Kind: "mount", Fittings: []hive.Fitting{{ID: "wall-bracket", Count: 1}}, Operations: []hive.Operation{{ID: "fix bracket", PieceMinutes: 8}}},
		{Code: "more-honey", Name: "One more honey section", Kind: "section", ModelID: &two, Section: "honey", Fittings: []hive.Fitting{{ID: "screw-50", Count: 4}}},
	} {
		w.options[o.Code] = got(w.Workshop.OptionSave(w.ctx, o))
	}
	w.countThings()
	for _, m := range w.models {
		got(w.Workshop.DryOperationsSet(w.ctx, m.ID, []string{"oil", "paint two coats"}))
	}
	ok(w.Workshop.RainDaysSet(w.ctx, [12]float64{12.5, 13, 13, 10, 9.5, 8, 6.5, 6, 7, 9.5, 10.5, 11.5}))
}

// layPrices are the first list prices, the classes of buyers, and the tax.
func (w *world) layPrices() {
	ok(w.House.TaxRegister(w.ctx, w.first, true, "GST"))
	price := func(subject string, dollars int64) { w.setPrice(subject, dollars, "") }
	price(sales.Subject("model", w.models["two-tier-230"].ID), 190)
	price(sales.Subject("model", w.models["deep-honey-230"].ID), 220)
	price(sales.Subject("model", w.models["thick-wall-210"].ID), 290)
	price(sales.Subject("option", w.options["oiled"].ID), 20)
	price(sales.Subject("option", w.options["painted"].ID), 30)
	price(sales.Subject("option", w.options["wall-bracket"].ID), 50)
	price(sales.Subject("option", w.options["more-honey"].ID), 60)
	price(sales.Subject("item", w.items["roof-sheet"].ID), 40)
	price(sales.Subject("item", w.items["post-stand"].ID), 70)
	price("service:split", 80)
	price("service:move", 120)
	w.classes = map[string]sales.BuyerClass{}
	for _, c := range []struct {
		name string
		pct  int64
	}{{"Friend", 10}, {"Keeper of many", 8}, {"School or club", 12}, {"Council", 0}} {
		w.classes[c.name] = got(w.Sales.ClassPut(w.ctx, sales.BuyerClass{Name: c.name, StepPct: decimal.NewFromInt(c.pct)}))
	}
}

// layHours are the hours at the bench, and time off.
func (w *world) layHours() {
	hours := []workshop.Hours{}
	for day := 1; day <= 5; day++ {
		hours = append(hours, workshop.Hours{Weekday: day, StartMinute: 7*60 + 30, EndMinute: 12 * 60, Hands: 1}, workshop.Hours{Weekday: day, StartMinute: 13 * 60, EndMinute: 16 * 60, Hands: 1})
	}
	ok(w.Workshop.WeekSet(w.ctx, workshop.Week{FromOn: w.first, Hours: hours}))
	w.layHands()
	away := func(from time.Time, days int, why string) {
		got(w.Workshop.AwayAdd(w.ctx, workshop.Away{FromOn: from, ToOn: from.AddDate(0, 0, days-1), Why: why}))
	}
	for year := w.first.Year(); year <= w.last.Year(); year++ {
		away(time.Date(year, 12, 24, 0, 0, 0, 0, time.UTC), 12, "Christmas and New Year")
	}
	away(w.last.AddDate(0, 0, -200), 4, "Back out, no lifting")
	away(w.last.AddDate(0, 0, 17), 2, "Field day with the bee club")
}

// layHands are the helper, who comes on Tuesdays, and some weeks of Saturdays on which the
// maker is not there.
func (w *world) layHands() {
	got(w.Workshop.SecondHandsSave(w.ctx, workshop.SecondHands{Who: "Pasco", FromOn: w.first, Weekdays: []int16{2}, StartMinute: 7*60 + 30, Minutes: 510}))
	got(w.Workshop.SecondHandsSave(w.ctx, workshop.SecondHands{Who: "Tilly, home for the holidays", FromOn: w.last.AddDate(0, 0, -3), ToOn: ptr(w.last.AddDate(0, 0, 38)), Weekdays: []int16{6}, StartMinute: 8 * 60, Minutes: 240, WhileAway: true}))
}

// ownMachines marks the work at saw and router as the maker's alone.
func ownMachines(m hive.Model) hive.Model {
	m.Operations = slices.Clone(m.Operations)
	for i, o := range m.Operations {
		m.Operations[i].OwnerOnly = o.ID == "dock" || o.ID == "rebate"
	}
	return m
}

// countThings counts what the drawings named.
func (w *world) countThings() {
	for _, t := range got(w.Workshop.ThingList(w.ctx, false)) {
		switch t.Name {
		case "clamps":
			t.Count, t.Notes = 2, "Two sets of six."
		case "paint rack":
			t.Count, t.Notes = 2, "Behind the shed, out of the wind."
		}
		got(w.Workshop.ThingSave(w.ctx, t))
	}
}
