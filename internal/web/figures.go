package web

import (
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"
	"github.com/shopspring/decimal"

	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

// figure is one setting of the workshop on its page: how it is shown and how it is read.
type figure struct {
	name, label string
	kind        string // field, textarea or choice
	options     []string
	choices     []Choice
	fill        func(house.Settings) string
	read        func(*Form, *house.Settings)
}

// settingGroup is a page of settings.
type settingGroup struct {
	path, title, about string
	figures            []figure
}

func textFigure(name, label string, at func(*house.Settings) *string, options ...string) figure {
	return figure{name: name, label: label, kind: "field", options: options,
		fill: func(s house.Settings) string { return *at(&s) },
		read: func(f *Form, s *house.Settings) { *at(s) = f.Text(name) }}
}

func proseFigure(name, label string, at func(*house.Settings) *string, options ...string) figure {
	d := textFigure(name, label, at, options...)
	d.kind = "textarea"
	return d
}

func numberFigure(name, label, unit string, places int32, at func(*house.Settings) *decimal.Decimal, options ...string) figure {
	return figure{name: name, label: label, kind: "field", options: append(options, "unit="+unit, "mode=decimal", "required"),
		fill: func(s house.Settings) string { return at(&s).String() },
		read: func(f *Form, s *house.Settings) { *at(s) = f.Decimal(name, places) }}
}

func wholeFigure(name, label, unit string, low, high int64, at func(*house.Settings) *int, options ...string) figure {
	return figure{name: name, label: label, kind: "field", options: append(options, "unit="+unit, "mode=numeric", "required"),
		fill: func(s house.Settings) string { return strconv.Itoa(*at(&s)) },
		read: func(f *Form, s *house.Settings) { *at(s) = int(f.Int(name, low, high)) }}
}

func moneyFigure(name, label, unit string, at func(*house.Settings) *int64, options ...string) figure {
	return figure{name: name, label: label, kind: "field", options: append(options, "unit="+unit, "mode=decimal", "required"),
		fill: func(s house.Settings) string { return currency(s).Plain(*at(&s)) },
		read: func(f *Form, s *house.Settings) { *at(s) = f.Money(name, currency(*s)) }}
}

// degreeFigure is half of the workshop's place; empty when it is not known.
func degreeFigure(name, label string, most float64, at func(*house.Settings) **float64) figure {
	return figure{name: name, label: label, kind: "field", options: []string{"mode=text", "unit=degrees", "hint=South and west with a minus. Needed for drying by the weather, runs and the sun."},
		fill: func(s house.Settings) string {
			if p := *at(&s); p != nil {
				return strconv.FormatFloat(*p, 'f', -1, 64)
			}
			return ""
		},
		read: func(f *Form, s *house.Settings) {
			*at(s) = nil
			if f.Text(name) == "" {
				return
			}
			d, ok := show.Decimal(f.Text(name), 8)
			v := d.InexactFloat64()
			if !ok || v < -most || v > most {
				f.Wrong(name, "Write degrees between -"+strconv.FormatFloat(most, 'f', -1, 64)+" and "+strconv.FormatFloat(most, 'f', -1, 64)+", such as -26.39.")
				return
			}
			*at(s) = &v
		}}
}

// followUpFigure is the list of days after a handover.
func followUpFigure() figure {
	const name = "follow_up_days"
	return figure{name: name, label: "Ask after a handover on day", kind: "field", options: []string{"hint=Days after it, with commas: 1, 14, 60, 365", "mode=text"},
		fill: func(s house.Settings) string {
			days := make([]string, len(s.FollowUpDays))
			for i, d := range s.FollowUpDays {
				days[i] = strconv.Itoa(int(d))
			}
			return strings.Join(days, ", ")
		},
		read: func(f *Form, s *house.Settings) {
			s.FollowUpDays = []int32{}
			for _, word := range strings.FieldsFunc(f.Text(name), func(r rune) bool { return r == ',' || r == ' ' }) {
				d, err := strconv.ParseInt(word, 10, 32)
				if err != nil || d < 0 || d > 3650 || len(s.FollowUpDays) == 20 {
					f.Wrong(name, "Write up to 20 whole days with commas, such as 1, 14, 60.")
					return
				}
				s.FollowUpDays = append(s.FollowUpDays, int32(d))
			}
		}}
}

var depositKinds = []Choice{{Value: "part payment", Text: "Part payment of the price"}, {Value: "security", Text: "Security, given back or taken at the end"}}

var settingGroups = []settingGroup{
	{"workshop", "The workshop", "Name, address, phone, place, numbers", []figure{
		textFigure("name", "Name of the workshop", func(s *house.Settings) *string { return &s.Name }, "required"),
		textFigure("maker_name", "Your name", func(s *house.Settings) *string { return &s.MakerName }),
		textFigure("phone", "Phone", func(s *house.Settings) *string { return &s.Phone }, "type=tel", "mode=tel"),
		textFigure("email", "Email", func(s *house.Settings) *string { return &s.Email }, "type=email"),
		textFigure("address", "Street", func(s *house.Settings) *string { return &s.Address }),
		textFigure("town", "Town", func(s *house.Settings) *string { return &s.Town }),
		textFigure("region", "State", func(s *house.Settings) *string { return &s.Region }),
		textFigure("postcode", "Postcode", func(s *house.Settings) *string { return &s.Postcode }),
		textFigure("business_number", "Business number (ABN)", func(s *house.Settings) *string { return &s.BusinessNumber }),
		textFigure("time_zone", "Time zone", func(s *house.Settings) *string { return &s.TimeZone }, "required", "hint=Such as Australia/Brisbane."),
		degreeFigure("latitude", "Latitude", 90, func(s *house.Settings) **float64 { return &s.Latitude }),
		degreeFigure("longitude", "Longitude", 180, func(s *house.Settings) **float64 { return &s.Longitude }),
		textFigure("public_url", "Address at which buyers reach this kerfbook", func(s *house.Settings) *string { return &s.PublicURL }, "hint=Empty: papers carry no QR code.", "type=url"),
	}},
	{"costs", "Cost and price", "What an hour costs, overhead, margin, deposit", []figure{
		moneyFigure("hour_cost_minor", "What an hour of yours costs", "an hour", func(s *house.Settings) *int64 { return &s.HourCostMinor }),
		numberFigure("overhead_pct", "Overhead on every cost", "%", 2, func(s *house.Settings) *decimal.Decimal { return &s.OverheadPct }),
		numberFigure("margin_pct", "Margin wanted where there is no list price", "% of the price", 2, func(s *house.Settings) *decimal.Decimal { return &s.MarginPct }),
		moneyFigure("delivery_km_cost_minor", "What a kilometre costs", "a km", func(s *house.Settings) *int64 { return &s.DeliveryKMCostMinor }),
		moneyFigure("round_to_minor", "Prices with tax are rounded to", "", func(s *house.Settings) *int64 { return &s.RoundToMinor }),
		numberFigure("deposit_pct", "Deposit", "% of the price with tax", 2, func(s *house.Settings) *decimal.Decimal { return &s.DepositPct }),
		{name: "deposit_is", label: "The deposit is", kind: "choice", choices: depositKinds, options: []string{"hint=It decides when tax falls due: ask your bookkeeper."},
			fill: func(s house.Settings) string { return s.DepositIs }, read: func(f *Form, s *house.Settings) { s.DepositIs = f.Text("deposit_is") }},
		wholeFigure("quote_valid_days", "A quote holds for", "days", 1, 365, func(s *house.Settings) *int { return &s.QuoteValidDays }),
		followUpFigure(),
	}},
	{"saw", "Saw and rack", "Kerfs, trim, offcuts, the largest log", []figure{
		numberFigure("saw_kerf_mm", "Kerf of the bench saw", "mm", 1, func(s *house.Settings) *decimal.Decimal { return &s.SawKerfMM }),
		numberFigure("mill_kerf_mm", "Kerf of the mill", "mm", 1, func(s *house.Settings) *decimal.Decimal { return &s.MillKerfMM }),
		numberFigure("mill_limit_mm", "Largest log the mill takes", "mm", 1, func(s *house.Settings) *decimal.Decimal { return &s.MillLimitMM }),
		numberFigure("trim_mm", "Docked off each end of a board", "mm", 1, func(s *house.Settings) *decimal.Decimal { return &s.TrimMM }),
		wholeFigure("keep_offcut_mm", "Offcuts go back on the rack from", "mm", 0, 10000, func(s *house.Settings) *int { return &s.KeepOffcutMM }),
		wholeFigure("length_step_mm", "Board lengths are rounded down to", "mm", 1, 1000, func(s *house.Settings) *int { return &s.LengthStepMM }),
	}},
	{"sawing", "Sawing logs", "How much larger boards are sawn than dressed, what the mill costs", []figure{
		numberFigure("planing_mm", "The planer takes off both faces together", "mm", 1, func(s *house.Settings) *decimal.Decimal { return &s.PlaningMM }),
		numberFigure("straighten_width_mm", "Straightening takes off the width", "mm", 1, func(s *house.Settings) *decimal.Decimal { return &s.StraightenWidthMM }),
		numberFigure("straighten_thickness_mm", "Flattening takes off the thickness", "mm", 1, func(s *house.Settings) *decimal.Decimal { return &s.StraightenThicknessMM }),
		numberFigure("saw_variation_mm", "A board may come off the mill too small by", "mm", 1, func(s *house.Settings) *decimal.Decimal { return &s.SawVariationMM }),
		numberFigure("box_mc_pct", "Moisture the boxes will live at", "%", 1, func(s *house.Settings) *decimal.Decimal { return &s.BoxMCPct }),
		{name: "sawn_grain", label: "Boards are sawn for a shrinkage that is", kind: "choice", choices: grainChoices, options: []string{"hint=Tangential is the larger; it is safe whichever way a board lies."},
			fill: func(s house.Settings) string { return s.SawnGrain }, read: func(f *Form, s *house.Settings) { s.SawnGrain = f.Text("sawn_grain") }},
		wholeFigure("short_board_mm", "Shortest board that is of use", "mm", 100, 20000, func(s *house.Settings) *int { return &s.ShortBoardMM }),
		moneyFigure("mill_hour_cost_minor", "An hour at the mill: hands, fuel, blades", "an hour", func(s *house.Settings) *int64 { return &s.MillHourCostMinor }),
		wholeFigure("mill_min_m3", "Minutes at the mill for a cubic metre of log", "minutes", 0, 10000, func(s *house.Settings) *int { return &s.MillMinM3 }, "hint=Used until three of your logs tell."),
		moneyFigure("drying_m3_month_minor", "A cubic metre of drying stack", "a month", func(s *house.Settings) *int64 { return &s.DryingM3MonthMinor }),
	}},
	{"labels", "Label sheets", "Rows, columns, margins and gaps of the sheet in the printer", labelFigures()},
	{"wording", "Wording of quotes", "Guarantee, ways to pay, what is not included", []figure{
		proseFigure("guarantee", "Guarantee, in two lines", func(s *house.Settings) *string { return &s.Guarantee }),
		proseFigure("ways_to_pay", "Ways to pay", func(s *house.Settings) *string { return &s.WaysToPay }),
		proseFigure("not_included", "What is not included", func(s *house.Settings) *string { return &s.NotIncluded }),
		proseFigure("could_delay", "What could delay it", func(s *house.Settings) *string { return &s.CouldDelay }),
		proseFigure("terms", "Terms", func(s *house.Settings) *string { return &s.Terms }),
	}},
}

// grainChoices are the ways a board may lie in the log, as the calculation names them.
var grainChoices = []Choice{{Value: "mixed", Text: "Mixed: between the two"}, {Value: "tangential", Text: "Tangential: along the rings"}, {Value: "radial", Text: "Radial: across the rings"}}

type figuresView struct {
	Form   *Form
	Action string
	Fields []kindField
	Guess  bool // some are guesses
}

// kindField is a field with the partial that shows it.
type kindField struct {
	Kind  string
	Field Field
}

var figuresPage = definePage[figuresView]("figures")

func (s *Server) showGroup(g settingGroup) echo.HandlerFunc {
	return func(c echo.Context) error {
		set, err := s.settings(c)
		if err != nil {
			return err
		}
		guessed, err := s.House.GuessList(c.Request().Context())
		if err != nil {
			return err
		}
		f := formOf(c)
		f.FillVersion(set.Version)
		v := figuresView{Form: f, Action: "/settings/" + g.path}
		for _, d := range g.figures {
			f.Fill(d.name, d.fill(set))
			options := d.options
			if guessed["workshop."+d.name] {
				options = append(options[:len(options):len(options)], "guess")
				v.Guess = true
			}
			v.Fields = append(v.Fields, kindField{d.kind, f.Choose(d.name, d.label, d.choices, options...)})
		}
		return figuresPage.show(s, c, g.title, v)
	}
}

func (s *Server) postGroup(g settingGroup) echo.HandlerFunc {
	again := func(err error) error { return again(err, s.showGroup(g)) }
	return func(c echo.Context) error {
		f, ctx := formOf(c), c.Request().Context()
		set, err := s.House.SettingsGet(ctx)
		if err != nil {
			return err
		}
		for _, d := range g.figures {
			d.read(f, &set)
		}
		if err := f.Err(); err != nil {
			return again(err)
		}
		set.Version = f.Version
		var own []string
		for _, d := range g.figures {
			if f.Ticked("own") {
				own = append(own, d.name)
			}
		}
		if _, err := s.House.SettingsChange(ctx, set, own...); err != nil {
			return again(err)
		}
		return goTo(c, "/settings/"+g.path, "Kept.")
	}
}

type taxView struct {
	Form   *Form
	YesNo  []Choice
	States []taxRow
}

type taxRow struct{ From, State, Name string }

var taxPage = definePage[taxView]("tax")

func (s *Server) handleTax(c echo.Context) error {
	list, err := s.House.TaxList(c.Request().Context())
	if err != nil {
		return err
	}
	today, err := s.today(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("from_on", show.ISODate(today))
	f.Fill("tax_name", "GST")
	v := taxView{Form: f, YesNo: registeredChoices}
	for _, t := range list {
		v.States = append(v.States, taxRow{show.Date(t.FromOn), map[bool]string{true: "registered", false: "not registered"}[t.Registered], t.Name})
	}
	return taxPage.show(s, c, "Tax", v)
}

func (s *Server) handleTaxPost(c echo.Context) error {
	f := formOf(c)
	day := f.Date("from_on")
	if day == nil {
		f.Wrong("from_on", "Say from which day.")
	}
	if f.Text("registered") == "" {
		f.Wrong("registered", "Say whether you are registered.")
	}
	if f.Text("tax_name") == "" {
		f.Wrong("tax_name", "Name the tax, such as GST.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleTax)
	}
	if err := s.House.TaxRegister(c.Request().Context(), *day, f.Text("registered") == "yes", f.Text("tax_name")); err != nil {
		return again(err, s.handleTax)
	}
	return goTo(c, "/settings/tax", "Kept.")
}
