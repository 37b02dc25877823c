package answer

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/travel"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// How long a drive is taken to be; our choices, on the late side.
const (
	driveKMH    = 50
	stopMinutes = 20
)

// aroundShortMove is how bees are moved within their own flight range. Common practice,
// no source.
const aroundShortMove = "Bees that know the old stand fly back to it. Ways around: take the hive farther than that first for about three weeks, then bring it; or move it half a metre a day; or move it after days too cold or wet to fly, and lean twigs before the entrance so that they learn the place anew."

// RunCare is what a run asks for: what it weighs, when entrances are closed, when to
// leave, and what to mind.
type RunCare struct {
	Stops       []StopCare
	MassKG      float64 // of the stops whose mass is known
	MassUnknown int     // stops whose mass is not known
	Home        *travel.Place
	LeaveBy     *time.Time
	Lines       []string // what to mind on the whole run
}

// StopCare is the same of one stop.
type StopCare struct {
	StopID      int64
	Position    int
	Who         string
	Bees        bool
	Closing     bool          // a stop of the closing round, on the evening of CloseAt
	LookFor     string        // at a host tree
	DueOn       *time.Time    // when the tree is due
	Held        string        // why its colony is held back; empty: it is not
	From, To    *travel.Place // where the hive stands, where it goes
	KM          *float64      // between them, on the ellipsoid
	FlightM     *int          // flight range of its kind
	LegKM       *float64      // straight from the place before, the workshop first, on the ellipsoid
	MassKG      *float64
	ClosedHours int        // longest its kind bears
	CloseAt     *time.Time // dusk where it stands, the evening before
	OpenBy      *time.Time
	Warnings    []string
}

// RunCare works out what a run asks for.
func (r *Room) RunCare(ctx context.Context, n handover.Run) (RunCare, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return RunCare{}, err
	}
	var out RunCare
	kinds := map[int64]apiary.Species{}
	held, err := r.heldOn(ctx, n.ID)
	if err != nil {
		return out, err
	}
	trees, err := r.treesOf(ctx, n)
	if err != nil {
		return out, err
	}
	for _, st := range n.Stops {
		c, err := r.stopCare(ctx, set, n, st, kinds)
		if err != nil {
			return out, err
		}
		if err := r.mindPapers(ctx, n, st, trees, &c); err != nil {
			return out, err
		}
		if h, ok := held[st.ID]; ok {
			c.Held, c.Warnings = h.Because, append([]string{h.words()}, c.Warnings...)
		}
		if c.MassKG != nil {
			out.MassKG += *c.MassKG
		} else if st.HostTreeID == nil && !st.Closes() {
			out.MassUnknown++
		}
		out.Stops = append(out.Stops, c)
	}
	out.Home = placeAt(set.Latitude, set.Longitude)
	if err := out.legs(ctx); err != nil {
		return out, err
	}
	out.heat(n, kinds)
	if n.Kind != "collection" {
		out.leave(n)
	}
	return out, nil
}

