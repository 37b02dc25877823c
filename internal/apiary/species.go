package apiary

import (
	"context"
	"encoding/json"
	"strings"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Species is a kind of bee; every figure is data with its source, none is needed.
type Species struct {
	ID                  int64    `db:"id"`
	Version             int      `db:"version"`
	Code                string   `db:"code"`
	Name                string   `db:"name"` // scientific
	CommonName          string   `db:"common_name"`
	NaturalRange        string   `db:"natural_range"`
	RangeRegions        []byte   `db:"range_regions"` // JSON list of region codes
	SplitMonths         []int32  `db:"split_months"`  // 1 to 12
	SplitIntervalMonths *int     `db:"split_interval_months"`
	SplitChancePct      float64  `db:"split_chance_pct"` // percent of splits that settle
	FlightMinC          *float64 `db:"flight_min_c"`
	HeatLimitC          *float64 `db:"heat_limit_c"`
	ColdLimitC          *float64 `db:"cold_limit_c"`
	FlightRangeM        *int     `db:"flight_range_m"`
	LongestClosedHours  *int     `db:"longest_closed_hours"`
	SettlingWeeks       *int     `db:"settling_weeks"`
	TreeVisitDays       *int     `db:"tree_visit_days"`      // between visits to a box on a tree, in the months for splitting
	TreeVisitColdDays   *int     `db:"tree_visit_cold_days"` // the same in the other months
	SourcesJSON         []byte   `db:"sources"`              // JSON object: column to source
}

// Regions are the region codes of the natural range; empty when not known.
func (s Species) Regions() []string {
	var list []string
	_ = json.Unmarshal(s.RangeRegions, &list) // a list written by SpeciesPut
	return list
}

// InRange reports whether region lies in the natural range; true when either is not known.
func (s Species) InRange(region string) bool {
	list := s.Regions()
	region = strings.ToUpper(strings.TrimSpace(region))
	if len(list) == 0 || region == "" {
		return true
	}
	for _, r := range list {
		if strings.EqualFold(r, region) {
			return true
		}
	}
	return false
}

// Sources gives the source of each figure by its column.
func (s Species) Sources() map[string]string {
	m := map[string]string{}
	_ = json.Unmarshal(s.SourcesJSON, &m) // an object written by SpeciesPut
	return m
}

const speciesColumns = `id, version, code, name, common_name, natural_range, range_regions, split_months, split_interval_months, split_chance_pct::float8 AS split_chance_pct,
	flight_min_c::float8 AS flight_min_c, heat_limit_c::float8 AS heat_limit_c, cold_limit_c::float8 AS cold_limit_c, flight_range_m, longest_closed_hours, settling_weeks, tree_visit_days, tree_visit_cold_days, sources`

// SpeciesPut stores s: new when s.ID is 0, else a change of version s.Version.
func (r *Room) SpeciesPut(ctx context.Context, s Species) (Species, error) {
	var l fault.List
	l.Check(strings.TrimSpace(s.Name) != "", "/name", "Give the scientific name.")
	l.Check(strings.TrimSpace(s.Code) != "", "/code", "Give it a short name, such as carbonaria.")
	l.Text("/name", s.Name, maxWords)
	l.Text("/natural_range", s.NaturalRange, maxProse)
	for _, m := range s.SplitMonths {
		l.Check(m >= 1 && m <= 12, "/split_months", "Months are 1 to 12.")
	}
	for pointer, n := range map[string]*int{"/tree_visit_days": s.TreeVisitDays, "/tree_visit_cold_days": s.TreeVisitColdDays} {
		l.Check(n == nil || *n >= 1 && *n <= 730, pointer, "Between 1 and 730 days.")
	}
	if len(s.RangeRegions) == 0 {
		s.RangeRegions = []byte("[]")
	}
	if len(s.SourcesJSON) == 0 {
		s.SourcesJSON = []byte("{}")
	}
	if s.SplitMonths == nil {
		s.SplitMonths = []int32{}
	}
	if err := l.Err(); err != nil {
		return s, err
	}
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		args := []any{s.Code, s.Name, s.CommonName, s.NaturalRange, string(s.RangeRegions), s.SplitMonths, s.SplitIntervalMonths, s.SplitChancePct, s.FlightMinC, s.HeatLimitC, s.ColdLimitC,
			s.FlightRangeM, s.LongestClosedHours, s.SettlingWeeks, string(s.SourcesJSON), s.TreeVisitDays, s.TreeVisitColdDays}
		if s.ID == 0 {
			return tx.QueryRow(ctx, `INSERT INTO bee_species (code, name, common_name, natural_range, range_regions, split_months, split_interval_months, split_chance_pct, flight_min_c, heat_limit_c, cold_limit_c,
	flight_range_m, longest_closed_hours, settling_weeks, sources, tree_visit_days, tree_visit_cold_days) VALUES ($1, $2, $3, $4, $5::jsonb, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15::jsonb, $16, $17) RETURNING id, version`, args...).Scan(&s.ID, &s.Version)
		}
		err := tx.QueryRow(ctx, `UPDATE bee_species SET code = $1, name = $2, common_name = $3, natural_range = $4, range_regions = $5::jsonb, split_months = $6, split_interval_months = $7, split_chance_pct = $8,
	flight_min_c = $9, heat_limit_c = $10, cold_limit_c = $11, flight_range_m = $12, longest_closed_hours = $13, settling_weeks = $14, sources = $15::jsonb, tree_visit_days = $16, tree_visit_cold_days = $17 WHERE id = $18 AND version = $19 RETURNING version`,
			append(args, s.ID, s.Version)...).Scan(&s.Version)
		return postgres.StaleOr(ctx, tx, err, "bee_species", s.ID)
	})
	return s, err
}

