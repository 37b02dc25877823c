package answer

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/waiting"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
)

// LinePlace is a place in the line of those who wait for a colony.
type LinePlace struct {
	Place        int // 1 is next
	UnitID       int64
	N            int // which piece of its order line
	OrderID      int64
	Order        string
	PartyID      int64
	Who          string
	Town         string
	JoinedOn     time.Time  // the deposit was paid, or ordered where none was asked for
	NoDeposit    bool       // none was asked for
	AnyKind      bool       // no kind was named
	PromisedOn   *time.Time // colony
	LikelyOn     *time.Time // with four-in-five certainty; nil: cannot be said
	Late         bool       // the promise cannot be kept with that certainty
	MovedBecause string     // it was moved in the line, and why
	OutOfRange   string     // the kind does not live there by nature: what to say; "" where it does
}

// What the merely interested have done so far.
const (
	InterestOrder   = "order" // without its deposit
	InterestQuote   = "quote"
	InterestEnquiry = "enquiry"
)

// Interest is somebody who is interested in a colony and does not stand in the line.
type Interest struct {
	What     string // one of the Interest… words
	ID       int64  // of the order, quote or enquiry
	Number   string
	Who      string
	Since    time.Time
	Colonies int
}

// ColonyLine is the line for one kind of bee, and all it is reckoned from.
type ColonyLine struct {
	Species    apiary.Species
	Day        time.Time
	Places     []LinePlace
	Interested []Interest
	Herd       apiary.Herd
	Rates      waiting.Rates
	StayPct    float64 // buyers who stay in the line, of 100
	Served     int     // how many that is learnt from
	Moves      []LineMove
	supply     *waiting.Supply
}

// Reasons say what the dates are made of.
func (l ColonyLine) Reasons() []string {
	out := []string{fmt.Sprintf("%d ready, %d settling, %d kept to be split. Held back and promised colonies are not counted.", len(l.Herd.Ready), len(l.Herd.Settling), len(l.Herd.Kept)), learntBees(l.Rates)}
	if l.Rates.Usable {
		out = append(out, "Splits are made in "+monthNames(l.Rates.SeasonMonths())+".", fmt.Sprintf("About %.0f seasons in 100 are bad; then %.0f in 100 splits settle.", 100*l.Rates.BadSeason, 100*l.Rates.Bad))
	}
	out = append(out, fmt.Sprintf("Of settled colonies about %.0f in 100 are lost a year, by %.0f colony-years of the log.", 100*l.Rates.LossYear, l.Rates.YearsSeen),
		fmt.Sprintf("Of buyers who paid, %.0f in 100 stay until their colony comes, by %d of the last years.", l.StayPct, l.Served))
	if hint := keepHint(l.Herd); hint != "" {
		out = append(out, hint[1:])
	}
	return out
}

// stay gives the chance of each in the line to stay.
func (l ColonyLine) stay() waiting.Before {
	list := make(waiting.Before, len(l.Places))
	for i := range list {
		list[i] = l.StayPct / 100
	}
	return list
}

// LineOf gives the line for a kind of bee: the pieces whose deposit was paid, each with the
// day by which its colony is there with four-in-five certainty, and the merely interested.
func (r *Room) LineOf(ctx context.Context, species int64) (ColonyLine, error) {
	l, unpaid, err := r.lineDates(ctx, species)
	if err != nil {
		return l, err
	}
	if l.Interested, err = r.interested(ctx, l.Day, species, unpaid); err != nil {
		return l, err
	}
	l.Moves, err = r.LineMoves(ctx, species)
	return l, err
}

// lineDates gives the line for a kind with its dates, and the pieces that are not paid.
func (r *Room) lineDates(ctx context.Context, species int64) (ColonyLine, []waitingUnit, error) {
	set, day, err := r.settings(ctx)
	if err != nil {
		return ColonyLine{}, nil, err
	}
	sp, err := r.Apiary.SpeciesGet(ctx, species)
	if err != nil {
		return ColonyLine{}, nil, err
	}
	line, unpaid, err := r.waitingFor(ctx, species)
	if err != nil {
		return ColonyLine{}, nil, err
	}
	l, err := r.lineFrom(ctx, set, day, sp, line)
	return l, unpaid, err
}

