package answer

import (
	"context"
	"slices"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
)

// regionOf gives the region a hive will stand in: that of the site, else of the only place
// the buyer has; "" where it is not known.
func (r *Room) regionOf(ctx context.Context, party int64, site *int64) (string, error) {
	if site != nil {
		s, err := r.Sales.SiteGet(ctx, *site)
		return s.Region, err
	}
	if party == 0 {
		return "", nil
	}
	list, err := postgres.Column[string](ctx, r.db, `SELECT region FROM site WHERE party_id = $1 AND put_away_at IS NULL ORDER BY id LIMIT 2`, party)
	if err != nil || len(list) != 1 {
		return "", err
	}
	return list[0], nil
}

// QuoteOutOfRange says, once for each kind of bee of a quote that does not live at the
// buyer's place by nature, what to say to the buyer.
func (r *Room) QuoteOutOfRange(ctx context.Context, q sales.Quote) ([]string, error) {
	var kinds []int64
	for _, a := range q.Alternatives {
		for _, l := range a.Lines {
			if l.BeeSpeciesID != nil && (l.WithColony || l.Kind == "colony") && !slices.Contains(kinds, *l.BeeSpeciesID) {
				kinds = append(kinds, *l.BeeSpeciesID)
			}
		}
	}
	if len(kinds) == 0 {
		return nil, nil
	}
	region, err := r.regionOf(ctx, q.PartyID, q.SiteID)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, id := range kinds {
		s, err := r.Apiary.SpeciesGet(ctx, id)
		if fault.Is(err, fault.NotFound) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if text := s.AskOutOfRange(region); text != "" {
			out = append(out, text)
		}
	}
	return out, nil
}
