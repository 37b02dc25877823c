package drying

import (
	"context"
	"fmt"
	"math"
	"time"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/wood"
)

const (
	months       = 12
	mostReadings = 1000
	mostMoves    = 100
	horizonDays  = 3652 // ten years after the last reading: later than that is never
	mostAgeDays  = 3652 // of a pack when it is last read or asked about
)

// Month is one month of the air around the pack, January first.
type Month struct {
	TemperatureC float64 `json:"temperature_c" need:"yes"`
	HumidityPct  float64 `json:"humidity_pct" need:"yes"`
}

// Reading is the moisture content of the pack's sample boards, corrected for species.
type Reading struct {
	On    string  `json:"on" need:"yes"`
	MCPct float64 `json:"mc_pct" need:"yes"`
}

// DryingIn is a pack, its climate and what the meter said.
type DryingIn struct {
	StackedOn   string    `json:"stacked_on" need:"yes"`
	ThicknessMM float64   `json:"thickness_mm" need:"yes"` // green
	Species     string    `json:"species" need:"yes"`
	StartMCPct  *float64  `json:"start_mc_pct,omitempty"` // when stacked; left out: the species' green moisture, else 70, give or take a third
	TargetMCPct float64   `json:"target_mc_pct" need:"yes"`
	Climate     []Month   `json:"climate" need:"yes"`
	Readings    []Reading `json:"readings,omitempty"` // in order of date; several of one day count as their mean
	AsOf        string    `json:"as_of,omitempty"`    // left out: the last reading, else stacked_on

	// ClimatesLater are the places that the pack was or will be moved to, such as a solar
	// or heated chamber and back into the yard, in order of date.
	ClimatesLater []ClimateFrom `json:"climates_later,omitempty"`
}

// ClimateFrom is the air around the pack from a day on.
type ClimateFrom struct {
	From    string  `json:"from" need:"yes"`
	Climate []Month `json:"climate" need:"yes"`
}

// Point is one day of the drying curve.
type Point struct {
	On      string  `json:"on"`
	MCPct   float64 `json:"mc_pct"`
	EMCPct  float64 `json:"emc_pct"`
	Chance  float64 `json:"chance"`      // that the target has been reached by that day
	LowPct  float64 `json:"low_mc_pct"`  // one in ten lies below this
	HighPct float64 `json:"high_mc_pct"` // one in ten lies above this
}

// DryingOut is when the pack will be dry. Neither date lies before as_of.
type DryingOut struct {
	ReadyOn    *string `json:"ready_on"`     // even odds; null when never
	ReadyOnP80 *string `json:"ready_on_p80"` // four in five; null when never, or when it stays less sure than that
	Never      bool    `json:"never"`        // this climate does not bring it to the target within ten years, by even odds
	Pace       float64 `json:"pace"`         // against the model's own, after the readings; 1 is as expected
	Curve      []Point `json:"curve"`        // from stacked_on, at most about 400 points

	DriestEMCPct float64 `json:"driest_emc_pct"` // the lowest equilibrium of any day still to come
}

// Timber is what the model asks of a species.
type Timber struct {
	Gravity    float64 // oven-dry mass on volume at 12 %, 0.1 to 1.4
	GreenMCPct float64 // usual moisture when sawn, % of oven-dry mass; 0: not known
	Slowness   float64 // how much slower it dries than its gravity says, 0.3 to 5; 0: as its gravity says
}

// Drying gives the dates on which a pack of a species in the table is dry; the model
// stands at the head of the package. Thickness lies between 3 and 300 mm, the target
// between 3 and 60 %, the start between 5 and 250 %, months between -40 and 100
// degrees C. An unknown species, readings out of order, before stacking or above
// green, and an as_of before the last reading are errors.
func Drying(_ context.Context, in DryingIn) (DryingOut, error) {
	s, ok := wood.FindSpecies(in.Species)
	if !ok {
		return DryingOut{}, contract.Bad("/species", "is not in the species table: %q", in.Species)
	}
	if s.AirDryKgM3 == 0 {
		return DryingOut{}, contract.Bad("/species", "its density is not known, and without it nothing can be said about drying: %q", in.Species)
	}
	return Predict(in, Timber{s.GravityAt(12), s.GreenMCPct, s.Slowness})
}

// Predict is Drying for a timber that stands in no table; in.Species is not looked at.
func Predict(in DryingIn, timber Timber) (DryingOut, error) {
	p, err := read(in, timber)
	if err != nil {
		return DryingOut{}, err
	}
	known := p.weigh()
	chance := p.forecast(known)
	return p.answer(known, chance), nil
}

// pack is the input with dates as days since stacking.
type pack struct {
	stacked  time.Time
	asOf     int // day
	readings []reading
	target   float64
	start    float64
	measured bool    // the start is
	rate     float64 // 1/tau
	air      air
}

// reading is the mean of one day's sample boards.
type reading struct {
	day    int
	mc     float64
	boards int
}

// last gives the day from which the forecast sets out.
func (p *pack) last() int {
	if len(p.readings) == 0 {
		return 0
	}
	return p.readings[len(p.readings)-1].day
}