// lineFrom reckons the dates of a line.
func (r *Room) lineFrom(ctx context.Context, set house.Settings, day time.Time, sp apiary.Species, line []waitingUnit) (ColonyLine, error) {
	l := ColonyLine{Species: sp, Day: day, Places: make([]LinePlace, len(line))}
	var err error
	if l.Herd, err = r.Apiary.HerdOf(ctx, sp.ID, set.Location(), day); err != nil {
		return l, err
	}
	if l.Rates, err = r.beeRates(ctx, sp, set.Location(), day); err != nil {
		return l, err
	}
	b, err := r.buyersOn(ctx, day)
	if err != nil {
		return l, err
	}
	l.StayPct, l.Served = 100*b.Stay, b.Served
	l.supply = waiting.Reckon(l.Rates, l.Herd.Reckoned())
	likely := l.supply.Places(l.stay(), certainty)
	for i, u := range line {
		p := LinePlace{Place: i + 1, UnitID: u.UnitID, N: u.N, OrderID: u.OrderID, Order: u.Number, PartyID: u.PartyID, Who: u.Who, Town: u.Town, NoDeposit: u.DepositMinor == 0, AnyKind: u.SpeciesID == nil,
			JoinedOn: house.DateIn(*u.JoinedAt, set.Location()), PromisedOn: u.PromisedOn, LikelyOn: likely[i], MovedBecause: u.MovedBecause, OutOfRange: sp.AskOutOfRange(u.Region)}
		p.Late = p.PromisedOn != nil && (p.LikelyOn == nil || p.LikelyOn.After(*p.PromisedOn))
		l.Places[i] = p
	}
	return l, nil
}

// interested lists those who do not stand in the line of a kind: orders whose deposit is
// still to come, issued quotes that are not answered, and open enquiries; the earliest first.
func (r *Room) interested(ctx context.Context, day time.Time, species int64, unpaid []waitingUnit) ([]Interest, error) {
	list, err := postgres.List[Interest](ctx, r.db, `SELECT * FROM (SELECT 'quote' AS what, q.id, q.number, coalesce(nullif(p.name::text, ''), 'Nameless') AS who, q.issued_at AS since, max(n.colonies)::int AS colonies
FROM quote q JOIN party p ON p.id = q.party_id JOIN quote_alternative a ON a.quote_id = q.id
JOIN LATERAL (SELECT sum(l.quantity) AS colonies FROM quote_line l WHERE l.alternative_id = a.id AND (l.with_colony OR l.kind = 'colony') AND (l.bee_species_id IS NULL OR l.bee_species_id = $1)) n ON n.colonies > 0
WHERE q.issued_at IS NOT NULL AND q.valid_until >= $2 AND NOT EXISTS (SELECT FROM quote_event e WHERE e.quote_id = q.id) GROUP BY q.id, p.id
UNION ALL SELECT 'enquiry', e.id, '', coalesce(nullif(e.name::text, ''), nullif(p.name::text, ''), e.number::text), e.happened_at, greatest(1, coalesce((e.wish ->> 'count')::int, 1))
FROM enquiry e LEFT JOIN party p ON p.id = e.party_id
WHERE e.closed_at IS NULL AND (coalesce((e.wish ->> 'with_colony')::boolean, false) OR coalesce((e.wish ->> 'own_box')::boolean, false)) AND coalesce((e.wish ->> 'bee_species_id')::bigint, 0) IN (0, $1)
	AND NOT EXISTS (SELECT FROM quote q WHERE q.enquiry_id = e.id AND q.issued_at IS NOT NULL)) t ORDER BY since, what, id LIMIT 300`, species, day)
	if err != nil {
		return nil, err
	}
	at := map[int64]int{}
	var orders []Interest
	for _, u := range unpaid {
		i, ok := at[u.OrderID]
		if !ok {
			i = len(orders)
			at[u.OrderID] = i
			orders = append(orders, Interest{What: InterestOrder, ID: u.OrderID, Number: u.Number, Who: u.Who, Since: u.OrderedAt})
		}
		orders[i].Colonies++
	}
	return append(orders, list...), nil
}

// PlaceView is one place of a line with its curve.
type PlaceView struct {
	LinePlace
	Species       apiary.Species
	Of            int // how many stand in the line
	Day           time.Time
	Curve         []waiting.Point
	PromiseChance *float64 // of the colony being there by the promised day
	Reasons       []string
}

// Words say in a sentence where the place stands and by when a colony is likely there.
func (p PlaceView) Words(date func(time.Time) string) string {
	when := "no day can be said yet"
	switch {
	case p.LikelyOn != nil && !p.LikelyOn.After(p.Day):
		when = "a colony is there now"
	case p.LikelyOn != nil:
		when = "likely by " + date(*p.LikelyOn)
	}
	return fmt.Sprintf("%s in the line for %s, %s", ordinal(p.Place), p.Species.Name, when)
}

