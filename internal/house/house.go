// Package house keeps what every room needs to know of the workshop itself: its
// settings, its tax registration, numbers without gaps, issued papers, photos,
// and who changed what.
//
// It decides nothing about sales, timber or bees. Start reading at Settings.
package house

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// Room is the ground on which the record rooms stand.
type Room struct{ db *postgres.DB }

// New makes the room.
func New(db *postgres.DB) *Room { return &Room{db: db} }

// Settings are the workshop's own particulars and the figures that answers use.
// Units stand in the names; _minor are minor units of Currency.
type Settings struct {
	Version             int             `db:"version"`
	Name                string          `db:"name"`
	MakerName           string          `db:"maker_name"`
	Phone               string          `db:"phone"`
	Email               string          `db:"email"`
	Address             string          `db:"address"`
	Town                string          `db:"town"`
	Region              string          `db:"region"`
	Postcode            string          `db:"postcode"`
	Country             string          `db:"country"` // ISO 3166-1 alpha-2
	Latitude            *float64        `db:"latitude"`
	Longitude           *float64        `db:"longitude"`
	TimeZone            string          `db:"time_zone"` // IANA name
	Currency            string          `db:"currency"`  // ISO 4217
	MinorDigits         int             `db:"minor_digits"`
	BusinessNumber      string          `db:"business_number"`
	PublicURL           string          `db:"public_url"`
	QuoteValidDays      int             `db:"quote_valid_days"`
	DepositPct          decimal.Decimal `db:"deposit_pct"`
	DepositIs           string          `db:"deposit_is"`
	OverheadPct         decimal.Decimal `db:"overhead_pct"`
	MarginPct           decimal.Decimal `db:"margin_pct"`
	HourCostMinor       int64           `db:"hour_cost_minor"`
	DeliveryKMCostMinor int64           `db:"delivery_km_cost_minor"`
	RoundToMinor        int64           `db:"round_to_minor"`
	LengthStepMM        int             `db:"length_step_mm"`
	SawKerfMM           decimal.Decimal `db:"saw_kerf_mm"`
	MillKerfMM          decimal.Decimal `db:"mill_kerf_mm"`
	MillLimitMM         decimal.Decimal `db:"mill_limit_mm"`
	TrimMM              decimal.Decimal `db:"trim_mm"`
	KeepOffcutMM        int             `db:"keep_offcut_mm"`
	Sawing
	DryingM3MonthMinor int64      `db:"drying_m3_month_minor"` // a cubic metre of stack for a month
	Guarantee          string     `db:"guarantee"`
	WaysToPay          string     `db:"ways_to_pay"`
	NotIncluded        string     `db:"not_included"`
	CouldDelay         string     `db:"could_delay"`
	Terms              string     `db:"terms"`
	LabelSheet         []byte     `db:"label_sheet"` // JSON
	FollowUpDays       []int32    `db:"follow_up_days"`
	SetUpAt            *time.Time `db:"set_up_at"`
}

// Sawing is how boards are sawn larger than they are dressed, and what the mill costs.
type Sawing struct {
	PlaningMM             decimal.Decimal `db:"planing_mm"`              // both faces together
	StraightenWidthMM     decimal.Decimal `db:"straighten_width_mm"`     // off the dry board
	StraightenThicknessMM decimal.Decimal `db:"straighten_thickness_mm"` // off the dry board
	SawVariationMM        decimal.Decimal `db:"saw_variation_mm"`        // how far below its mark a board may come off the mill
	BoxMCPct              decimal.Decimal `db:"box_mc_pct"`              // moisture the boxes will live at
	SawnGrain             string          `db:"sawn_grain"`              // radial, tangential or mixed
	ShortBoardMM          int             `db:"short_board_mm"`          // shortest of use
	MillHourCostMinor     int64           `db:"mill_hour_cost_minor"`    // hands, fuel and blades
	MillMinM3             int             `db:"mill_min_m3"`             // minutes for a cubic metre of log, until the logs tell
}

// sawingColumns are the columns of [Sawing] in its order.
const sawingColumns = `planing_mm, straighten_width_mm, straighten_thickness_mm, saw_variation_mm, box_mc_pct, sawn_grain, short_board_mm, mill_hour_cost_minor, mill_min_m3`