func read(in DryingIn, timber Timber) (*pack, error) {
	var c contract.Checks
	p := &pack{target: in.TargetMCPct, start: usualStartPct}
	if timber.GreenMCPct > 0 {
		p.start = min(max(timber.GreenMCPct, 31), 250)
	}
	if timber.Slowness == 0 {
		timber.Slowness = 1
	}
	stacked, ok := date(&c, "/stacked_on", in.StackedOn)
	p.stacked = stacked
	c.Number("/thickness_mm", in.ThicknessMM, 3, 300)
	c.Number("/target_mc_pct", in.TargetMCPct, 3, 60)
	c.Number("/species", timber.Gravity, 0.1, 1.4)
	c.Number("/species", timber.Slowness, 0.3, 5)
	if in.StartMCPct != nil {
		p.start, p.measured = *in.StartMCPct, true
		c.Number("/start_mc_pct", p.start, 5, 250)
	}
	checkClimate(&c, "/climate", in.Climate)
	spells := []spell{{0, in.Climate}}
	if ok {
		spells = append(spells, p.readLater(&c, in.ClimatesLater)...)
		p.readReadings(&c, in.Readings)
		p.readAsOf(&c, in.AsOf)
	}
	if err := c.Err(); err != nil {
		return nil, err
	}
	p.rate = 1 / (tauDays * math.Pow(in.ThicknessMM/tauThicknessMM, thicknessPower) * math.Pow(timber.Gravity/tauGravity, gravityPower) * timber.Slowness)
	p.air = newAir(spells, stacked, max(p.asOf, p.last())+horizonDays)
	return p, nil
}

// spell is a climate from a day on.
type spell struct {
	day     int
	climate []Month
}

// readLater reads the places that the pack was moved to.
func (p *pack) readLater(c *contract.Checks, in []ClimateFrom) []spell {
	if len(in) > mostMoves {
		c.Add("/climates_later", "has more than %d entries", mostMoves)
		return nil
	}
	var out []spell
	for i, l := range in {
		at := fmt.Sprintf("/climates_later/%d", i)
		checkClimate(c, at+"/climate", l.Climate)
		on, ok := date(c, at+"/from", l.From)
		if !ok {
			continue
		}
		day := p.day(on)
		switch {
		case day < 0:
			c.Add(at+"/from", "lies before the pack was stacked")
		case day > mostAgeDays:
			c.Add(at+"/from", "lies more than ten years after the pack was stacked")
		case len(out) > 0 && day <= out[len(out)-1].day:
			c.Add(at+"/from", "must lie after the move above it: put moves in order of date")
		}
		out = append(out, spell{day, l.Climate})
	}
	return out
}

func (p *pack) readReadings(c *contract.Checks, in []Reading) {
	if len(in) > mostReadings {
		c.Add("/readings", "has more than %d entries", mostReadings)
		return
	}
	highest := float64(250)
	if p.measured {
		highest = 1.15*p.start + 3 // a meter may read that far above what was measured green
	}
	for i, r := range in {
		at := fmt.Sprintf("/readings/%d", i)
		on, ok := date(c, at+"/on", r.On)
		if !ok {
			continue
		}
		day := p.day(on)
		switch {
		case day < 0:
			c.Add(at+"/on", "lies before the pack was stacked")
		case day > mostAgeDays:
			c.Add(at+"/on", "lies more than ten years after the pack was stacked")
		case day < p.last():
			c.Add(at+"/on", "lies before the reading above it: put readings in order of date")
		}
		if c.Number(at+"/mc_pct", r.MCPct, 0, 250) && r.MCPct > highest {
			c.Add(at+"/mc_pct", "is above green (%g %%)", p.start)
		}
		p.add(day, r.MCPct)
	}
}

// add notes a reading; sample boards read on one day count as their mean.
func (p *pack) add(day int, mc float64) {
	if n := len(p.readings); n > 0 && p.readings[n-1].day == day {
		r := &p.readings[n-1]
		r.mc = (r.mc*float64(r.boards) + mc) / float64(r.boards+1)
		r.boards++
		return
	}
	p.readings = append(p.readings, reading{day, mc, 1})
}

func (p *pack) readAsOf(c *contract.Checks, text string) {
	p.asOf = p.last()
	if text == "" {
		return
	}
	on, ok := date(c, "/as_of", text)
	if !ok {
		return
	}
	switch day := p.day(on); {
	case day < p.last():
		c.Add("/as_of", "must not lie before stacking or the last reading")
	case day > mostAgeDays:
		c.Add("/as_of", "lies more than ten years after the pack was stacked")
	default:
		p.asOf = day
	}
}

func (p *pack) day(on time.Time) int { return int(math.Round(on.Sub(p.stacked).Hours() / 24)) }

func (p *pack) on(day int) string { return p.stacked.AddDate(0, 0, day).Format(time.DateOnly) }

func checkClimate(c *contract.Checks, at string, climate []Month) {
	if len(climate) != months {
		c.Add(at, "must have twelve months, January first")
		return
	}
	for i, m := range climate {
		c.Number(fmt.Sprintf("%s/%d/temperature_c", at, i), m.TemperatureC, -40, 100)
		c.Number(fmt.Sprintf("%s/%d/humidity_pct", at, i), m.HumidityPct, 0, 100)
	}
}

func date(c *contract.Checks, pointer, text string) (time.Time, bool) {
	on, err := time.Parse(time.DateOnly, text)
	if err != nil || on.Year() < 1900 || on.Year() > 2200 {
		c.Add(pointer, "must be a date such as 2027-03-15")
		return time.Time{}, false
	}
	return on, true
}
