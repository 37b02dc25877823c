package answer

import (
	"context"
	"fmt"
	"time"

	"kerfbook/internal/calc/sun"
	"kerfbook/internal/calc/travel"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
)

// NewRun asks for a run to the places of units that are still to be handed over.
type NewRun struct {
	On        time.Time
	Kind      string // delivery (when empty), collection
	UnitIDs   []int64
	Driver    string
	ForecastC *float64
	Notes     string
	Loads     string // dawn (when empty: entrances are closed the evening before), dusk (the same evening)
}

// RunMake plans a run: its stops in the shortest order from the workshop and back where
// every place has coordinates, else in the order given. Before them come the stops of the
// closing round, one for each place where hives stand that go along.
func (r *Room) RunMake(ctx context.Context, n NewRun) (handover.Run, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return handover.Run{}, err
	}
	if len(n.UnitIDs) == 0 || len(n.UnitIDs) > 200 {
		return handover.Run{}, fault.Bad("/unit_ids", "Choose at least one piece to take along, and at most 200.")
	}
	run := handover.Run{RunOn: n.On, Kind: n.Kind, Driver: n.Driver, ForecastC: n.ForecastC, Notes: n.Notes, Loads: n.Loads}
	var sites []*sales.Site
	for _, id := range n.UnitIDs {
		u, err := r.Sales.UnitGet(ctx, id)
		if err != nil {
			return run, err
		}
		if !u.Open() {
			return run, fault.Bad("/unit_ids", "A piece is %s already; leave it out.", u.State())
		}
		stop, site, err := r.stopOf(ctx, u)
		if err != nil {
			return run, err
		}
		run.Stops, sites = append(run.Stops, stop), append(sites, site)
	}
	if n.Kind == "collection" { // the buyer drives
		return r.Handover.RunMake(ctx, run)
	}
	order, km, err := shortest(ctx, set, sites)
	if err != nil {
		return run, err
	}
	if order != nil {
		sorted := make([]handover.Stop, len(order))
		for i, at := range order {
			sorted[i] = run.Stops[at]
		}
		run.Stops, run.KM = sorted, &km
	}
	if err := r.closingRound(ctx, set, &run); err != nil {
		return run, err
	}
	return r.Handover.RunMake(ctx, run)
}

// stopOf describes what a unit needs of a stop, and where.
func (r *Room) stopOf(ctx context.Context, u sales.Unit) (handover.Stop, *sales.Site, error) {
	o, err := r.Sales.OrderOfUnit(ctx, u.ID)
	if err != nil {
		return handover.Stop{}, nil, err
	}
	stop := handover.Stop{UnitID: &u.ID, ColonyID: u.ColonyID}
	for _, l := range o.Lines {
		if l.ID == u.OrderLineID {
			stop.What = l.Description
		}
	}
	if u.BoxSerial != nil {
		stop.What = clip(fmt.Sprintf("%s, box %s", stop.What, *u.BoxSerial), 200)
	}
	id := u.SiteID
	if id == nil {
		id = o.SiteID
	}
	if id == nil {
		return stop, nil, nil
	}
	stop.SiteID = id
	site, err := r.Sales.SiteGet(ctx, *id)
	return stop, &site, err
}

func clip(s string, most int) string {
	if runes := []rune(s); len(runes) > most {
		return string(runes[:most])
	}
	return s
}

// shortest gives the order of the sites and the way there and back in km; nil when the
// workshop or one of them has no coordinates.
func shortest(ctx context.Context, set house.Settings, sites []*sales.Site) ([]int, float64, error) {
	if set.Latitude == nil || set.Longitude == nil {
		return nil, 0, nil
	}
	stops := []travel.Stop{{ID: "workshop", Latitude: *set.Latitude, Longitude: *set.Longitude}}
	at := map[string]int{}
	for i, s := range sites {
		if s == nil || s.Latitude == nil {
			return nil, 0, nil
		}
		id := fmt.Sprintf("stop %d", i)
		at[id] = i
		stops = append(stops, travel.Stop{ID: id, Latitude: *s.Latitude, Longitude: *s.Longitude})
	}
	out, err := travel.Run(ctx, travel.RunIn{Stops: stops, Start: travel.Mark{ID: "workshop"}})
	if err != nil {
		return nil, 0, err
	}
	var order []int
	for _, m := range out.Order {
		if i, ok := at[m.ID]; ok {
			order = append(order, i)
		}
	}
	return order, out.KM, nil
}

// DuskAt is the end of civil twilight at a site on a day, when all bees are home and the
// entrance can be closed; the workshop's place where the site has no coordinates. Zero
// when neither has, or in polar day and night.
func DuskAt(ctx context.Context, set house.Settings, site *sales.Site, day time.Time) (time.Time, error) {
	lat, lon, zone := set.Latitude, set.Longitude, set.TimeZone
	if site != nil && site.Latitude != nil {
		lat, lon, zone = site.Latitude, site.Longitude, site.TimeZone
	}
	if lat == nil || lon == nil {
		return time.Time{}, nil
	}
	out, err := sun.DayTimes(ctx, sun.DayTimesIn{Latitude: *lat, Longitude: *lon, On: day.Format(time.DateOnly), TimeZone: zone})
	if err != nil || out.CivilDusk == nil {
		return time.Time{}, err
	}
	return time.Parse(time.RFC3339, *out.CivilDusk)
}