// Location is the workshop's time zone; UTC when the name is not known here.
func (s Settings) Location() *time.Location {
	loc, err := time.LoadLocation(s.TimeZone)
	if err != nil {
		return time.UTC
	}
	return loc
}

// Today is the business date at instant now: midnight UTC of the workshop's day.
func (s Settings) Today(now time.Time) time.Time { return DateIn(now, s.Location()) }

// DateIn is the calendar day of instant at in loc, as midnight UTC.
func DateIn(at time.Time, loc *time.Location) time.Time {
	y, m, d := at.In(loc).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

const settingsColumns = `version, name, maker_name, phone, email, address, town, region, postcode, country, latitude, longitude, time_zone, currency,
	minor_digits, business_number, public_url, quote_valid_days, deposit_pct, deposit_is, overhead_pct, margin_pct, hour_cost_minor,
	delivery_km_cost_minor, round_to_minor, length_step_mm, saw_kerf_mm, mill_kerf_mm, mill_limit_mm, trim_mm, keep_offcut_mm,
	guarantee, ways_to_pay, not_included, could_delay, terms, label_sheet, follow_up_days, set_up_at, drying_m3_month_minor, ` + sawingColumns

// SettingsGet reads the settings; NotFound on an empty book.
func (r *Room) SettingsGet(ctx context.Context) (Settings, error) { return SettingsIn(ctx, r.db) }

// SettingsIn is SettingsGet by a querier of the caller, such as its transaction.
func SettingsIn(ctx context.Context, q postgres.Querier) (Settings, error) {
	s, err := postgres.One[Settings](ctx, q, `SELECT `+settingsColumns+` FROM workshop WHERE id = 1`)
	return s, postgres.Translate(err)
}

// SettingsPut stores s, or makes the workshop when there is none yet. Errors:
// Stale when s.Version is not the stored one; Invalid for what the book refuses.
func (r *Room) SettingsPut(ctx context.Context, s Settings) (Settings, error) {
	if _, err := time.LoadLocation(s.TimeZone); err != nil || s.TimeZone == "" {
		return s, fault.Bad("/time_zone", "This time zone is not known. Write it like Australia/Brisbane.")
	}
	var out Settings
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		rows, err := tx.Query(ctx, `INSERT INTO workshop AS w (id, name, maker_name, phone, email, address, town, region, postcode, country, latitude, longitude,
	time_zone, currency, minor_digits, business_number, public_url, quote_valid_days, deposit_pct, deposit_is, overhead_pct, margin_pct, hour_cost_minor,
	delivery_km_cost_minor, round_to_minor, length_step_mm, saw_kerf_mm, mill_kerf_mm, mill_limit_mm, trim_mm, keep_offcut_mm, guarantee, ways_to_pay,
	not_included, could_delay, terms, label_sheet, follow_up_days, set_up_at, `+sawingColumns+`, drying_m3_month_minor)
VALUES (1, $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23, $24, $25, $26, $27, $28, $29, $30, $31,
	$32, $33, $34, $35, coalesce($36::jsonb, '{}'), $37, $38, $40, $41, $42, $43, $44, $45, $46, $47, $48, $49)
ON CONFLICT (id) DO UPDATE SET name = excluded.name, maker_name = excluded.maker_name, phone = excluded.phone, email = excluded.email, address = excluded.address,
	town = excluded.town, region = excluded.region, postcode = excluded.postcode, country = excluded.country, latitude = excluded.latitude,
	longitude = excluded.longitude, time_zone = excluded.time_zone, currency = excluded.currency, minor_digits = excluded.minor_digits,
	business_number = excluded.business_number, public_url = excluded.public_url, quote_valid_days = excluded.quote_valid_days,
	deposit_pct = excluded.deposit_pct, deposit_is = excluded.deposit_is, overhead_pct = excluded.overhead_pct, margin_pct = excluded.margin_pct,
	hour_cost_minor = excluded.hour_cost_minor, delivery_km_cost_minor = excluded.delivery_km_cost_minor, round_to_minor = excluded.round_to_minor,
	length_step_mm = excluded.length_step_mm, saw_kerf_mm = excluded.saw_kerf_mm, mill_kerf_mm = excluded.mill_kerf_mm,
	mill_limit_mm = excluded.mill_limit_mm, trim_mm = excluded.trim_mm, keep_offcut_mm = excluded.keep_offcut_mm, guarantee = excluded.guarantee,
	ways_to_pay = excluded.ways_to_pay, not_included = excluded.not_included, could_delay = excluded.could_delay, terms = excluded.terms,
	label_sheet = excluded.label_sheet, follow_up_days = excluded.follow_up_days, set_up_at = coalesce(w.set_up_at, excluded.set_up_at),
	planing_mm = excluded.planing_mm, straighten_width_mm = excluded.straighten_width_mm, straighten_thickness_mm = excluded.straighten_thickness_mm,
	saw_variation_mm = excluded.saw_variation_mm, box_mc_pct = excluded.box_mc_pct, sawn_grain = excluded.sawn_grain, short_board_mm = excluded.short_board_mm,
	mill_hour_cost_minor = excluded.mill_hour_cost_minor, mill_min_m3 = excluded.mill_min_m3,
	drying_m3_month_minor = excluded.drying_m3_month_minor
WHERE w.version = $39
RETURNING `+settingsColumns,
			s.Name, s.MakerName, s.Phone, s.Email, s.Address, s.Town, s.Region, s.Postcode, s.Country, s.Latitude, s.Longitude, s.TimeZone, s.Currency,
			s.MinorDigits, s.BusinessNumber, s.PublicURL, s.QuoteValidDays, s.DepositPct, s.DepositIs, s.OverheadPct, s.MarginPct, s.HourCostMinor,
			s.DeliveryKMCostMinor, s.RoundToMinor, s.LengthStepMM, s.SawKerfMM, s.MillKerfMM, s.MillLimitMM, s.TrimMM, s.KeepOffcutMM, s.Guarantee,
			s.WaysToPay, s.NotIncluded, s.CouldDelay, s.Terms, jsonOrNil(s.LabelSheet), s.FollowUpDays, s.SetUpAt, s.Version,
			s.PlaningMM, s.StraightenWidthMM, s.StraightenThicknessMM, s.SawVariationMM, s.BoxMCPct, s.SawnGrain, s.ShortBoardMM, s.MillHourCostMinor, s.MillMinM3, s.DryingM3MonthMinor)
		if err != nil {
			return err
		}
		got, err := pgx.CollectRows(rows, pgx.RowToStructByName[Settings])
		if err != nil {
			return err
		}
		if len(got) == 0 {
			return fault.New(fault.Stale, "Somebody changed the settings in the meantime. Look at them again, then store your change.")
		}
		out = got[0]
		return nil
	})
	return out, err
}

