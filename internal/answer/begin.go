package answer

import (
	"context"
	"strings"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// beginClimate is the weather of an open shed near the subtropical east coast of
// Australia, January first. Our estimate, no source: put in the means of your own place.
var beginClimate = [12][2]int64{{25, 68}, {25, 70}, {23, 69}, {21, 68}, {18, 68}, {15, 67}, {14, 64}, {15, 61}, {18, 60}, {20, 63}, {22, 65}, {24, 66}}

// beginOptions are the choices a buyer usually has. Minutes and days are our estimates.
var beginOptions = []workshop.Option{
	{Code: "oiled", Name: "Oiled outside", Kind: "finish", CureDays: 10, Operations: []hive.Operation{{ID: "oil", SetupMinutes: 10, PieceMinutes: 6, WaitMinutes: 1440}}},
	{Code: "painted", Name: "Painted outside", Kind: "finish", CureDays: 21, Operations: []hive.Operation{{ID: "paint two coats", SetupMinutes: 20, PieceMinutes: 14, WaitMinutes: 2880}}},
	{Code: "wall-mount", Name: "Wall mount that is hard to steal from", Kind: "mount", Fittings: []hive.Fitting{{ID: "wall-mount", Count: 1}}, Operations: []hive.Operation{{ID: "fit the mount", PieceMinutes: 10}}},
}

// Begin fills a book that has just been opened with what every workshop of the trade
// needs to give its first answer: kinds of timber and of bees with their sources, the
// usual options, the fittings of the models, and a drying climate. What is there already
// stays as it is. It gives the subjects whose figures are guesses.
func (r *Room) Begin(ctx context.Context) ([]string, error) {
	guesses := []string{"climate.Open shed"}
	err := r.db.WithTx(ctx, func(ctx context.Context, _ pgx.Tx) error {
		if _, err := r.Timber.SpeciesSeed(ctx); err != nil {
			return err
		}
		if err := r.beginBees(ctx); err != nil {
			return err
		}
		if err := r.beginClimate(ctx); err != nil {
			return err
		}
		for _, o := range beginOptions {
			if _, err := r.Workshop.OptionSave(ctx, o); err != nil && !fault.Is(err, fault.Conflict) {
				return err
			}
			guesses = append(guesses, "option."+o.Code)
		}
		return r.beginFittings(ctx)
	})
	return guesses, err
}

func (r *Room) beginBees(ctx context.Context) error {
	have, err := r.Apiary.SpeciesList(ctx)
	if err != nil || len(have) > 0 {
		return err
	}
	for _, s := range apiary.StandardSpecies() {
		if _, err := r.Apiary.SpeciesPut(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

func (r *Room) beginClimate(ctx context.Context) error {
	have, err := r.Timber.ClimateList(ctx)
	if err != nil || len(have) > 0 {
		return err
	}
	c := timber.Climate{Name: "Open shed"}
	for i, m := range beginClimate {
		c.Months[i].TemperatureC, c.Months[i].HumidityPct = float64(m[0]), float64(m[1])
	}
	_, err = r.Timber.ClimateSave(ctx, c)
	return err
}

// beginFittings puts down each fitting that a model or an option names, with nothing on
// hand and no cost yet.
func (r *Room) beginFittings(ctx context.Context) error {
	codes := []string{}
	seen := map[string]bool{}
	note := func(list []hive.Fitting) {
		for _, f := range list {
			if !seen[f.ID] {
				seen[f.ID] = true
				codes = append(codes, f.ID)
			}
		}
	}
	for _, m := range hive.Ready() {
		note(m.Model.Fittings)
	}
	for _, o := range beginOptions {
		note(o.Fittings)
	}
	for _, code := range codes {
		name := strings.ToUpper(code[:1]) + strings.ReplaceAll(code[1:], "-", " ")
		if strings.HasPrefix(code, "screw-") {
			name = "Screw, " + code[len("screw-"):] + " mm"
		}
		if _, err := r.Timber.ItemSave(ctx, timber.Item{Code: code, Name: name, Kind: "fitting", Counted: !strings.HasPrefix(code, "screw-"), Unit: "each"}); err != nil && !fault.Is(err, fault.Conflict) {
			return err
		}
	}
	return nil
}
