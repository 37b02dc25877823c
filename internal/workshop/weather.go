package workshop

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/planning"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// usualRainDays holds in every month until the maker has typed the figures of the place;
// our guess, marked as one.
const usualRainDays = 9.0

// leastDry is the least chance of a dry day, so that nothing waits for ever: one in a month.
const leastDry = 1.0 / 31

// Weather is how wet the months are where the workshop stands, and days whose weather the
// maker knows.
type Weather struct {
	RainDays [12]float64 // mean days with rain of each month, January first
	Guess    bool        // nobody has typed them yet
	Marked   []WeatherDay
}

// WeatherDay is a day whose weather the maker knows.
type WeatherDay struct {
	On  time.Time `db:"on_day"`
	Dry bool      `db:"dry"`
}

// markAhead is how far ahead the weather of a day can be known; our choice.
const markAhead = 14

// DryChance is the chance that a day of a month (1 to 12) is dry.
func (w Weather) DryChance(month int) float64 {
	return max(leastDry, 1-w.RainDays[month-1]/daysIn(month))
}

// daysIn is the mean length of a month in days; Source: 97 leap years in 400.
func daysIn(month int) float64 {
	if month == 2 {
		return 28.2425
	}
	return float64(time.Date(2001, time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day())
}

// on gives the mark of a day.
func (w Weather) on(day time.Time) (dry, known bool) {
	k := slices.IndexFunc(w.Marked, func(d WeatherDay) bool { return d.On.Equal(day) })
	return k >= 0 && w.Marked[k].Dry, k >= 0
}

// sky gives the days of a plan from origin's on.
func (w Weather) sky(origin time.Time, loc *time.Location, days int) planning.Sky {
	first := dateOf(origin.In(loc))
	sky := planning.Sky{Days: make([]planning.SkyDay, days)}
	for n := range sky.Days {
		day := first.AddDate(0, 0, n)
		d := planning.SkyDay{ToMinute: minuteAt(origin, day, 1, loc), Dry: w.DryChance(int(day.Month()))}
		if dry, known := w.on(day); known {
			d.Known, d.Dry = true, map[bool]float64{true: 1}[dry]
		}
		sky.Days[n] = d
	}
	return sky
}

// weatherIn reads the weather; marks of days before from are left out.
func weatherIn(ctx context.Context, q postgres.Querier, from time.Time) (Weather, error) {
	rows, err := postgres.List[struct {
		Month    int     `db:"month"`
		RainDays float64 `db:"rain_days"`
	}](ctx, q, `SELECT month, rain_days::float8 AS rain_days FROM rain_month ORDER BY month`)
	if err != nil {
		return Weather{}, err
	}
	w := Weather{Guess: len(rows) == 0}
	for m := range w.RainDays {
		w.RainDays[m] = usualRainDays
	}
	for _, r := range rows {
		w.RainDays[r.Month-1] = r.RainDays
	}
	w.Marked, err = postgres.List[WeatherDay](ctx, q, `SELECT on_day, dry FROM weather_day WHERE on_day >= $1 ORDER BY on_day LIMIT 60`, from)
	return w, err
}

// WeatherGet tells how wet the months are, and the days from today on whose weather is known.
func (r *Room) WeatherGet(ctx context.Context) (Weather, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return Weather{}, err
	}
	return weatherIn(ctx, r.db, set.Today(r.db.Now()))
}

// RainDaysSet puts down the mean days with rain of each month, January first. Invalid when
// one of them is no such figure; a month has dry days everywhere.
func (r *Room) RainDaysSet(ctx context.Context, rainDays [12]float64) error {
	var l fault.List
	for m, d := range rainDays {
		l.Check(d >= 0 && d <= daysIn(m+1)-1, fmt.Sprintf("/rain_days/%d", m), "%s has between 0 and %d days with rain.", time.Month(m+1), int(daysIn(m+1))-1)
	}
	if err := l.Err(); err != nil {
		return err
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		for m, d := range rainDays {
			if _, err := tx.Exec(ctx, `INSERT INTO rain_month (month, rain_days) VALUES ($1, $2::float8::numeric(3,1)) ON CONFLICT (month) DO UPDATE SET rain_days = excluded.rain_days WHERE rain_month.rain_days <> excluded.rain_days`, m+1, d); err != nil {
				return postgres.Translate(err)
			}
		}
		return nil
	})
}

