package demo

import (
	"context"
	"math"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/claims"
	"kerfbook/internal/house"
	"kerfbook/internal/timber"
)

// stock is the timber on its way and the fittings on order.
type stock struct {
	yard    bool           // boards of a yard are on their way
	onOrder map[int64]bool // items
	boards  map[string]int // orders of boards under way, by wood
}

// milling is how a wood comes: how often a log, and what a log costs.
type milling struct {
	wood      string
	everyDays int
	boxes     int // for how many boxes a log is sawn
	costMinor int64
	from      []string
}

var millings = []milling{
	{"hoop-pine", 75, 26, 26000, []string{"Harrow Hill windfall", "Upper Corrabin plantation thinning", "A buyer's paddock, Bannister Flat"}},
	{"white-cypress", 150, 22, 19000, []string{"Tin Kettle Creek, fence line", "Dry Saddle, storm"}},
	{"southern-silky-oak", 240, 12, 31000, []string{"Street tree, Marlow Junction", "Garden at Tallowood Reach"}},
}

// sawn is one green size of a log's boards and what is dressed from it, as boards of 2400
// mm for ten boxes.
type sawn struct {
	wide, thick float64
	each        int // every so many logs
	gives       []dressed
}

type dressed struct {
	wide, thick float64
	boards      float64 // for ten boxes
}

var sawnSizes = []sawn{
	{100, 28, 1, []dressed{{90, 25, 10}, {60, 25, 4}, {40, 25, 3}, {20, 12, 3.4}}},
	{135, 28, 1, []dressed{{125, 25, 3.6}, {100, 25, 3}}},
	{105, 50, 2, []dressed{{90, 45, 9}}},
	{160, 28, 2, []dressed{{150, 25, 4}}},
}

// openStock is what lay on the rack, in the drawers and in the stacks on the first day.
func (w *world) openStock() {
	w.onOrder, w.boards = map[int64]bool{}, map[string]int{}
	at := w.at(7, 10)
	lay := func(wood string, tens float64, sizes []sawn, place string) {
		for _, s := range sizes {
			for _, d := range s.gives {
				for _, l := range []struct {
					mm    int
					share float64
				}{{2400, 0.7}, {1800, 0.35}, {3000, 0.15}} {
					if n := int(math.Ceil(d.boards * tens * l.share)); n > 0 {
						got(w.Timber.LotIn(w.ctx, timber.LotKey{SpeciesID: w.woods[wood].ID, WidthMM: mm(d.wide), ThicknessMM: mm(d.thick), Grade: "sound", LengthMM: l.mm,
							Place: place, FirstInOn: w.first}, n, timber.Opening, at, "counted when the book was begun"))
					}
				}
			}
		}
	}
	lay("hoop-pine", 7, sawnSizes, "rack A")
	lay("white-cypress", 3, sawnSizes[:2], "rack B")
	lay("western-red-cedar", 2, sawnSizes[:2], "rack C")
	lay("southern-silky-oak", 1.5, sawnSizes[:2], "rack C")
	for code, n := range map[string]int{"screw-30": 2200, "screw-50": 5200, "screw-75": 900, "entrance-tube": 90, "strap": 70, "wall-bracket": 24, "roof-sheet": 14, "post-stand": 8} {
		got(w.Timber.MoveBook(w.ctx, timber.Move{Thing: claims.Item(w.items[code].ID), Quantity: n, Kind: timber.Opening, HappenedAt: at}))
	}
	for i, m := range millings {
		w.saw(m, i, w.first.AddDate(0, 0, -50-20*i), true)
		w.in(m.everyDays-20*i, func() { w.logComes(m, 1) })
	}
}

// logComes is a log that arrives, is sawn some days later and stacked; then the next one.
func (w *world) logComes(m milling, nth int) {
	w.at(9, 30)
	w.saw(m, nth, w.day, false)
	w.in(m.everyDays+w.between(-12, 12), func() { w.logComes(m, nth+1) })
}

// saw enters a log and stacks its boards. old logs were sawn before the book was begun.
func (w *world) saw(m milling, nth int, on time.Time, old bool) {
	now := w.DB.Now()
	small := 340 + 10*w.rng.IntN(14)
	log := got(w.Timber.LogSave(w.ctx, timber.Log{SpeciesID: w.woods[m.wood].ID, SmallEndMM: decimal.NewFromInt(int64(small)), LargeEndMM: decimal.NewFromInt(int64(small + 30 + w.rng.IntN(30))),
		LengthMM: decimal.NewFromInt(int64(2700 + 100*w.rng.IntN(10))), SweepMM: decimal.NewFromInt(int64(5 * w.rng.IntN(6))), FelledOn: ptr(on.AddDate(0, 0, -w.between(5, 40))), EndsSealed: w.chance(0.8),
		MetalSuspected: w.chance(0.15), FromWhere: pick(w, m.from), CostMinor: m.costMinor + int64(100*w.rng.IntN(40)), HaulageMinor: int64(4000 + 500*w.rng.IntN(8))}, false))
	stack := func() {
		at := w.DB.Now()
		if old {
			at = now
		}
		log = got(w.Timber.LogSawn(w.ctx, log.ID, log.Version, at, 150+w.rng.IntN(120)))
		day := on
		if !old {
			day = w.day
		}
		share := int64(0)
		for _, s := range sawnSizes {
			if nth%s.each == 0 {
				share++
			}
		}
		for i, s := range sawnSizes {
			if nth%s.each == 0 && !(i >= 2 && m.wood != "hoop-pine") {
				w.stack(m, log, s, day, (log.CostMinor+log.HaulageMinor+9000)/max(share, 1))
			}
		}
	}
	if old {
		stack()
		return
	}
	w.in(w.between(2, 8), func() { w.at(14, 0); stack() })
}

