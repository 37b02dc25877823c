package answer

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// boxKind is boxes of one revision with the same options in the same timber: what a line
// of a quote or an order asks for.
type boxKind struct {
	SpeciesID  int64  `db:"species_id"` // 0: the usual timber
	RevisionID int64  `db:"revision_id"`
	Options    string `db:"options"` // a JSON list of ids
}

const boxKindColumns = `coalesce(l.timber_species_id, 0) AS species_id, l.model_revision_id AS revision_id, l.options::text AS options`

// sizeNeed is what one box takes of a board size, offcuts and trim included, in mm.
type sizeNeed struct {
	size     size
	mm       float64
	shortest float64 // part
}

type pastRow struct {
	boxKind
	Month time.Time `db:"month"`
	Boxes int       `db:"boxes"`
}

type openRow struct {
	boxKind
	LineID int64      `db:"line_id"`
	On     *time.Time `db:"promised_on"`
	Boxes  int        `db:"boxes"`
}

type quoteRow struct {
	boxKind
	QuoteID       int64      `db:"quote_id"`
	AlternativeID int64      `db:"alternative_id"`
	On            *time.Time `db:"box_on"`
	Boxes         float64    `db:"boxes"`
	Needs         []byte     `db:"needs"`
}

// millReading is what the records say before parts are worked out.
type millReading struct {
	*Room
	b      *millBook
	set    house.Settings
	usual  int64 // timber of lines that name none
	past   []pastRow
	open   []openRow
	quotes []quoteRow
	parts  map[boxKind][]sizeNeed
	lots   []lotRow
	least  map[size]float64 // shortest part of a size
}

type lotRow struct {
	SpeciesID   int64   `db:"species_id"`
	WidthMM     float64 `db:"width_mm"`
	ThicknessMM float64 `db:"thickness_mm"`
	LengthMM    float64 `db:"length_mm"`
	Free        float64 `db:"free"`
	Claimed     float64 `db:"claimed"`
}

