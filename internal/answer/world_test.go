package answer_test

import (
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/claims"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/pgtest"
	"kerfbook/internal/sales"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// monday is half past seven on Monday 2 March 2026 in Brisbane, where there is no
// daylight saving.
var monday = time.Date(2026, 3, 1, 21, 30, 0, 0, time.UTC)

func d(s string) decimal.Decimal { return decimal.RequireFromString(s) }

func ptr[T any](v T) *T { return &v }

func day(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return t
}

// world is an invented workshop with one small model, one timber, one kind of bee, one
// buyer, and a clock that tests move.
type world struct {
	*answer.Room
	t       testing.TB
	now     time.Time
	db      *postgres.DB
	species timber.Species
	screws  timber.Item
	model   workshop.Model
	rev     workshop.Revision
	oiled   workshop.Option // 7 days to cure
	bees    apiary.Species
	buyer   sales.Party
	site    sales.Site
}

// body is a box of two sections, each of four parts: brood 300 mm long, honey 200 mm, so
// that one box takes 2 m of 100 x 28.
func body() hive.Model {
	size := hive.BoardSize{WidthMM: 100, ThicknessMM: 28}
	return hive.Model{HeldFrom: "outside", LengthMM: 300, WidthMM: 200, WallMM: 28,
		Sections: []hive.Section{{ID: "brood", Kind: "brood", HeightMM: 100, Count: 1}, {ID: "honey", Kind: "honey", HeightMM: 100, Count: 1}},
		Parts: []hive.Part{
			{ID: "brood-side", Name: "brood side", Section: "brood", Count: 4, BoardSize: size, Length: hive.Length{Length: 1}},
			{ID: "honey-side", Name: "honey side", Section: "honey", Count: 4, BoardSize: size, Length: hive.Length{Width: 1}},
		},
		Fittings:   []hive.Fitting{{ID: "screw-50", Count: 16}},
		Operations: []hive.Operation{{ID: "cut", SetupMinutes: 20, PieceMinutes: 10}, {ID: "glue", PieceMinutes: 30, WaitMinutes: 720}, {ID: "fit out", PieceMinutes: 20}}}
}

// newWorld makes the workshop, registered for tax: overhead 10 %, margin 40 %, 60.00 an
// hour, no kerf and no trim so that lengths add up in the head.
func newWorld(t testing.TB, change ...func(*house.Settings)) *world {
	t.Helper()
	w := &world{t: t, now: monday}
	w.db = pgtest.DB(t, postgres.WithClock(func() time.Time { return w.now }))
	w.Room = answer.New(w.db, answer.Rooms{})
	ctx := t.Context()
	set := house.Standard()
	set.BusinessNumber, set.Name, set.MakerName, set.Phone, set.Town, set.Region = "51 824 753 556", "Creek Workshop", "Mara Lind", "07 5550 0199", "Gully Flat", "QLD"
	set.TrimMM, set.SawKerfMM, set.OverheadPct, set.MarginPct, set.HourCostMinor = d("0"), d("0"), d("10"), d("40"), 6000
	set.Latitude, set.Longitude = ptr(-26.70), ptr(152.90)
	for _, c := range change {
		c(&set)
	}
	_, err := w.House.SettingsPut(ctx, set)
	require.NoError(t, err)
	require.NoError(t, w.House.TaxRegister(ctx, day("2020-01-01"), true, "GST"))
	require.NoError(t, w.Workshop.WeekSet(ctx, workshop.Week{FromOn: day("2026-01-01"), Hours: weekdays(8*60, 14*60)}))
	w.species, err = w.Timber.SpeciesSave(ctx, timber.Species{Code: "hoop-pine", Name: "Hoop pine", MetreCostMinor: 300})
	require.NoError(t, err)
	w.screws, err = w.Timber.ItemSave(ctx, timber.Item{Code: "screw-50", Name: "Screw 50 mm", Kind: "fitting", Counted: true, CostMinor: 10, LeadDays: ptr(14)})
	require.NoError(t, err)
	w.model, err = w.Workshop.ModelSave(ctx, workshop.Model{Code: "plain", Name: "Plain box"})
	require.NoError(t, err)
	w.rev, err = w.Workshop.RevisionAdd(ctx, workshop.Drawing{ModelID: w.model.ID, Body: body()})
	require.NoError(t, err)
	w.oiled, err = w.Workshop.OptionSave(ctx, workshop.Option{Code: "oiled", Name: "Oiled", Kind: "finish", CureDays: 7,
		Operations: []hive.Operation{{ID: "oil", SetupMinutes: 10, PieceMinutes: 5}}})
	require.NoError(t, err)
	w.bees, err = w.Apiary.SpeciesPut(ctx, apiary.StandardSpecies()[0])
	require.NoError(t, err)
	w.buyer, err = w.Sales.PartyPut(ctx, sales.Party{Name: "Ottoline Brandreth", Contacts: []sales.Contact{{Kind: "phone", Value: "07 5550 0117"}}})
	require.NoError(t, err)
	w.site, err = w.Sales.SitePut(ctx, sales.Site{PartyID: &w.buyer.ID, Address: "3 Ridge Road", Town: "Upper Moor", Region: "QLD", Latitude: ptr(-26.50), Longitude: ptr(152.80),
		WallFacesDeg: ptr(45.0), EaveOutMM: ptr(600.0), EaveAboveMM: ptr(900.0), Wall: "weatherboard"})
	require.NoError(t, err)
	return w
}

func weekdays(from, to int) []workshop.Hours {
	var list []workshop.Hours
	for i := 1; i <= 5; i++ {
		list = append(list, workshop.Hours{Weekday: i, StartMinute: from, EndMinute: to, Hands: 1})
	}
	return list
}

// listPrices sets 300.00 for the box, 40.00 oiled, 350.00 for a colony, all ex tax.
func (w *world) listPrices() {
	w.t.Helper()
	for subject, minor := range map[string]int64{sales.Subject("model", w.model.ID): 30000, sales.Subject("option", w.oiled.ID): 4000, sales.Subject("colony", w.bees.ID): 35000} {
		_, err := w.Sales.PricePut(w.t.Context(), sales.ListPrice{Subject: subject, FromOn: day("2026-01-01"), PriceMinor: minor})
		require.NoError(w.t, err)
	}
}

// rack puts boards of 100 x 28 on the rack.
func (w *world) rack(lengthMM, count int) timber.Lot {
	w.t.Helper()
	l, err := w.Timber.LotIn(w.t.Context(), timber.LotKey{SpeciesID: w.species.ID, WidthMM: d("100"), ThicknessMM: d("28"), LengthMM: lengthMM}, count, timber.Opening, w.now, "")
	require.NoError(w.t, err)
	return l
}

func (w *world) haveScrews(n int) {
	w.t.Helper()
	_, err := w.Timber.MoveBook(w.t.Context(), timber.Move{Thing: claims.Item(w.screws.ID), Quantity: n, Kind: timber.Opening, HappenedAt: w.now})
	require.NoError(w.t, err)
}

// box puts a plain box on the shelf.
func (w *world) box(change ...func(*workshop.BoxNew)) workshop.Box {
	w.t.Helper()
	in := workshop.BoxNew{RevisionID: &w.rev.ID, SpeciesID: &w.species.ID, FinishedAt: w.now.AddDate(0, -1, 0), CostMinor: ptr(int64(9000))}
	for _, c := range change {
		c(&in)
	}
	b, err := w.Workshop.BoxRegister(w.t.Context(), in)
	require.NoError(w.t, err)
	return b
}

// colony makes a settled colony of the workshop.
func (w *world) colony(change ...func(*apiary.NewColony)) apiary.Colony {
	w.t.Helper()
	n := apiary.NewColony{SpeciesID: w.bees.ID, SpeciesSure: true, Dwelling: "log", BeganOn: ptr(day("2025-01-10")), SettledOn: ptr(day("2025-04-01")), Place: "behind the shed", Origin: "split of an old log"}
	for _, c := range change {
		c(&n)
	}
	c, err := w.Apiary.ColonyMake(w.t.Context(), n)
	require.NoError(w.t, err)
	return c
}

func (w *world) ask(wish sales.Wish) answer.Answer {
	w.t.Helper()
	a, err := w.Ask(w.t.Context(), answer.Question{Wish: wish, PartyID: w.buyer.ID, SiteID: w.site.ID})
	require.NoError(w.t, err)
	return a
}

func reasons(a answer.Answer) []string {
	var list []string
	for _, r := range a.Reasons {
		list = append(list, r.Text)
	}
	return list
}

func iso(t *time.Time) string {
	if t == nil {
		return ""
	}
	return t.Format(time.DateOnly)
}

func (w *world) count(sql string, args ...any) int {
	w.t.Helper()
	n, err := postgres.Value[int](w.t.Context(), w.db, sql, args...)
	require.NoError(w.t, err)
	return n
}
