package web

import (
	"encoding/json"
	"sort"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/apiary"
)

type speciesView struct {
	Form    *Form
	Sources []sourceRow
}

type sourceRow struct{ What, Source string }

var speciesPage = definePage[speciesView]("bee-species")

// speciesFigures are the figures of a kind of bee as the page names them.
var speciesFigures = []struct{ column, label, unit string }{
	{"flight_min_c", "Flies from", "°C"}, {"heat_limit_c", "Needs shade and cooling from", "°C"}, {"cold_limit_c", "Needs shelter below", "°C at night"},
	{"flight_range_m", "Finds home from as far as", "m"}, {"longest_closed_hours", "Longest time with the entrance closed", "hours"}, {"settling_weeks", "A split settles in", "weeks"},
	{"tree_visit_days", "Between visits to a tree", "days"}, {"tree_visit_cold_days", "Between visits in the other months", "days"},
	{"split_interval_months", "Between splits", "months"}, {"split_months", "Months for splitting", ""}, {"split_chance_pct", "Splits that settle", "%"}, {"natural_range", "Natural range", ""},
}

func (s *Server) handleBeeSpecies(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	sp, err := s.Apiary.SpeciesGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(sp.Version)
	f.Fill("common_name", sp.CommonName)
	f.Fill("natural_range", sp.NaturalRange)
	f.Fill("range_regions", strings.Join(sp.Regions(), " "))
	months := make([]string, len(sp.SplitMonths))
	for i, m := range sp.SplitMonths {
		months[i] = strconv.Itoa(int(m))
	}
	f.Fill("split_months", strings.Join(months, " "))
	f.Fill("split_chance_pct", strconv.FormatFloat(sp.SplitChancePct, 'f', -1, 64))
	for name, p := range map[string]*float64{"flight_min_c": sp.FlightMinC, "heat_limit_c": sp.HeatLimitC, "cold_limit_c": sp.ColdLimitC} {
		if p != nil {
			f.Fill(name, strconv.FormatFloat(*p, 'f', -1, 64))
		}
	}
	for name, p := range map[string]*int{"flight_range_m": sp.FlightRangeM, "longest_closed_hours": sp.LongestClosedHours, "settling_weeks": sp.SettlingWeeks, "split_interval_months": sp.SplitIntervalMonths, "tree_visit_days": sp.TreeVisitDays, "tree_visit_cold_days": sp.TreeVisitColdDays} {
		if p != nil {
			f.Fill(name, strconv.Itoa(*p))
		}
	}
	v := speciesView{Form: f}
	sources := sp.Sources()
	for _, fig := range speciesFigures {
		if src := sources[fig.column]; src != "" {
			v.Sources = append(v.Sources, sourceRow{fig.label, src})
		}
	}
	return speciesPage.show(s, c, sp.Name, v)
}

func (s *Server) handleBeeSpeciesPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	was, err := s.Apiary.SpeciesGet(ctx, id)
	if err != nil {
		return err
	}
	f := formOf(c)
	sp := was
	sp.Version, sp.CommonName, sp.NaturalRange = f.Version, f.Text("common_name"), f.Text("natural_range")
	if sp.RangeRegions, err = json.Marshal(strings.Fields(strings.ToUpper(strings.ReplaceAll(f.Text("range_regions"), ",", " ")))); err != nil {
		return err
	}
	sp.SplitMonths = nil
	for _, m := range strings.Fields(strings.ReplaceAll(f.Text("split_months"), ",", " ")) {
		n, err := strconv.Atoi(m)
		if err != nil || n < 1 || n > 12 {
			f.Wrong("split_months", "Write months as numbers from 1 to 12 with a space between.")
			break
		}
		sp.SplitMonths = append(sp.SplitMonths, int32(n))
	}
	sp.SplitChancePct = *decimalField(f, "split_chance_pct", 80)
	sp.FlightMinC, sp.HeatLimitC, sp.ColdLimitC = decimalField(f, "flight_min_c"), decimalField(f, "heat_limit_c"), decimalField(f, "cold_limit_c")
	sp.FlightRangeM, sp.LongestClosedHours = intField(f, "flight_range_m", 20000), intField(f, "longest_closed_hours", 240)
	sp.SettlingWeeks, sp.SplitIntervalMonths = intField(f, "settling_weeks", 104), intField(f, "split_interval_months", 60)
	sp.TreeVisitDays, sp.TreeVisitColdDays = intField(f, "tree_visit_days", 730), intField(f, "tree_visit_cold_days", 730)
	sp.SourcesJSON = ownFigures(was, sp, f)
	if err := f.Err(); err != nil {
		return again(err, s.handleBeeSpecies)
	}
	if _, err := s.Apiary.SpeciesPut(ctx, sp); err != nil {
		return again(err, s.handleBeeSpecies)
	}
	return goTo(c, "/bees/species/"+strconv.FormatInt(id, 10), "The figures are kept.")
}

// decimalField reads an optional number; without a fallback an empty field is nil.
func decimalField(f *Form, name string, fallback ...float64) *float64 {
	if f.Text(name) == "" {
		if len(fallback) > 0 {
			return &fallback[0]
		}
		return nil
	}
	v, _ := f.Decimal(name, 2).Float64()
	return &v
}

func intField(f *Form, name string, high int64) *int {
	if f.Text(name) == "" {
		return nil
	}
	n := int(f.Int(name, 0, high))
	return &n
}

// ownFigures keeps the sources of figures that stayed and names the maker as the source
// of those he changed.
func ownFigures(was, sp apiary.Species, f *Form) []byte {
	before, after := figures(was), figures(sp)
	sources := was.Sources()
	for column, v := range after {
		switch {
		case v == "":
			delete(sources, column)
		case v != before[column]:
			sources[column] = "put in by the workshop: " + f.Text("source")
		}
	}
	b, err := json.Marshal(sources)
	if err != nil { // texts always encode
		return []byte("{}")
	}
	return b
}

func figures(sp apiary.Species) map[string]string {
	sort.Slice(sp.SplitMonths, func(i, j int) bool { return sp.SplitMonths[i] < sp.SplitMonths[j] })
	months, _ := json.Marshal(sp.SplitMonths) // whole numbers always encode
	m := map[string]string{"natural_range": sp.NaturalRange, "split_months": strings.Trim(string(months), "[]"), "split_chance_pct": strconv.FormatFloat(sp.SplitChancePct, 'f', -1, 64)}
	for name, p := range map[string]*float64{"flight_min_c": sp.FlightMinC, "heat_limit_c": sp.HeatLimitC, "cold_limit_c": sp.ColdLimitC} {
		m[name] = ""
		if p != nil {
			m[name] = strconv.FormatFloat(*p, 'f', -1, 64)
		}
	}
	for name, p := range map[string]*int{"flight_range_m": sp.FlightRangeM, "longest_closed_hours": sp.LongestClosedHours, "settling_weeks": sp.SettlingWeeks, "split_interval_months": sp.SplitIntervalMonths, "tree_visit_days": sp.TreeVisitDays, "tree_visit_cold_days": sp.TreeVisitColdDays} {
		m[name] = ""
		if p != nil {
			m[name] = strconv.Itoa(*p)
		}
	}
	return m
}
