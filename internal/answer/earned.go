package answer

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/books"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
)

// EarnedBy are the ways to group what was earned.
var EarnedBy = []string{"model", "timber", "month", "class", "found"}

// Job is what one piece that was handed over sold for and cost. Amounts are minor units
// without tax.
type Job struct {
	UnitID, OrderID int64
	OrderNumber     string
	What            string
	HandedOverOn    time.Time
	Price           int64 // less what was taken off it since
	Quoted          int64 // cost when it was quoted, overhead with it
	Material        int64 // timber, fittings and finish: what the box really took, else as quoted
	Labour          int64 // its real minutes, else as quoted
	Other           int64 // colony and what else stood in the quote, as quoted
	Run             int64 // its share of the run's kilometres
	Guarantee       int64 // what claims cost afterwards
	Minutes         float64
	Real            bool // the box and its minutes are known; otherwise the quoted figures stand
	NoCost          bool // nothing is known of its cost: typed in from before this book
	group           map[string]string
	modelID         int64
}

// Cost is all it cost.
func (j Job) Cost() int64 { return j.Material + j.Labour + j.Other + j.Run + j.Guarantee }

// Left is what it earned above its cost.
func (j Job) Left() int64 { return j.Price - j.Cost() }

// EarnedGroup adds jobs up.
type EarnedGroup struct {
	Name                                                   string
	Pieces                                                 int
	Price, Quoted, Material, Labour, Other, Run, Guarantee int64
	Minutes                                                float64
	NoCost                                                 int // pieces of which nothing is known; they are not in the sums
	modelID                                                int64
}

// Cost is all the pieces cost.
func (g EarnedGroup) Cost() int64 { return g.Material + g.Labour + g.Other + g.Run + g.Guarantee }

// Left is what they earned above their cost.
func (g EarnedGroup) Left() int64 { return g.Price - g.Cost() }

// HourMinor is what an hour at the bench earned: what is left, with the hours themselves
// not counted as cost; 0 when no hours are known.
func (g EarnedGroup) HourMinor() int64 {
	if g.Minutes <= 0 {
		return 0
	}
	return decimal.NewFromInt(g.Left() + g.Labour).Mul(decimal.NewFromInt(60)).Div(decimal.NewFromFloat(g.Minutes)).Round(0).IntPart()
}

func (g *EarnedGroup) add(j Job) {
	if j.NoCost {
		g.NoCost++
		return
	}
	g.Pieces++
	g.Price, g.Quoted, g.Material, g.Labour = g.Price+j.Price, g.Quoted+j.Quoted, g.Material+j.Material, g.Labour+j.Labour
	g.Other, g.Run, g.Guarantee, g.Minutes = g.Other+j.Other, g.Run+j.Run, g.Guarantee+j.Guarantee, g.Minutes+j.Minutes
}

// ModelPrice says what a model would have to cost a buyer.
type ModelPrice struct {
	Model     string
	Pieces    int
	CostEach  int64 // real, on average
	ListPrice int64 // today's, without tax; 0: none
	Wanted    int64 // list price without tax that leaves the wanted margin
	MarginPct decimal.Decimal
	Loses     bool // it was sold for less than it cost, on average
}

// Earned is what the pieces that were handed over in a period earned.
type Earned struct {
	From, To time.Time
	By       string
	Sum      EarnedGroup
	Groups   []EarnedGroup // best first; months in order
	Models   []ModelPrice
	Jobs     []Job // the worst first
}

// Earned adds up what was handed over from one day to another, grouped by model, timber,
// month, class of buyer or how they found the workshop. Errors: Invalid for a period that
// ends before it begins or another grouping.
func (r *Room) Earned(ctx context.Context, from, to time.Time, by string) (Earned, error) {
	var l fault.List
	l.Check(!to.Before(from), "/to", "The period ends before it begins.")
	l.Check(slices.Contains(EarnedBy, by), "/by", "Group by model, timber, month, class or found.")
	if err := l.Err(); err != nil {
		return Earned{}, err
	}
	set, today, err := r.settings(ctx)
	if err != nil {
		return Earned{}, err
	}
	out := Earned{From: from, To: to, By: by}
	if out.Jobs, err = r.jobs(ctx, from, to, set); err != nil {
		return out, err
	}
	models := []EarnedGroup{}
	for _, j := range out.Jobs {
		out.Sum.add(j)
		addTo(&out.Groups, j.group[by], j)
		if j.modelID != 0 {
			addTo(&models, j.group["model"], j)
			models[slices.IndexFunc(models, func(g EarnedGroup) bool { return g.Name == j.group["model"] })].modelID = j.modelID
		}
	}
	slices.SortFunc(out.Groups, func(a, b EarnedGroup) int {
		if by == "month" {
			return strings.Compare(a.Name, b.Name)
		}
		return cmp.Or(cmp.Compare(b.Left(), a.Left()), strings.Compare(a.Name, b.Name))
	})
	slices.SortStableFunc(out.Jobs, func(a, b Job) int { return cmp.Compare(a.Left(), b.Left()) })
	out.Models, err = r.modelPrices(ctx, models, set, today)
	return out, err
}