func jsonOrNil(b []byte) any {
	if len(b) == 0 {
		return nil
	}
	return string(b)
}

// Standard gives settings to start from; every figure is our estimate and is
// marked as a guess until the maker has looked at it.
func Standard() Settings {
	d := decimal.NewFromInt
	return Settings{Country: "AU", TimeZone: "Australia/Brisbane", Currency: "AUD", MinorDigits: 2, QuoteValidDays: 30,
		DepositPct: d(30), DepositIs: "part payment", OverheadPct: d(15), MarginPct: d(30), HourCostMinor: 4000, DeliveryKMCostMinor: 90,
		RoundToMinor: 100, LengthStepMM: 50, SawKerfMM: decimal.RequireFromString("3.2"), MillKerfMM: d(3), MillLimitMM: d(600), TrimMM: d(15),
		KeepOffcutMM: 250, Sawing: standardSawing(), DryingM3MonthMinor: dryingSpaceMinor, FollowUpDays: []int32{1, 14, 60, 365},
		Guarantee:   "The joints hold and the sections fit for five years, or I mend or replace the box.\nA colony that fails in its first eight weeks, kept as the sheet says, is replaced once.",
		WaysToPay:   "Cash at handover, or bank transfer to the account named on the invoice.",
		NotIncluded: "Fixing to the wall, scaffolding, and permits that your council may ask for.",
		CouldDelay:  "Timber that dries more slowly than the weather tables say; a cold spring, which holds back the bees.",
		Terms:       "The deposit books your place. The balance is due at handover. Rights under consumer law come first.",
	}
}

// dryingSpaceMinor is a cubic metre of stack for a month until the maker knows better: a
// shed at 60.00 a square metre and year, stacked a good metre and a half high (our estimate).
const dryingSpaceMinor = 300