func (r *Room) readMill(ctx context.Context, set house.Settings, today time.Time, months int) (*millBook, error) {
	b := &millBook{day: today, months: months, species: map[int64]timber.Species{}, rack: map[millKey]millRack{}, yields: map[millKey]millYield{}, toShelf: map[millKey]float64{},
		past: map[millKey][]float64{}, set: map[int64]map[size]millPace{}, board: map[int64]int{}}
	m := &millReading{Room: r, b: b, set: set, parts: map[boxKind][]sizeNeed{}, least: map[size]float64{}}
	err := r.db.Together(ctx, func(ctx context.Context) error {
		list, err := r.Timber.SpeciesList(ctx, true)
		for _, s := range list {
			b.species[s.ID] = s
		}
		if err != nil {
			return err
		}
		m.usual, err = r.usualTimber(ctx)
		return err
	}, m.readPast, m.readOpen, m.readQuotes, m.readRack, m.readPacks, m.readYields, m.readDrying)
	if err != nil {
		return nil, err
	}
	for _, step := range []func(context.Context) error{m.workOutParts, m.readBuilds, m.readPaces, m.fill} {
		if err := step(ctx); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// readPast reads the boxes ordered in whole past months, cancelled ones and those in the
// buyer's own box left out, summed by month and kind.
func (m *millReading) readPast(ctx context.Context) error {
	to := monthOf(m.b.day)
	from := to.AddDate(0, -millPastMonths, 0)
	first, err := postgres.Value[*time.Time](ctx, m.db, `SELECT date_trunc('month', min(happened_at) AT TIME ZONE $1)::date FROM sale_order`, m.set.TimeZone)
	if err != nil || first == nil || !first.Before(to) {
		return err
	}
	m.b.pastFrom = laterDay(from, *first)
	m.past, err = postgres.List[pastRow](ctx, m.db, `SELECT date_trunc('month', o.happened_at AT TIME ZONE $1)::date AS month, `+boxKindColumns+`, count(*)::int AS boxes
FROM sale_order o JOIN order_line l ON l.order_id = o.id AND l.kind = 'box' AND l.model_revision_id IS NOT NULL
JOIN order_unit u ON u.order_line_id = l.id AND u.wants_box AND NOT u.own_box AND u.cancelled_at IS NULL
WHERE o.happened_at >= ($2::date)::timestamp AT TIME ZONE $1 AND o.happened_at < ($3::date)::timestamp AT TIME ZONE $1 GROUP BY 1, 2, 3, 4 ORDER BY 1, 2, 3, 4`,
		m.set.TimeZone, m.b.pastFrom, to)
	return err
}

// readOpen reads the boxes of open orders for which neither a box nor a piece of a build
// is there.
func (m *millReading) readOpen(ctx context.Context) (err error) {
	m.open, err = postgres.List[openRow](ctx, m.db, `SELECT l.id AS line_id, `+boxKindColumns+`, u.promised_box_on AS promised_on, count(*)::int AS boxes
FROM order_unit u JOIN order_line l ON l.id = u.order_line_id AND l.kind = 'box' AND l.model_revision_id IS NOT NULL
WHERE u.wants_box AND NOT u.own_box AND u.handed_over_at IS NULL AND u.cancelled_at IS NULL
	AND NOT EXISTS (SELECT 1 FROM claim c WHERE c.order_unit_id = u.id AND c.box_id IS NOT NULL AND c.ended_at IS NULL)
	AND NOT EXISTS (SELECT 1 FROM build_output x JOIN build b ON b.id = x.build_id WHERE x.order_unit_id = u.id AND x.spoiled_at IS NULL AND b.cancelled_at IS NULL)
GROUP BY l.id, u.promised_box_on ORDER BY l.id, u.promised_box_on`)
	return err
}

// readQuotes reads what quotes that are out ask for, and how often quotes were taken:
// one more yes and one more no than the book knows, so that no quote is sure or hopeless.
func (m *millReading) readQuotes(ctx context.Context) error {
	var err error
	if m.quotes, err = postgres.List[quoteRow](ctx, m.db, `SELECT q.id AS quote_id, a.id AS alternative_id, `+boxKindColumns+`, coalesce(l.box_on, a.box_on) AS box_on, l.quantity::float8 AS boxes, l.needs
FROM quote q JOIN quote_alternative a ON a.quote_id = q.id JOIN quote_line l ON l.alternative_id = a.id AND l.kind = 'box' AND l.model_revision_id IS NOT NULL
WHERE q.issued_at IS NOT NULL AND q.valid_until >= $1 AND NOT EXISTS (SELECT 1 FROM quote_event e WHERE e.quote_id = q.id)
ORDER BY q.id, a.id, l.id LIMIT 5000`, m.b.day); err != nil {
		return err
	}
	told, err := postgres.One[struct {
		Accepted int `db:"accepted"`
		Decided  int `db:"decided"`
	}](ctx, m.db, `SELECT count(*) FILTER (WHERE e.kind = 'accepted')::int AS accepted, count(*)::int AS decided
FROM quote q LEFT JOIN LATERAL (SELECT kind FROM quote_event x WHERE x.quote_id = q.id ORDER BY x.id DESC LIMIT 1) e ON true
WHERE q.issued_at >= ($1::date - $3::int) AND (e.kind IN ('accepted', 'declined') OR e.kind IS NULL AND q.valid_until < $1) AND $2`, m.b.day, true, millPastMonths*31)
	m.b.decided = told.Decided
	m.b.chance = float64(told.Accepted+1) / float64(told.Decided+2)
	return err
}

// readRack sums the boards by timber, size and length.
func (m *millReading) readRack(ctx context.Context) (err error) {
	m.lots, err = postgres.List[lotRow](ctx, m.db, `SELECT l.species_id, z.width_mm::float8 AS width_mm, z.thickness_mm::float8 AS thickness_mm, l.length_mm::float8 AS length_mm,
	sum(l.on_hand - coalesce(c.n, 0))::float8 AS free, sum(coalesce(c.n, 0))::float8 AS claimed
FROM board_lot l JOIN board_size z ON z.id = l.board_size_id
LEFT JOIN (SELECT lot_id, sum(quantity) AS n FROM claim WHERE lot_id IS NOT NULL AND ended_at IS NULL GROUP BY lot_id) c ON c.lot_id = l.id
WHERE l.on_hand > 0 GROUP BY l.species_id, z.id, l.length_mm ORDER BY l.species_id, z.id, l.length_mm`)
	return err
}

// readPacks sums what is free in packs that dry, by what they are meant for and their
// days; a pack without dates, or that never gets dry, has none.
func (m *millReading) readPacks(ctx context.Context) error {
	rows, err := postgres.List[struct {
		SpeciesID   int64      `db:"species_id"`
		WidthMM     float64    `db:"width_mm"`
		ThicknessMM float64    `db:"thickness_mm"`
		Ready       *time.Time `db:"ready_on"`
		Careful     *time.Time `db:"ready_on_p80"`
		FreeMM      float64    `db:"free_mm"`
		Undecided   bool       `db:"undecided"`
	}](ctx, m.db, `SELECT p.species_id, z.width_mm::float8 AS width_mm, z.thickness_mm::float8 AS thickness_mm, CASE WHEN NOT p.never_dry THEN p.ready_on END AS ready_on,
	CASE WHEN NOT p.never_dry THEN p.ready_on_p80 END AS ready_on_p80, sum(c.mm * greatest(0, c.boards - coalesce(k.n, 0)) / c.boards)::float8 AS free_mm, p.dresses_to_id IS NULL AS undecided
FROM pack p JOIN board_size z ON z.id = coalesce(p.dresses_to_id, p.board_size_id)
JOIN (SELECT pack_id, sum(count) AS boards, sum(count::bigint * length_mm) AS mm FROM pack_content WHERE count > 0 GROUP BY pack_id) c ON c.pack_id = p.id
LEFT JOIN (SELECT pack_id, sum(quantity) AS n FROM claim WHERE pack_id IS NOT NULL AND ended_at IS NULL GROUP BY pack_id) k ON k.pack_id = p.id
WHERE p.finished_at IS NULL GROUP BY 1, 2, 3, 4, 5, 7 ORDER BY 1, 2, 3, 4, 5, 7`)
	for _, p := range rows {
		m.b.packs = append(m.b.packs, millPack{millKey{p.SpeciesID, size{p.WidthMM, p.ThicknessMM}}, p.FreeMM, p.Ready, p.Careful, p.Undecided})
	}
	return err
}

type yieldRow struct {
	PackID      int64   `db:"pack_id"`
	SpeciesID   int64   `db:"species_id"`
	WidthMM     float64 `db:"width_mm"` // what it was meant for
	ThicknessMM float64 `db:"thickness_mm"`
	StackedMM   float64 `db:"stacked_mm"`
	GaveWidth   float64 `db:"gave_width"` // 0: nothing
	GaveThick   float64 `db:"gave_thick"`
	GaveMM      float64 `db:"gave_mm"`
}

// readYields reads what the packs finished last gave for what was stacked, which the
// history of their contents still knows.
func (m *millReading) readYields(ctx context.Context) error {
	rows, err := postgres.List[yieldRow](ctx, m.db, `WITH done AS (SELECT id, species_id, dresses_to_id FROM pack WHERE finished_at IS NOT NULL AND dresses_to_id IS NOT NULL ORDER BY finished_at DESC, id DESC LIMIT 200),
stacked AS (SELECT c.pack_id, sum(c.length_mm * coalesce((SELECT (h.became ->> 'count')::bigint FROM history h WHERE h.table_name = 'pack_content' AND h.row_id = c.id AND h.deed = 'made' ORDER BY h.id LIMIT 1), 0)) AS mm
	FROM pack_content c JOIN done d ON d.id = c.pack_id GROUP BY c.pack_id),
gave AS (SELECT l.pack_id, l.board_size_id, sum(l.length_mm::bigint * v.quantity) AS mm FROM board_lot l JOIN done d ON d.id = l.pack_id JOIN stock_move v ON v.lot_id = l.id AND v.kind = 'dressed' GROUP BY l.pack_id, l.board_size_id)
SELECT d.id AS pack_id, d.species_id, z.width_mm::float8 AS width_mm, z.thickness_mm::float8 AS thickness_mm, s.mm::float8 AS stacked_mm,
	coalesce(o.width_mm, 0)::float8 AS gave_width, coalesce(o.thickness_mm, 0)::float8 AS gave_thick, coalesce(g.mm, 0)::float8 AS gave_mm
FROM done d JOIN board_size z ON z.id = d.dresses_to_id JOIN stacked s ON s.pack_id = d.id AND s.mm > 0
LEFT JOIN gave g ON g.pack_id = d.id LEFT JOIN board_size o ON o.id = g.board_size_id ORDER BY d.id, o.id`)
	m.b.yields = yieldsOf(rows)
	return err
}

// yieldsOf sums up packs by what they were meant for.
func yieldsOf(rows []yieldRow) map[millKey]millYield {
	stacked := map[millKey]map[int64]float64{}
	gave := map[millKey]map[size]map[int64]float64{}
	for _, r := range rows {
		key := millKey{r.SpeciesID, size{r.WidthMM, r.ThicknessMM}}
		if stacked[key] == nil {
			stacked[key], gave[key] = map[int64]float64{}, map[size]map[int64]float64{}
		}
		stacked[key][r.PackID] = r.StackedMM
		if r.GaveMM <= 0 {
			continue
		}
		z := size{r.GaveWidth, r.GaveThick}
		if gave[key][z] == nil {
			gave[key][z] = map[int64]float64{}
		}
		gave[key][z][r.PackID] = r.GaveMM
	}
	out := map[millKey]millYield{}
	for key, packs := range stacked {
		total := 0.0
		for _, mm := range packs {
			total += mm
		}
		y := millYield{packs: len(packs), mean: map[size]float64{}, careful: map[size]float64{}}
		for z, by := range gave[key] {
			sum, each := 0.0, make([]float64, 0, len(packs))
			for id, mm := range packs {
				sum += by[id]
				each = append(each, by[id]/mm)
			}
			slices.Sort(each)
			y.mean[z] = sum / total
			y.careful[z] = cautiousYield * y.mean[z]
			if len(each) >= yieldPacks {
				y.careful[z] = min(y.mean[z], each[len(each)/5])
			}
		}
		out[key] = y
	}
	return out
}

// readDrying reads where and how dry each timber was stacked last, and how long its
// boards are.
func (m *millReading) readDrying(ctx context.Context) error {
	rows, err := postgres.List[struct {
		SpeciesID int64    `db:"species_id"`
		ClimateID *int64   `db:"climate_id"`
		TargetPct float64  `db:"target_mc_pct"`
		StartPct  *float64 `db:"start_mc_pct"`
	}](ctx, m.db, `SELECT DISTINCT ON (species_id) species_id, climate_id, target_mc_pct::float8 AS target_mc_pct, start_mc_pct::float8 AS start_mc_pct FROM pack ORDER BY species_id, stacked_on DESC, id DESC`)
	if err != nil {
		return err
	}
	climates, err := m.Timber.ClimateList(ctx)
	if err != nil {
		return err
	}
	m.b.dry = dryPlace{timber: map[int64]dryTimber{}, climates: climates, known: map[dryKey]dryDays{}, memo: &m.dried}
	for _, r := range rows {
		m.b.dry.timber[r.SpeciesID] = dryTimber{deref(r.ClimateID), r.TargetPct, r.StartPct}
	}
	lengths, err := postgres.List[struct {
		SpeciesID int64 `db:"species_id"`
		LengthMM  int   `db:"length_mm"`
	}](ctx, m.db, `SELECT p.species_id, (floor(avg(c.length_mm) / 100) * 100)::int AS length_mm FROM pack p JOIN pack_content c ON c.pack_id = p.id WHERE p.stacked_on >= $1::date - 730 GROUP BY 1 ORDER BY 1`, m.b.day)
	for _, l := range lengths {
		m.b.board[l.SpeciesID] = l.LengthMM
	}
	return err
}

// timberOf gives the timber of a line: the usual one, where it names none.
func (m *millReading) timberOf(k boxKind) int64 {
	if k.SpeciesID == 0 {
		return m.usual
	}
	return k.SpeciesID
}

// workOutParts works out what a box of each kind takes.
func (m *millReading) workOutParts(ctx context.Context) error {
	var kinds []boxKind
	for _, r := range m.past {
		kinds = append(kinds, r.boxKind)
	}
	for _, r := range m.open {
		kinds = append(kinds, r.boxKind)
	}
	for _, r := range m.quotes {
		kinds = append(kinds, r.boxKind)
	}
	options := map[int64]workshop.Option{}
	var ids []int64
	for _, k := range kinds {
		for _, id := range optionIDs(k.Options) {
			if !slices.Contains(ids, id) {
				ids = append(ids, id)
			}
		}
	}
	list, err := workshop.OptionsByID(ctx, m.db, ids)
	if fault.Is(err, fault.Invalid) { // one that was typed in and is not there: boxes are reckoned without
		list, err = m.Workshop.OptionList(ctx, 0)
	}
	if err != nil {
		return err
	}
	for _, o := range list {
		options[o.ID] = o
	}
	revisions := map[int64]workshop.Revision{}
	for _, k := range kinds {
		k.SpeciesID = 0
		if _, known := m.parts[k]; known {
			continue
		}
		rev, ok := revisions[k.RevisionID]
		if !ok {
			if rev, err = m.Workshop.RevisionGet(ctx, k.RevisionID); err != nil {
				return err
			}
			revisions[k.RevisionID] = rev
		}
		var chosen []workshop.Option
		for _, id := range optionIDs(k.Options) {
			if o, ok := options[id]; ok {
				chosen = append(chosen, o)
			}
		}
		m.parts[k] = m.needOf(rev, chosen)
	}
	return nil
}

func optionIDs(raw string) (ids []int64) {
	_ = json.Unmarshal([]byte(raw), &ids) // written by the rooms; anything else reads as none
	return ids
}

// needOf works out what one box takes of each board size; nothing for a drawing that is
// not a box.
func (m *millReading) needOf(rev workshop.Revision, options []workshop.Option) []sizeNeed {
	model, err := workshop.Compose(rev, options)
	if err != nil {
		return nil
	}
	parts, err := hive.Parts(model, model.WallMM)
	if err != nil {
		return nil
	}
	var list []sizeNeed
	for _, n := range hive.Boards(parts) {
		one := sizeNeed{size: size{n.WidthMM, n.ThicknessMM}, mm: n.Metres * 1000 * wasteFactor, shortest: n.LongestMM}
		for _, p := range parts {
			if p.BoardSize == n.BoardSize {
				one.shortest = min(one.shortest, p.LengthMM)
			}
		}
		if least, ok := m.least[one.size]; !ok || one.shortest < least {
			m.least[one.size] = one.shortest
		}
		list = append(list, one)
	}
	return list
}

// each calls put with what n boxes of a kind take.
func (m *millReading) each(k boxKind, n float64, put func(key millKey, mm float64)) {
	id := m.timberOf(k)
	k.SpeciesID = 0
	if id == 0 || n <= 0 {
		return
	}
	for _, need := range m.parts[k] {
		put(millKey{id, need.size}, n*need.mm)
	}
}

// claimed is boards that stand aside for an order's line or a build, or that were cut for
// it, in mm.
type claimed struct {
	ID          int64   `db:"id"`
	SpeciesID   int64   `db:"species_id"`
	WidthMM     float64 `db:"width_mm"`
	ThicknessMM float64 `db:"thickness_mm"`
	MM          float64 `db:"mm"`
}

func (m *millReading) covered(ctx context.Context, sql string, args ...any) (map[int64]map[millKey]float64, error) {
	rows, err := postgres.List[claimed](ctx, m.db, sql, args...)
	out := map[int64]map[millKey]float64{}
	for _, r := range rows {
		if out[r.ID] == nil {
			out[r.ID] = map[millKey]float64{}
		}
		out[r.ID][millKey{r.SpeciesID, size{r.WidthMM, r.ThicknessMM}}] += r.MM
	}
	return out, err
}

const claimedLots = ` AS id, b.species_id, z.width_mm::float8 AS width_mm, z.thickness_mm::float8 AS thickness_mm, sum(c.quantity::bigint * b.length_mm)::float8 AS mm `

// claimedPacks counts a pack's boards at their mean length.
const claimedPacks = ` AS id, p.species_id, z.width_mm::float8 AS width_mm, z.thickness_mm::float8 AS thickness_mm,
	sum(c.quantity * (SELECT sum(x.count::bigint * x.length_mm)::float8 / greatest(1, sum(x.count)) FROM pack_content x WHERE x.pack_id = p.id))::float8 AS mm `

// fill puts what was read into the book: what stands aside covers what it stands aside for.
func (m *millReading) fill(ctx context.Context) error {
	b := m.b
	for _, l := range m.lots {
		key := millKey{l.SpeciesID, size{l.WidthMM, l.ThicknessMM}}
		r := b.rack[key]
		if l.LengthMM >= m.least[key.size] { // shorter ones give no part
			r.free += l.Free * l.LengthMM
		}
		r.claimed += l.Claimed * l.LengthMM
		b.rack[key] = r
	}
	for i := range b.packs {
		if b.packs[i].undecided {
			b.packs[i].key.size = m.dressesTo(b.packs[i].key.size)
		}
	}
	for _, r := range m.past {
		i := monthsBetween(b.pastFrom, r.Month)
		m.each(r.boxKind, float64(r.Boxes), func(key millKey, mm float64) {
			if b.past[key] == nil {
				b.past[key] = make([]float64, b.pastMonths())
			}
			if i >= 0 && i < len(b.past[key]) {
				b.past[key][i] += mm
			}
		})
	}
	aside, err := m.covered(ctx, `SELECT u.order_line_id`+claimedLots+`FROM claim c JOIN order_unit u ON u.id = c.order_unit_id JOIN board_lot b ON b.id = c.lot_id JOIN board_size z ON z.id = b.board_size_id
WHERE c.ended_at IS NULL GROUP BY 1, 2, z.id`)
	if err != nil {
		return err
	}
	for _, r := range m.open {
		m.each(r.boxKind, float64(r.Boxes), func(key millKey, mm float64) {
			b.orders = addNeed(b.orders, key, mm, r.On, aside[r.LineID])
		})
	}
	m.fillQuotes()
	return nil
}

// dressesTo guesses what a pack of a green size is meant for, where nobody has said: the
// largest size of a box's parts that at least 2 mm each way can be planed down to and
// that is four fifths as wide, else the size as it lies (our estimate).
func (m *millReading) dressesTo(green size) size {
	best := size{}
	for z := range m.least {
		if z.width > green.width-2 || z.thickness > green.thickness-2 || z.width < 0.8*green.width {
			continue
		}
		if area, was := z.width*z.thickness, best.width*best.thickness; area > was || area == was && z.width > best.width {
			best = z
		}
	}
	if best.width == 0 {
		return green
	}
	return best
}

// addNeed notes what is needed beyond what stands aside, and takes that off what is left aside.
func addNeed(list []millNeed, key millKey, mm float64, on *time.Time, aside map[millKey]float64) []millNeed {
	gone := min(mm, aside[key])
	if gone > 0 {
		aside[key] -= gone
	}
	if mm -= gone; mm <= 0 {
		return list
	}
	n := millNeed{key: key, mm: mm}
	if on != nil {
		n.on = *on
	}
	return append(list, n)
}

// fillQuotes notes of each quote the alternative that takes most; boxes that it keeps on
// the shelf or in builds take no boards.
func (m *millReading) fillQuotes() {
	for start := 0; start < len(m.quotes); {
		end := start
		by, total := map[int64][]millNeed{}, map[int64]float64{}
		best := m.quotes[start].AlternativeID
		for ; end < len(m.quotes) && m.quotes[end].QuoteID == m.quotes[start].QuoteID; end++ {
			q := m.quotes[end]
			needs := readNeeds(q.Needs)
			m.each(q.boxKind, q.Boxes-float64(len(needs.Shelf)+len(needs.Outputs)), func(key millKey, mm float64) {
				by[q.AlternativeID] = addNeed(by[q.AlternativeID], key, mm, q.On, nil)
				total[q.AlternativeID] += mm
			})
			if total[q.AlternativeID] > total[best] {
				best = q.AlternativeID
			}
		}
		m.b.quotes = append(m.b.quotes, by[best]...)
		start = end
	}
}

// readBuilds reads what open builds still lack: their parts, less boards that stand
// aside for them and boards that were cut for them.
func (m *millReading) readBuilds(ctx context.Context) error {
	rows, err := postgres.List[struct {
		ID        int64      `db:"id"`
		SpeciesID int64      `db:"species_id"`
		Boxes     bool       `db:"boxes"`
		Quantity  int        `db:"quantity"`
		ForShelf  int        `db:"for_shelf"`
		DueOn     *time.Time `db:"due_on"`
		Parts     []byte     `db:"parts"`
	}](ctx, m.db, `SELECT b.id, coalesce(b.timber_species_id, 0) AS species_id, b.makes = 'box' AS boxes, b.quantity, b.due_on, b.parts,
	(SELECT count(*) FROM build_output o WHERE o.build_id = b.id AND o.order_unit_id IS NULL AND o.spoiled_at IS NULL)::int AS for_shelf
FROM build b WHERE b.finished_at IS NULL AND b.cancelled_at IS NULL ORDER BY b.due_on NULLS FIRST, b.id LIMIT 5000`)
	if err != nil || len(rows) == 0 {
		return err
	}
	const open = `JOIN build d ON d.id = c.build_id AND d.finished_at IS NULL AND d.cancelled_at IS NULL `
	aside, err := m.covered(ctx, `SELECT id, species_id, width_mm, thickness_mm, sum(mm) AS mm FROM (
SELECT c.build_id`+claimedLots+`FROM claim c `+open+`JOIN board_lot b ON b.id = c.lot_id JOIN board_size z ON z.id = b.board_size_id WHERE c.ended_at IS NULL GROUP BY 1, 2, z.id
UNION ALL SELECT c.build_id`+claimedPacks+`FROM claim c `+open+`JOIN pack p ON p.id = c.pack_id JOIN board_size z ON z.id = coalesce(p.dresses_to_id, p.board_size_id) WHERE c.ended_at IS NULL GROUP BY 1, 2, z.id
UNION ALL SELECT c.build_id AS id, b.species_id, z.width_mm::float8, z.thickness_mm::float8, -sum(c.quantity::bigint * b.length_mm)::float8
	FROM stock_move c `+open+`JOIN board_lot b ON b.id = c.lot_id JOIN board_size z ON z.id = b.board_size_id WHERE c.kind IN ('cut', 'offcut') GROUP BY 1, 2, z.id) t GROUP BY 1, 2, 3, 4`)
	if err != nil {
		return err
	}
	for _, r := range rows {
		var parts []workshop.BuildPart
		if err := json.Unmarshal(r.Parts, &parts); err != nil {
			return fmt.Errorf("read parts of build %d: %w", r.ID, err)
		}
		id := m.timberOf(boxKind{SpeciesID: r.SpeciesID})
		by := map[millKey]float64{}
		for _, p := range parts {
			by[millKey{id, size{p.WidthMM.InexactFloat64(), p.ThicknessMM.InexactFloat64()}}] += p.LengthMM.InexactFloat64() * float64(p.Count) * wasteFactor
		}
		for key, mm := range by {
			if id == 0 {
				continue
			}
			if _, known := m.least[key.size]; !known {
				m.least[key.size] = 0
			}
			m.b.builds = addNeed(m.b.builds, key, mm, r.DueOn, aside[r.ID])
			if r.Boxes {
				m.b.toShelf[key] += mm * float64(r.ForShelf) / float64(max(1, r.Quantity))
			}
		}
	}
	return nil
}

// readPaces reads what the maker expects to sell: as many boxes a month of the model's
// latest drawing, each coming by itself, so that the variance of their number is its mean.
func (m *millReading) readPaces(ctx context.Context) error {
	list, err := m.Timber.PaceList(ctx)
	if err != nil {
		return err
	}
	m.b.paces = list
	for _, p := range list {
		model, err := m.Workshop.ModelGet(ctx, p.ModelID)
		if err != nil && !fault.Is(err, fault.NotFound) {
			return err
		}
		if m.b.set[p.SpeciesID] == nil {
			m.b.set[p.SpeciesID] = map[size]millPace{}
		}
		if err != nil || model.LatestID == nil {
			m.b.notes = append(m.b.notes, fmt.Sprintf("%s is not drawn up yet, so its pace asks for no boards.", p.ModelName))
			continue
		}
		rev, err := m.Workshop.RevisionGet(ctx, *model.LatestID)
		if err != nil {
			return err
		}
		boxes := p.BoxesAMonth.InexactFloat64()
		for _, n := range m.needOf(rev, nil) {
			was := m.b.set[p.SpeciesID][n.size]
			m.b.set[p.SpeciesID][n.size] = millPace{was.mean + boxes*n.mm, was.spread2 + boxes*n.mm*n.mm}
		}
	}
	return nil
}