func (r *Room) stopCare(ctx context.Context, set house.Settings, n handover.Run, st handover.Stop, kinds map[int64]apiary.Species) (StopCare, error) {
	c := StopCare{StopID: st.ID, Position: st.Position, Who: st.PartyName, MassKG: st.MassKG, ClosedHours: closedHours}
	if st.Closes() {
		return r.closingCare(ctx, set, n, st, c)
	}
	colony, site := st.ColonyID, st.SiteID
	var species *int64
	if st.UnitID != nil {
		o, err := r.Sales.OrderOfUnit(ctx, *st.UnitID)
		if err != nil {
			return c, err
		}
		l, u := unitIn(o, *st.UnitID)
		if colony == nil {
			colony = u.ColonyID
		}
		if site == nil && u.SiteID != nil {
			site = u.SiteID
		} else if site == nil {
			site = o.SiteID
		}
		c.Bees, species = u.WantsColony, l.BeeSpeciesID
		if c.MassKG == nil {
			if c.MassKG, err = r.boxMass(ctx, u.BoxID, u.WantsColony); err != nil {
				return c, err
			}
		}
	}
	if site != nil {
		s, err := r.Sales.SiteGet(ctx, *site)
		if err != nil {
			return c, err
		}
		c.To = placeAt(s.Latitude, s.Longitude)
	}
	c.Bees = c.Bees || colony != nil
	if !c.Bees || n.Kind == "visits" {
		return c, nil
	}
	stands := sales.Site{Latitude: set.Latitude, Longitude: set.Longitude, TimeZone: set.TimeZone}
	if colony != nil {
		x, err := r.Apiary.ColonyGet(ctx, *colony)
		if err != nil {
			return c, err
		}
		if x.SpeciesID != nil {
			species = x.SpeciesID
		}
		if x.SiteID != nil {
			if stands, err = r.Sales.SiteGet(ctx, *x.SiteID); err != nil {
				return c, err
			}
		}
	}
	c.From = placeAt(stands.Latitude, stands.Longitude)
	if species != nil {
		k, err := r.Apiary.SpeciesGet(ctx, *species)
		if err != nil {
			return c, err
		}
		kinds[k.ID] = k
		c.FlightM = k.FlightRangeM
		if k.LongestClosedHours != nil {
			c.ClosedHours = *k.LongestClosedHours
		}
	}
	if err := c.shortMove(ctx); err != nil {
		return c, err
	}
	if c.From == nil {
		return c, nil
	}
	dusk, err := DuskAt(ctx, set, &stands, n.ClosingDay())
	if err != nil {
		return c, err
	}
	if st.ClosedAt != nil {
		dusk = st.ClosedAt.In(set.Location())
	} else if dusk.IsZero() {
		c.Warnings = append(c.Warnings, noDusk)
		return c, nil
	}
	open := dusk.Add(time.Duration(c.ClosedHours) * time.Hour)
	c.CloseAt, c.OpenBy = &dusk, &open
	return c, nil
}

// closingCare is what a stop of the closing round asks for: when the entrances are closed.
func (r *Room) closingCare(ctx context.Context, set house.Settings, n handover.Run, st handover.Stop, c StopCare) (StopCare, error) {
	c.Closing = true
	site, err := r.standSite(ctx, set, st)
	if err != nil {
		return c, err
	}
	c.From = placeAt(site.Latitude, site.Longitude)
	dusk, err := DuskAt(ctx, set, &site, n.ClosingDay())
	if err != nil {
		return c, err
	}
	if dusk.IsZero() {
		c.Warnings = append(c.Warnings, noDusk)
		return c, nil
	}
	c.CloseAt = &dusk
	return c, nil
}

// legs measures from place to place in the order of the run; a place without coordinates
// is left out with the way to and from it.
func (out *RunCare) legs(ctx context.Context) error {
	before := out.Home
	for i := range out.Stops {
		c := &out.Stops[i]
		if c.Closing {
			continue // the evening round is another drive
		}
		if before != nil && c.To != nil {
			d, err := travel.Distance(ctx, travel.DistanceIn{From: *before, To: *c.To})
			if err != nil {
				return err
			}
			c.LegKM = &d.KM
		}
		before = c.To
	}
	return nil
}

// shortMove warns where bees would find back to the old stand, and where nobody can tell.
func (c *StopCare) shortMove(ctx context.Context) error {
	switch {
	case c.From == nil:
		c.Warnings = append(c.Warnings, "How far the bees are moved is not known: where they stand has no coordinates.")
		return nil
	case c.To == nil:
		c.Warnings = append(c.Warnings, "How far the bees are moved is not known: where they go has no coordinates.")
		return nil
	}
	d, err := travel.Distance(ctx, travel.DistanceIn{From: *c.From, To: *c.To})
	if err != nil {
		return err
	}
	c.KM = &d.KM
	if c.FlightM == nil {
		c.Warnings = append(c.Warnings, fmt.Sprintf("They are moved %s; how far this kind flies is not in the book.", wayWords(d.KM)))
	} else if d.KM*1000 < float64(*c.FlightM) {
		c.Warnings = append(c.Warnings, fmt.Sprintf("Moved only %s, and this kind flies %d m. %s", wayWords(d.KM), *c.FlightM, aroundShortMove))
	}
	return nil
}