// WeatherMark notes that a day is dry or wet, or with nil that nobody knows. Invalid for a
// day that is past or too far ahead to be known.
func (r *Room) WeatherMark(ctx context.Context, day time.Time, dry *bool) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		var l fault.List
		today := set.Today(r.db.Now())
		l.Check(!day.Before(today), "/on", "This day is past. Choose today or a day to come.")
		l.Check(day.Before(today.AddDate(0, 0, markAhead)), "/on", "Nobody knows the weather more than %d days ahead. Choose a sooner day.", markAhead)
		if err := l.Err(); err != nil {
			return err
		}
		sql, args := `DELETE FROM weather_day WHERE on_day = $1`, []any{day}
		if dry != nil {
			sql, args = `INSERT INTO weather_day (on_day, dry) VALUES ($1, $2) ON CONFLICT (on_day) DO UPDATE SET dry = excluded.dry`, append(args, *dry)
		}
		_, err = tx.Exec(ctx, sql, args...)
		return postgres.Translate(err)
	})
}

// DryOperation is an operation of a model, or of an option on it.
type DryOperation struct {
	Name string `db:"name"`
	Dry  bool   `db:"dry"` // needs dry weather
}

// DryOperations gives the operations of a model's latest revision, of options on it and
// those marked before, in that order, and which of them need dry weather. NotFound.
func (r *Room) DryOperations(ctx context.Context, modelID int64) ([]DryOperation, error) {
	return dryOperations(ctx, r.db, modelID)
}

func dryOperations(ctx context.Context, q postgres.Querier, modelID int64) ([]DryOperation, error) {
	if _, err := postgres.Value[int64](ctx, q, `SELECT id FROM box_model WHERE id = $1`, modelID); err != nil {
		return nil, err
	}
	return postgres.List[DryOperation](ctx, q, `SELECT x.name, EXISTS (SELECT FROM dry_operation d WHERE d.model_id = $1 AND d.name = x.name) AS dry FROM (
	SELECT o.v ->> 'id' AS name, 1 AS kind, o.n FROM (SELECT body FROM model_revision WHERE model_id = $1 ORDER BY revision DESC LIMIT 1) r, jsonb_array_elements(CASE jsonb_typeof(r.body -> 'operations') WHEN 'array' THEN r.body -> 'operations' ELSE '[]' END) WITH ORDINALITY o(v, n)
	UNION ALL SELECT o.v ->> 'id', 2, b.id FROM box_option b, jsonb_array_elements(b.operations) o(v) WHERE b.put_away_at IS NULL AND (b.model_id IS NULL OR b.model_id = $1)
	UNION ALL SELECT name, 3, id FROM dry_operation WHERE model_id = $1) x GROUP BY x.name ORDER BY min(x.kind), min(x.n), x.name LIMIT 200`, modelID)
}

// DryOperationsSet says which operations of a model need dry weather, all others do not.
// It holds for open builds too. Errors: NotFound; Invalid for an operation that the model
// and its options do not have.
func (r *Room) DryOperationsSet(ctx context.Context, modelID int64, names []string) ([]DryOperation, error) {
	var out []DryOperation
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		list, err := dryOperations(ctx, tx, modelID)
		if err != nil {
			return err
		}
		var l fault.List
		for i, name := range names {
			l.Check(slices.ContainsFunc(list, func(o DryOperation) bool { return o.Name == name }), "/operations/"+strconv.Itoa(i), "The model has no operation %q.", name)
		}
		if err := l.Err(); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `DELETE FROM dry_operation WHERE model_id = $1 AND NOT name = ANY ($2)`, modelID, append([]string{}, names...)); err != nil {
			return postgres.Translate(err)
		}
		if _, err := tx.Exec(ctx, `INSERT INTO dry_operation (model_id, name) SELECT DISTINCT $1::bigint, n FROM unnest($2::text[]) n ON CONFLICT DO NOTHING`, modelID, append([]string{}, names...)); err != nil {
			return postgres.Translate(err)
		}
		out, err = dryOperations(ctx, tx, modelID)
		return err
	})
	return out, err
}

// DryNames gives the operations of a model that need dry weather.
func DryNames(ctx context.Context, q postgres.Querier, modelID int64) ([]string, error) {
	return postgres.Column[string](ctx, q, `SELECT name FROM dry_operation WHERE model_id = $1 ORDER BY name`, modelID)
}

// Words says how often a day of each month is dry, in one line.
func (w Weather) Words() string {
	var list []string
	for m := range w.RainDays {
		list = append(list, fmt.Sprintf("%s %.0f", time.Month(m + 1).String()[:3], 100*w.DryChance(m+1)))
	}
	return strings.Join(list, ", ")
}

func init() {
	postgres.Explain("dry_operation_model_id_fkey", fault.Invalid, "/model_id", "There is no such model.")
	postgres.Explain("dry_operation_name", fault.Invalid, "/operations", "A name of at most 200 letters.")
	postgres.Explain("rain_month_days", fault.Invalid, "/rain_days", "Between 0 and 30 days with rain.")
	postgres.Explain("rain_month_month", fault.Invalid, "/rain_days", "There are twelve months.")
}
