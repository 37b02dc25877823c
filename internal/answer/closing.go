package answer

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/show"
)

// stand is where hives of a run stand, and which of its stops they are for.
type stand struct {
	site  *int64
	sales *sales.Site
	names []string // colonies, by number
	stops []int
}

// closingRound puts before the stops of a run one for each place where its hives stand:
// there the entrances are closed after dusk, on the evening of [handover.Run.ClosingDay].
// A hive whose colony is not put aside yet is taken to stand at the workshop.
func (r *Room) closingRound(ctx context.Context, set house.Settings, run *handover.Run) error {
	var stands []*stand
	for i, st := range run.Stops {
		name, site, bees, err := r.hiveOf(ctx, st)
		if err != nil {
			return err
		}
		if !bees {
			continue
		}
		at := slices.IndexFunc(stands, func(x *stand) bool {
			return x.site == nil && site == nil || x.site != nil && site != nil && *x.site == *site
		})
		if at < 0 {
			at = len(stands)
			stands = append(stands, &stand{site: site})
		}
		if name != "" {
			stands[at].names = append(stands[at].names, name)
		}
		stands[at].stops = append(stands[at].stops, i)
	}
	if len(stands) == 0 {
		return nil
	}
	stands, err := r.nearestFirst(ctx, set, stands)
	if err != nil {
		return err
	}
	var out []handover.Stop
	for n, x := range stands {
		out = append(out, handover.Stop{Kind: "close", SiteID: x.site, What: clip(x.words(), fault.ShortText)})
		for _, i := range x.stops {
			run.Stops[i].ClosedBy = n + 1
		}
	}
	run.Stops = append(out, run.Stops...)
	return nil
}

// words says what is closed at a stand.
func (x *stand) words() string {
	where := "the workshop"
	if x.sales != nil {
		where = x.sales.Line()
	}
	what := show.Count(int64(len(x.stops)), "entrance", "entrances")
	if len(x.names) > 0 {
		what += " (" + strings.Join(x.names, ", ") + ")"
	}
	return "Close " + what + " at " + where
}

// hiveOf says whether bees go along from a stop, where their hive stands (nil: at the
// workshop), and the colony's number where it is known.
func (r *Room) hiveOf(ctx context.Context, st handover.Stop) (name string, site *int64, bees bool, err error) {
	colony := st.ColonyID
	if st.UnitID != nil {
		u, err := r.Sales.UnitGet(ctx, *st.UnitID)
		if err != nil {
			return "", nil, false, err
		}
		if colony == nil {
			colony = u.ColonyID
		}
		bees = u.WantsColony
	}
	if colony == nil {
		return "", nil, bees, nil
	}
	c, err := r.Apiary.ColonyGet(ctx, *colony)
	return c.Number, c.SiteID, true, err
}

// nearestFirst reads the places of stands and puts them into the shortest order from the
// workshop and back, where all have coordinates.
func (r *Room) nearestFirst(ctx context.Context, set house.Settings, stands []*stand) ([]*stand, error) {
	sites := make([]*sales.Site, len(stands))
	for i, x := range stands {
		if x.site == nil {
			sites[i] = &sales.Site{Latitude: set.Latitude, Longitude: set.Longitude}
			continue
		}
		s, err := r.Sales.SiteGet(ctx, *x.site)
		if err != nil {
			return nil, err
		}
		x.sales, sites[i] = &s, &s
	}
	order, _, err := shortest(ctx, set, sites)
	if err != nil || order == nil {
		return stands, err
	}
	out := make([]*stand, len(order))
	for i, at := range order {
		out[i] = stands[at]
	}
	return out, nil
}

// standSite is where the hives of a closing stop stand; the workshop where it names no site.
func (r *Room) standSite(ctx context.Context, set house.Settings, st handover.Stop) (sales.Site, error) {
	if st.SiteID != nil {
		return r.Sales.SiteGet(ctx, *st.SiteID)
	}
	return sales.Site{Latitude: set.Latitude, Longitude: set.Longitude, TimeZone: set.TimeZone}, nil
}

// noDusk is said where the sun gives no evening.
const noDusk = "There is no dusk there on that day, or the place has no coordinates: close when no bee flies any more."

// closing: the entrances that are to be closed this evening, and those that were to be
// closed last evening while the run is still to come.
func (s *sheet) closing(ctx context.Context) error {
	runs, err := s.Handover.ToClose(ctx, s.day, s.day.AddDate(0, 0, 1))
	if err != nil {
		return err
	}
	for _, n := range runs {
		if n.ClosingDay().After(s.day) {
			continue
		}
		for _, st := range n.Stops {
			if err := s.closeLine(ctx, n, st); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *sheet) closeLine(ctx context.Context, n handover.Run, st handover.Stop) error {
	on := n.ClosingDay()
	late := on.Before(s.day)
	text := fmt.Sprintf("%s, for run %s. ", st.What, n.Number)
	if late {
		text += "It was to be done last evening: close before first light, or put the run off."
	} else {
		site, err := s.standSite(ctx, s.set, st)
		if err != nil {
			return err
		}
		dusk, err := DuskAt(ctx, s.set, &site, on)
		if err != nil {
			return err
		}
		if text += noDusk; !dusk.IsZero() {
			text = fmt.Sprintf("This evening after %s: %s, for run %s.", dusk.Format("15:04"), lowerFirst(st.What), n.Number)
		}
	}
	s.add("closing", access.Runs, fmt.Sprintf("stop:%d:close:%s:%t", st.ID, on.Format(time.DateOnly), late), s.path("/runs/", n.ID), text, on, late)
	return nil
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