// stack lays one pack up and goes on with its readings.
func (w *world) stack(m milling, log timber.Log, s sawn, on time.Time, costMinor int64) {
	boards := 0.0
	for _, d := range s.gives {
		boards += d.boards
	}
	n := int(math.Ceil(boards * float64(m.boxes) / 10))
	short := n / 3
	p := timber.PackNew{SpeciesID: log.SpeciesID, WidthMM: mm(s.wide), ThicknessMM: mm(s.thick), LogID: &log.ID, Place: pick(w, []string{"ridge shed, bay 1", "ridge shed, bay 2", "lean-to"}),
		ClimateID: &w.climate, StackedOn: on, StartMCPct: ptr(decimal.NewFromInt(int64(48 + w.rng.IntN(20)))), TargetMCPct: decimal.NewFromInt(14),
		DressesTo: &timber.Size{WidthMM: mm(s.gives[0].wide), ThicknessMM: mm(s.gives[0].thick)}, CostMinor: costMinor,
		Content: []timber.Content{{LengthMM: 2450, Grade: "sound", Count: n - short}}}
	if short > 0 {
		p.Content = append(p.Content, timber.Content{LengthMM: 1850, Grade: "sound", Count: short})
	}
	pack := got(w.Timber.PackStack(w.ctx, p))
	start := p.StartMCPct.InexactFloat64()
	tau := 36 * math.Pow(s.thick/28, 1.5) * (0.85 + 0.3*w.rng.Float64())
	w.in(w.between(45, 60), func() { w.read(pack.ID, s, start, tau) })
}

// read meters a pack, and dresses it once it is dry enough; else it is read again.
func (w *world) read(pack int64, s sawn, start, tau float64) {
	w.at(8, 20)
	p := got(w.Timber.PackGet(w.ctx, pack))
	days := w.day.Sub(p.StackedOn).Hours() / 24
	mc := math.Round(10*(12.4+(start-12.4)*math.Exp(-days/tau)+0.8*(w.rng.Float64()-0.5))) / 10
	got(w.Timber.PackRead(w.ctx, pack, timber.Reading{ReadOn: w.day, Board: pick(w, []string{"B1", "B2"}), MeterPct: mm(mc), MCPct: mm(mc)}))
	if mc > 14 {
		w.in(w.between(28, 45), func() { w.read(pack, s, start, tau) })
		return
	}
	w.in(w.between(4, 14), func() { w.dress(pack, s) })
}

// dress takes a dry pack through the planer onto the rack.
func (w *world) dress(pack int64, s sawn) {
	at := w.at(10, 15)
	p := got(w.Timber.PackGet(w.ctx, pack))
	d := timber.Dressing{PackID: pack, At: at, Place: pick(w, []string{"rack A", "rack B", "rack C"}), Done: true, DockedFor: timber.DockReasons[pack%3]}
	total := 0.0
	for _, g := range s.gives {
		total += g.boards
	}
	for _, c := range p.Content {
		d.Taken = append(d.Taken, c)
		for _, g := range s.gives {
			n := int(math.Round(float64(c.Count) * g.boards / total))
			if w.chance(0.1) && n > 4 {
				n-- // one split on the way
			}
			if n > 0 {
				d.Boards = append(d.Boards, timber.DressedLot{WidthMM: mm(g.wide), ThicknessMM: mm(g.thick), LengthMM: c.LengthMM - 20, Grade: "sound", Count: n})
			}
		}
	}
	for _, b := range d.Boards {
		d.Minutes += 3 * b.Count
	}
	got(w.Timber.PackDress(w.ctx, d))
}

// timberDay looks at drawers and rack once a week.
func (w *world) timberDay() {
	if w.day.Weekday() != time.Wednesday {
		return
	}
	w.at(16, 0)
	w.buyFittings()
	w.buyBoards()
	w.orderOfYard()
	if w.chance(0.08) {
		i := w.items[pick(w, []string{"tung-oil", "outdoor-paint", "wood-glue"})]
		got(w.Timber.ItemLow(w.ctx, i.ID, true))
	}
}

// packOf is how much of an item is bought at a time.
var packOf = map[string]int{"screw-30": 1500, "screw-50": 3000, "screw-75": 800, "entrance-tube": 60, "strap": 50, "wall-bracket": 18, "roof-sheet": 12, "post-stand": 6, "tung-oil": 2, "outdoor-paint": 2, "wood-glue": 4}