// SpeciesList gives all kinds of bees in use.
func (r *Room) SpeciesList(ctx context.Context) ([]Species, error) {
	return postgres.List[Species](ctx, r.db, `SELECT `+speciesColumns+` FROM bee_species WHERE put_away_at IS NULL ORDER BY name LIMIT 200`)
}

// SpeciesGet reads one.
func (r *Room) SpeciesGet(ctx context.Context, id int64) (Species, error) {
	return postgres.One[Species](ctx, r.db, `SELECT `+speciesColumns+` FROM bee_species WHERE id = $1`, id)
}

func ptr[T any](v T) *T { return &v }

// StandardSpecies are the kinds to start from. Figures that no source gives are left
// out or marked; the maker can change all of them. Split months are for the south.
func StandardSpecies() []Species {
	sources := func(m map[string]string) []byte { b, _ := json.Marshal(m); return b } // strings always encode
	const (
		heat     = "a keepers' weather page, sites.google.com/view/beekeeping-honey-and-native: above 40 C move the hive to a cooler place"
		interval = "12 to 18 months, from memory (Heard, The Australian Native Bee Book, 2016); a year usually, nostingsattached.com.au"
		season   = "warm months, nights not below 10 C, northsidenativebees.com.au; the months are our reading of it"
		move     = "500 m, australiannativebee.com 2015; other keepers say 1 or 2 km, so the way must be longer than the longest of them"
		guess    = "our estimate, no source; put your own figure here"
		ranges   = "Fraser Coast council, frasercoast.qld.gov.au, and others in the table of bee facts"
	)
	common := map[string]string{"heat_limit_c": heat, "split_interval_months": interval, "split_months": season, "settling_weeks": guess, "longest_closed_hours": guess, "tree_visit_days": guess, "tree_visit_cold_days": guess,
		"split_chance_pct": guess, "cold_limit_c": season, "natural_range": ranges}
	with := func(extra map[string]string) []byte {
		m := map[string]string{}
		for k, v := range common {
			m[k] = v
		}
		for k, v := range extra {
			m[k] = v
		}
		return sources(m)
	}
	base := Species{SplitMonths: []int32{9, 10, 11, 12, 1, 2, 3}, SplitIntervalMonths: ptr(15), SplitChancePct: 80, HeatLimitC: ptr(40.0), ColdLimitC: ptr(10.0), LongestClosedHours: ptr(36), SettlingWeeks: ptr(10), TreeVisitDays: ptr(28), TreeVisitColdDays: ptr(56)}
	carbonaria, hockingsi, australis := base, base, base
	carbonaria.Code, carbonaria.Name, carbonaria.CommonName = "carbonaria", "Tetragonula carbonaria", "bush stingless bee"
	carbonaria.NaturalRange = "From about Bundaberg to the south coast of New South Wales, and the high country of the Atherton Tableland and the Daintree."
	carbonaria.RangeRegions, carbonaria.FlightMinC, carbonaria.FlightRangeM = []byte(`["QLD","NSW"]`), ptr(18.0), ptr(712)
	carbonaria.SourcesJSON = with(map[string]string{"flight_min_c": "Heard and Hendrikz 1993, Aust. J. Zool. 41: 343-353", "flight_range_m": "greatest homing distance, Smith, Heard, Beekman and Gloag 2017, Austral Entomology 56: 50-53 (from memory); moving: " + move})
	hockingsi.Code, hockingsi.Name, hockingsi.CommonName = "hockingsi", "Tetragonula hockingsi", "northern stingless bee"
	hockingsi.NaturalRange = "The length of the Queensland coast from about Brisbane to Cape York, and across the top of the Northern Territory."
	hockingsi.RangeRegions, hockingsi.FlightRangeM, hockingsi.SourcesJSON = []byte(`["QLD","NT"]`), ptr(712), with(map[string]string{"flight_range_m": "taken from the bush stingless bee, no source of its own; moving: " + move})
	australis.Code, australis.Name, australis.CommonName = "australis", "Austroplebeia australis", "bush honeybag bee"
	australis.NaturalRange = "The north coast of New South Wales, most of Queensland, the north of the Northern Territory and the Kimberley."
	australis.RangeRegions, australis.SplitIntervalMonths, australis.SplitChancePct = []byte(`["QLD","NSW","NT"]`), ptr(18), 70
	australis.FlightRangeM, australis.SourcesJSON = ptr(712), with(map[string]string{"flight_range_m": "taken from the bush stingless bee, no source of its own; moving: " + move})
	return []Species{carbonaria, hockingsi, australis}
}