// view gives one place of the line with its curve; false where the unit does not stand in it.
func (l ColonyLine) view(unit int64) (PlaceView, bool) {
	i := slices.IndexFunc(l.Places, func(p LinePlace) bool { return p.UnitID == unit })
	if i < 0 {
		return PlaceView{}, false
	}
	v := PlaceView{LinePlace: l.Places[i], Species: l.Species, Of: len(l.Places), Day: l.Day, Reasons: l.Reasons()}
	before := l.stay()[:i]
	v.Curve, _ = l.supply.Curve(before, 1, certainty)
	if v.PromisedOn != nil && !v.PromisedOn.Before(l.Day) {
		v.PromiseChance = ptr(l.supply.By(*v.PromisedOn, before, 1))
	}
	return v, true
}

// View gives one place of the line with its curve: that of the unit named, else the first one
// that must wait. NotFound for a unit that does not stand in it.
func (l ColonyLine) View(unit int64) (*PlaceView, error) {
	if len(l.Places) == 0 && unit == 0 {
		return nil, nil
	}
	if unit == 0 {
		unit = l.Places[0].UnitID
		for _, p := range l.Places {
			if p.LikelyOn == nil || p.LikelyOn.After(l.Day) {
				unit = p.UnitID
				break
			}
		}
	}
	v, ok := l.view(unit)
	if !ok {
		return nil, fault.New(fault.NotFound, "This piece does not stand in the line.")
	}
	return &v, nil
}

// PlacesOf gives the places in the line of the pieces of an order that wait for a colony;
// those of no named kind stand in the line of the kind whose turn comes first.
func (r *Room) PlacesOf(ctx context.Context, order sales.Order) ([]PlaceView, error) {
	var units []sales.Unit
	var kinds []int64
	anyKind := false
	for _, l := range order.Lines {
		for _, u := range l.Units {
			if u.Open() && lacksBees(u) {
				units = append(units, u)
				if l.BeeSpeciesID == nil {
					anyKind = true
				} else if !slices.Contains(kinds, *l.BeeSpeciesID) {
					kinds = append(kinds, *l.BeeSpeciesID)
				}
			}
		}
	}
	if len(units) == 0 {
		return nil, nil
	}
	if anyKind {
		all, err := r.Apiary.SpeciesList(ctx)
		if err != nil {
			return nil, err
		}
		kinds = kinds[:0]
		for _, s := range all {
			kinds = append(kinds, s.ID)
		}
	}
	best := map[int64]PlaceView{}
	for _, id := range kinds {
		l, _, err := r.lineDates(ctx, id)
		if err != nil {
			return nil, err
		}
		for _, u := range units {
			v, ok := l.view(u.ID)
			if had, known := best[u.ID]; ok && (!known || had.LikelyOn == nil || v.LikelyOn != nil && v.LikelyOn.Before(*had.LikelyOn)) {
				best[u.ID] = v
			}
		}
	}
	var out []PlaceView
	for _, u := range units {
		if v, ok := best[u.ID]; ok {
			out = append(out, v)
		}
	}
	return out, nil
}

// PlaceOf gives the place of one unit; NotFound where it does not stand in a line.
func (r *Room) PlaceOf(ctx context.Context, unit int64) (PlaceView, error) {
	o, err := r.Sales.OrderOfUnit(ctx, unit)
	if err != nil {
		return PlaceView{}, err
	}
	list, err := r.PlacesOf(ctx, o)
	if err != nil {
		return PlaceView{}, err
	}
	if i := slices.IndexFunc(list, func(v PlaceView) bool { return v.UnitID == unit }); i >= 0 {
		return list[i], nil
	}
	return PlaceView{}, fault.New(fault.NotFound, "This piece does not stand in the line for a colony: it has one, it wants none, or its deposit is not paid.")
}

// optionsOf reads the ids of the options of a line.
func (u waitingUnit) optionsOf() []int64 {
	var ids []int64
	_ = json.Unmarshal(u.Options, &ids) // a list written by the sales room
	return ids
}

// LineSum is the line of a kind in short.
type LineSum struct {
	SpeciesID      int64
	Name           string
	Waiting, Ready int // in the line; colonies that could be given
}

// Lines gives the lines of all kinds in short, by name.
func (r *Room) Lines(ctx context.Context) ([]LineSum, error) {
	set, day, err := r.settings(ctx)
	if err != nil {
		return nil, err
	}
	kinds, err := r.Apiary.SpeciesList(ctx)
	if err != nil {
		return nil, err
	}
	line, _, err := r.waitingFor(ctx, 0)
	if err != nil {
		return nil, err
	}
	herds, err := r.Apiary.HerdsOf(ctx, set.Location(), day)
	if err != nil {
		return nil, err
	}
	var out []LineSum
	for _, s := range kinds {
		sum := LineSum{SpeciesID: s.ID, Name: s.Name, Ready: len(herds[s.ID].Ready)}
		for _, u := range line {
			if u.SpeciesID == nil || *u.SpeciesID == s.ID {
				sum.Waiting++
			}
		}
		out = append(out, sum)
	}
	return out, nil
}