// standardSawing gives figures with which boards sawn 110 x 32 mm green dress to 100 x 28
// mm (common practice, no source); minutes and cost of the mill are our estimates.
func standardSawing() Sawing {
	d := decimal.NewFromInt
	return Sawing{PlaningMM: d(2), StraightenWidthMM: d(3), SawVariationMM: d(1), BoxMCPct: d(12), SawnGrain: "mixed", ShortBoardMM: 900, MillHourCostMinor: 4000, MillMinM3: 300}
}

// TaxState is what holds on one day: registered or not, and the rates by code.
type TaxState struct {
	Registered bool
	Name       string                     // such as GST
	RatePct    map[string]decimal.Decimal // by tax code; empty of meaning when not registered
}

// Pct is the rate of code, 0 when the workshop is not registered. Errors: Invalid
// for a code that does not exist on that day.
func (t TaxState) Pct(code string) (decimal.Decimal, error) {
	rate, ok := t.RatePct[code]
	if !ok {
		return decimal.Zero, fault.Bad("/tax_code", "There is no tax code %q.", code)
	}
	if !t.Registered {
		return decimal.Zero, nil
	}
	return rate, nil
}

// TaxIn is the tax state on day. Not registered when nothing is recorded.
func TaxIn(ctx context.Context, q postgres.Querier, day time.Time) (TaxState, error) {
	t := TaxState{Name: "GST", RatePct: map[string]decimal.Decimal{}}
	rows, err := q.Query(ctx, `SELECT coalesce(g.registered, false), coalesce(g.tax_name, $2), r.code, r.rate_pct FROM (SELECT 1) one
	LEFT JOIN (SELECT registered, tax_name FROM tax_registration WHERE from_on <= $1 ORDER BY from_on DESC LIMIT 1) g ON true
	LEFT JOIN (SELECT DISTINCT ON (code) code, rate_pct FROM tax_rate WHERE from_on <= $1 ORDER BY code, from_on DESC) r ON true`, day, t.Name)
	if err != nil {
		return t, postgres.Translate(err)
	}
	var code *string // no rate is known
	var pct decimal.NullDecimal
	_, err = pgx.ForEachRow(rows, []any{&t.Registered, &t.Name, &code, &pct}, func() error {
		if code != nil {
			t.RatePct[*code] = pct.Decimal
		}
		return nil
	})
	return t, postgres.Translate(err)
}

// TaxRegister records that from day on the workshop is, or is not, registered.
func (r *Room) TaxRegister(ctx context.Context, day time.Time, registered bool, taxName string) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `INSERT INTO tax_registration (from_on, registered, tax_name) VALUES ($1, $2, $3)
ON CONFLICT (from_on) DO UPDATE SET registered = excluded.registered, tax_name = excluded.tax_name`, day, registered, taxName)
		return err
	})
}

// GuessMark notes that subject (such as workshop.hour_cost_minor) is still a guess.
func (r *Room) GuessMark(ctx context.Context, subjects ...string) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `INSERT INTO guess (subject) SELECT unnest($1::text[]) ON CONFLICT (subject) DO NOTHING`, subjects)
		return err
	})
}

// GuessClear takes marks away once a figure is known.
func (r *Room) GuessClear(ctx context.Context, subjects ...string) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `DELETE FROM guess WHERE subject = ANY($1)`, subjects)
		return err
	})
}

// GuessList gives the subjects that are still guesses.
func (r *Room) GuessList(ctx context.Context) (map[string]bool, error) {
	rows, err := r.db.Query(ctx, `SELECT subject FROM guess ORDER BY subject`)
	if err != nil {
		return nil, postgres.Translate(err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[string])
	out := map[string]bool{}
	for _, s := range list {
		out[s] = true
	}
	return out, postgres.Translate(err)
}

// TaxRegistration is one dated change of whether the workshop is registered for tax.
type TaxRegistration struct {
	FromOn     time.Time `db:"from_on"`
	Registered bool      `db:"registered"`
	Name       string    `db:"tax_name"`
}

// TaxList gives every registration, newest first.
func (r *Room) TaxList(ctx context.Context) ([]TaxRegistration, error) {
	list, err := postgres.List[TaxRegistration](ctx, r.db, `SELECT from_on, registered, tax_name FROM tax_registration ORDER BY from_on DESC`)
	return list, postgres.Translate(err)
}