func addTo(list *[]EarnedGroup, name string, j Job) {
	i := slices.IndexFunc(*list, func(g EarnedGroup) bool { return g.Name == name })
	if i < 0 {
		i = len(*list)
		*list = append(*list, EarnedGroup{Name: name})
	}
	(*list)[i].add(j)
}

// modelPrices says which models lose money, and which list price would leave the wanted
// margin on what they really cost.
func (r *Room) modelPrices(ctx context.Context, models []EarnedGroup, set house.Settings, today time.Time) ([]ModelPrice, error) {
	out := []ModelPrice{}
	for _, g := range models {
		if g.Pieces == 0 {
			continue
		}
		p := ModelPrice{Model: g.Name, Pieces: g.Pieces, MarginPct: set.MarginPct, Loses: g.Left() < 0}
		// Only the box: a colony and the run are sold beside it.
		each := decimal.NewFromInt(g.Material + g.Labour + g.Guarantee).Div(decimal.NewFromInt(int64(g.Pieces)))
		p.CostEach = each.Round(0).IntPart()
		p.Wanted = each.Mul(hundred).Div(hundred.Sub(set.MarginPct)).Ceil().IntPart()
		prices, err := r.Sales.PricesOn(ctx, today, sales.Subject("model", g.modelID))
		if err != nil {
			return nil, err
		}
		p.ListPrice = prices[sales.Subject("model", g.modelID)].PriceMinor
		out = append(out, p)
	}
	slices.SortFunc(out, func(a, b ModelPrice) int { return strings.Compare(a.Model, b.Model) })
	return out, nil
}

// jobRow is a piece as it stands in the tables.
type jobRow struct {
	UnitID    int64     `db:"unit_id"`
	OrderID   int64     `db:"order_id"`
	Number    string    `db:"number"`
	What      string    `db:"description"`
	N         int64     `db:"n"`
	Units     int64     `db:"units"`
	Price     int64     `db:"price_ex_tax_minor"`
	Lowered   int64     `db:"lowered_minor"` // 0 or less
	Cost      int64     `db:"cost_minor"`
	Needs     []byte    `db:"needs"`
	At        time.Time `db:"handed_over_at"`
	ModelID   *int64    `db:"model_id"`
	Model     *string   `db:"model"`
	Timber    *string   `db:"timber"`
	Class     *string   `db:"class"`
	FoundBy   string    `db:"found_by"`
	BoxCost   *int64    `db:"box_cost_minor"`
	Minutes   *float64  `db:"minutes"` // of the box's build, shared over its good pieces
	RunKM     *float64  `db:"run_km"`  // shared over the handovers of the run
	Guarantee int64     `db:"guarantee_minor"`
}