// wayWords says a way in metres below two kilometres.
func wayWords(km float64) string {
	if km < 2 {
		return fmt.Sprintf("%.0f m", km*1000)
	}
	return fmt.Sprintf("%.0f km", km)
}

// heat says for each kind on board what the forecast means for it.
func (out *RunCare) heat(n handover.Run, kinds map[int64]apiary.Species) {
	if n.ForecastC == nil {
		if len(kinds) > 0 {
			out.Lines = append(out.Lines, "No forecast is typed in. Look it up the day before.")
		}
		return
	}
	var lines []string
	for _, k := range kinds {
		if k.HeatLimitC != nil && *n.ForecastC > *k.HeatLimitC {
			lines = append(lines, fmt.Sprintf("%s °C is forecast, and %s bears %s °C at most. Put the run off, or go before sunrise.", trimmed(*n.ForecastC), k.Name, trimmed(*k.HeatLimitC)))
		}
	}
	slices.Sort(lines)
	out.Lines = append(out.Lines, lines...)
}

// leave is when to set out so that the last entrance is opened in time: the whole drive at
// 50 km/h and 20 minutes a stop before the first of the times by which one is to be open.
func (out *RunCare) leave(n handover.Run) {
	var close, open *time.Time
	calls := 0
	for _, c := range out.Stops {
		if !c.Closing {
			calls++
		}
		if c.OpenBy != nil && (open == nil || c.OpenBy.Before(*open)) {
			open = c.OpenBy
		}
		if c.CloseAt != nil && (close == nil || c.CloseAt.After(*close)) {
			close = c.CloseAt
		}
	}
	if open == nil {
		return
	}
	minutes := float64(calls * stopMinutes)
	if n.KM != nil {
		minutes += *n.KM / driveKMH * 60
	}
	by := open.Add(-time.Duration(math.Ceil(minutes)) * time.Minute).Truncate(5 * time.Minute)
	out.LeaveBy = &by
	if by.Before(*close) {
		out.Lines = append(out.Lines, "The run takes longer than its bees may be closed in. Split it into two runs.")
	}
}

func placeAt(lat, lon *float64) *travel.Place {
	if lat == nil || lon == nil {
		return nil
	}
	return &travel.Place{Latitude: *lat, Longitude: *lon}
}

// boxMass is what a box weighs, full where bees live in it; nil where its model or timber
// is not known.
func (r *Room) boxMass(ctx context.Context, box *int64, bees bool) (*float64, error) {
	if box == nil {
		return nil, nil
	}
	b, err := r.Workshop.BoxGet(ctx, *box)
	if err != nil || b.RevisionID == nil {
		return nil, err
	}
	rev, options, err := r.builtAs(ctx, b)
	if err != nil {
		return nil, err
	}
	model, err := workshop.Compose(rev, options)
	if err != nil {
		return nil, err
	}
	out, err := r.measure(ctx, model, b.SpeciesID)
	if err != nil || out.EmptyMassKg == 0 {
		return nil, err
	}
	if bees {
		return &out.FullMassKg, nil
	}
	return &out.EmptyMassKg, nil
}

// MassWords says what the run weighs.
func (out RunCare) MassWords() string {
	switch {
	case out.MassKG == 0:
		return "not known"
	case out.MassUnknown > 0:
		return fmt.Sprintf("about %.0f kg, and %d of which the mass is not known", math.Ceil(out.MassKG), out.MassUnknown)
	}
	return fmt.Sprintf("about %.0f kg", math.Ceil(out.MassKG))
}