func (w *world) buyFittings() {
	for _, i := range got(w.Timber.ItemsLow(w.ctx)) {
		if w.onOrder[i.ID] || w.ago() < 12 { // of late nothing was ordered: the Day sheet asks for it
			continue
		}
		w.onOrder[i.ID] = true
		n := packOf[i.Code]
		net := i.CostMinor * int64(n)
		days := max(i.ComingDays, 3)
		p := got(w.Timber.PurchaseOrder(w.ctx, timber.Purchase{SupplierID: i.SupplierID, OrderedOn: w.day, ExpectedOn: ptr(w.day.AddDate(0, 0, days)),
			Lines: []timber.PurchaseLine{{ItemID: ptr(i.ID), Description: i.Name, Quantity: n, CostExTaxMinor: net, TaxMinor: net / 10}}}))
		w.in(days+w.between(-1, 4), func() {
			got(w.Timber.PurchaseReceive(w.ctx, p.ID, p.Version, w.at(13, 20)))
			delete(w.onOrder, i.ID)
		})
	}
}

// orderOfYard leaves one order of dressed boards on its way today, not paid yet.
func (w *world) orderOfYard() {
	if w.yard || w.ago() > 10 {
		return
	}
	w.yard = true
	oak, length := w.woods["southern-silky-oak"], 2400
	wide, thick := mm(150), mm(25)
	line := timber.PurchaseLine{Brings: timber.BringsBoards, Quantity: 8, CostExTaxMinor: 24_000, TaxMinor: 2_400}
	line.SpeciesID, line.WidthMM, line.ThicknessMM, line.LengthMM, line.Place = &oak.ID, &wide, &thick, &length, "rack C"
	sup := w.suppliers["Old Landing Timber Yard"]
	got(w.Timber.PurchaseOrder(w.ctx, timber.Purchase{SupplierID: &sup.ID, OrderedOn: w.day, Lines: []timber.PurchaseLine{line}}))
}

// buyBoards buys dressed boards where the rack runs down before the next pack is dry.
func (w *world) buyBoards() {
	free := map[string]map[string]int64{}
	for _, l := range got(w.Timber.Rack(w.ctx)) {
		size := timber.Size{WidthMM: l.WidthMM, ThicknessMM: l.ThicknessMM}.String()
		for code, s := range w.woods {
			if s.ID == l.SpeciesID {
				if free[code] == nil {
					free[code] = map[string]int64{}
				}
				free[code][size] += l.FreeMM
			}
		}
	}
	for _, wood := range []string{"hoop-pine", "white-cypress", "western-red-cedar", "southern-silky-oak"} {
		if w.boards[wood] > 0 {
			continue
		}
		sizes := sawnSizes[:2]
		if wood == "hoop-pine" {
			sizes = sawnSizes
		}
		lines := []timber.PurchaseLine{}
		for _, s := range sizes {
			for _, d := range s.gives {
				want := d.boards * 2400 * 0.8 // for eight boxes
				if free[wood][timber.Size{WidthMM: mm(d.wide), ThicknessMM: mm(d.thick)}.String()] < int64(want) {
					lines = append(lines, w.boardLine(wood, d, int(math.Ceil(d.boards*1.6))))
				}
			}
		}
		if len(lines) == 0 || w.ago() < 10 {
			continue
		}
		w.boards[wood]++
		sup := w.suppliers["Old Landing Timber Yard"]
		p := got(w.Timber.PurchaseOrder(w.ctx, timber.Purchase{SupplierID: &sup.ID, OrderedOn: w.day, ExpectedOn: ptr(w.day.AddDate(0, 0, 7)), Lines: lines}))
		w.in(w.between(5, 9), func() {
			got(w.Timber.PurchaseReceive(w.ctx, p.ID, p.Version, w.at(14, 40)))
			w.boards[wood]--
		})
	}
}

// boardLine is a line of bought boards; the lot they will lie in is made empty.
func (w *world) boardLine(wood string, d dressed, n int) timber.PurchaseLine {
	lot := w.lotFor(wood, d)
	net := int64(float64(w.woods[wood].MetreCostMinor) * 2.4 * (d.wide * d.thick / 2800) * float64(n) * 1.5)
	return timber.PurchaseLine{LotID: &lot, Description: w.woods[wood].Name + " dressed", Quantity: n, CostExTaxMinor: net, TaxMinor: net / 10}
}

// lotFor gives the lot that bought boards will lie in.
func (w *world) lotFor(wood string, d dressed) int64 {
	var id int64
	ok(w.DB.WithTx(w.ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		id, err = timber.LotTx(ctx, tx, timber.LotKey{SpeciesID: w.woods[wood].ID, WidthMM: mm(d.wide), ThicknessMM: mm(d.thick), Grade: "clear", LengthMM: 2400, Place: "rack C", FirstInOn: w.day}, set.LengthStepMM)
		return err
	}))
	return id
}