const jobsSelect = `SELECT u.id AS unit_id, o.id AS order_id, o.number, l.description, u.n, (SELECT count(*) FROM order_unit x WHERE x.order_line_id = l.id) AS units, l.price_ex_tax_minor,
	coalesce((SELECT sum(v.price_ex_tax_minor) FROM invoice_line v JOIN invoice i ON i.id = v.invoice_id WHERE v.order_unit_id = u.id AND NOT i.keeps_price), 0)::bigint AS lowered_minor,
	l.cost_minor, l.needs, u.handed_over_at, m.id AS model_id, m.name AS model, s.name AS timber, c.name AS class, p.found_by, b.cost_minor AS box_cost_minor,
	(SELECT (extract(epoch FROM sum(t.stopped_at - t.started_at)) / 60 / (SELECT greatest(count(*), 1) FROM build_output w WHERE w.build_id = b.build_id AND w.spoiled_at IS NULL))::float8
		FROM build_operation q JOIN time_spell t ON t.build_operation_id = q.id WHERE q.build_id = b.build_id) AS minutes,
	(SELECT (r.km / (SELECT greatest(count(*), 1) FROM handover y JOIN run_stop z ON z.id = y.run_stop_id WHERE z.run_id = r.id AND y.undone_at IS NULL))::float8 FROM run_stop k JOIN run r ON r.id = k.run_id WHERE k.id = h.run_stop_id) AS run_km,
	coalesce((SELECT sum(g.cost_minor) FROM guarantee_claim g WHERE g.handover_id = h.id), 0)::bigint AS guarantee_minor
FROM order_unit u JOIN order_line l ON l.id = u.order_line_id JOIN sale_order o ON o.id = l.order_id JOIN party p ON p.id = o.party_id
LEFT JOIN LATERAL (SELECT * FROM handover y WHERE y.order_unit_id = u.id AND y.undone_at IS NULL ORDER BY y.id DESC LIMIT 1) h ON true
LEFT JOIN box b ON b.id = h.box_id LEFT JOIN model_revision v ON v.id = coalesce(l.model_revision_id, b.model_revision_id) LEFT JOIN box_model m ON m.id = v.model_id
LEFT JOIN timber_species s ON s.id = coalesce(b.timber_species_id, l.timber_species_id) LEFT JOIN buyer_class c ON c.id = p.buyer_class_id
WHERE u.handed_over_at >= $1 AND u.handed_over_at < $2 AND u.returned_at IS NULL ORDER BY u.handed_over_at, u.id`

func (r *Room) jobs(ctx context.Context, from, to time.Time, set house.Settings) ([]Job, error) {
	local := func(d time.Time) time.Time {
		return time.Date(d.Year(), d.Month(), d.Day(), 0, 0, 0, 0, set.Location())
	}
	rows, err := postgres.List[jobRow](ctx, r.db, jobsSelect, local(from), local(to.AddDate(0, 0, 1)))
	if err != nil {
		return nil, err
	}
	out := make([]Job, len(rows))
	for i, row := range rows {
		out[i] = row.job(set)
	}
	return out, nil
}

// job works out what a piece cost: what is known of its box, and the quoted figures for
// the rest.
func (row jobRow) job(set house.Settings) Job {
	j := Job{UnitID: row.UnitID, OrderID: row.OrderID, OrderNumber: row.Number, What: row.What, HandedOverOn: house.DateIn(row.At, set.Location()),
		Price: books.Share(row.Price, row.N, row.Units) + row.Lowered, Quoted: books.Share(row.Cost, row.N, row.Units), Guarantee: row.Guarantee, NoCost: row.Cost == 0 && row.BoxCost == nil}
	needs := readNeeds(row.Needs)
	for _, c := range needs.Cost {
		each := books.Share(c.CostMinor, row.N, row.Units)
		switch c.Kind {
		case "timber", "fittings", "finish":
			j.Material += each
		case "labour":
			j.Labour += each
		}
	}
	j.Material, j.Labour = min(j.Material, j.Quoted), min(j.Labour, j.Quoted)
	j.Other = max(0, j.Quoted-j.Material-j.Labour)
	j.Minutes = needs.minutes(int(row.Units)) / float64(row.Units)
	overhead := func(minor decimal.Decimal) int64 {
		return minor.Mul(hundred.Add(set.OverheadPct)).Div(hundred).Round(0).IntPart()
	}
	if row.BoxCost != nil && row.Minutes != nil {
		labour := decimal.NewFromFloat(*row.Minutes).Mul(decimal.NewFromInt(set.HourCostMinor)).Div(decimal.NewFromInt(60)).Round(0)
		j.Real, j.Minutes, j.Labour = true, *row.Minutes, overhead(labour)
		j.Material = overhead(decimal.Max(decimal.Zero, decimal.NewFromInt(*row.BoxCost).Sub(labour)))
	} else if row.BoxCost != nil && j.Labour > 0 { // nobody took the time; the box's cost is its material
		j.Material = overhead(decimal.NewFromInt(*row.BoxCost))
	}
	if row.RunKM != nil {
		j.Run = decimal.NewFromFloat(*row.RunKM).Mul(decimal.NewFromInt(set.DeliveryKMCostMinor)).Round(0).IntPart()
	}
	word := func(p *string, none string) string {
		if p == nil || *p == "" {
			return none
		}
		return *p
	}
	found := strings.TrimSpace(row.FoundBy)
	j.group = map[string]string{"model": word(row.Model, "no box"), "timber": word(row.Timber, "no timber"), "month": j.HandedOverOn.Format("2006-01"), "class": word(row.Class, "list price"), "found": word(&found, "not said")}
	if row.ModelID != nil {
		j.modelID = *row.ModelID
	}
	return j
}
