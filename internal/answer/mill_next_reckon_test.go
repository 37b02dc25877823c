package answer

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/sawing"
	"kerfbook/internal/house"
	"kerfbook/internal/timber"
)

const pine = int64(1)

var board100 = millKey{pine, size{100, 28}}

func on(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return t
}

// smallBook is the book of 1 November 2026: 40 m of 100 x 28 on the rack and no past.
func smallBook(change ...func(*millBook)) *millBook {
	b := &millBook{day: on("2026-11-01"), months: 12, chance: 0.5, species: map[int64]timber.Species{pine: {ID: pine, Name: "Hoop pine", Code: "hoop-pine"}},
		rack: map[millKey]millRack{board100: {free: 40_000, claimed: 3000}}, yields: map[millKey]millYield{}, toShelf: map[millKey]float64{}, past: map[millKey][]float64{},
		set: map[int64]map[size]millPace{}, board: map[int64]int{pine: 2400}, dry: dryPlace{known: map[dryKey]dryDays{}, memo: &dryMemo{}}}
	for _, c := range change {
		c(b)
	}
	return b
}

func setPace(mm float64) func(*millBook) {
	return func(b *millBook) { b.set[pine] = map[size]millPace{board100.size: {mean: mm}} }
}

func (b *millBook) one(t *testing.T) MillSize {
	t.Helper()
	out := b.reckon()
	for _, s := range out.Sizes {
		if s.key == board100 {
			return s
		}
	}
	t.Fatal("100 x 28 is not there")
	return MillSize{}
}

func pack(mm float64, ready, careful string) func(*millBook) {
	return func(b *millBook) {
		p := millPack{key: board100, freeMM: mm}
		if ready != "" {
			p.ready = ptr(on(ready))
		}
		if careful != "" {
			p.careful = ptr(on(careful))
		}
		b.packs = append(b.packs, p)
	}
}

func monthName(s *MillShort) string {
	if s == nil {
		return "never"
	}
	return s.On.Format("2006-01")
}

// Every expected month and length is worked out in the words of the case; 40 m lie free,
// 12 m go each month unless it says otherwise.
func TestMillNextSmallBooks(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name              string
		change            []func(*millBook)
		expected, careful string
		left              float64 // at the end of January 2027, mm
		missing           float64 // by the end of what is sawn for
	}{
		// 40 - 4 x 12 = -8 at the end of February; -8 - 5 x 12 = -68 at the end of July, the sixth month.
		{"stock and pace alone", []func(*millBook){setPace(12_000)}, "2027-02", "2027-02", 4000, 68_000},
		// 20 m stacked give 18 m (0.9) on 17 January, a week after they are dry: 40 + 18 - 36 = 22 at the end of January;
		// 58 - 60 = -2 in March. The careful line counts 20 x 0.81 = 16.2 m and in March, a week after 25 February: 40 - 48 = -8 in February.
		{"a pack that gets dry", []func(*millBook){setPace(12_000), pack(20_000, "2027-01-10", "2027-02-25")}, "2027-03", "2027-02", 22_000, 62_000},
		// Without a day it counts nowhere.
		{"a pack that never gets dry", []func(*millBook){setPace(12_000), pack(20_000, "", "")}, "2027-02", "2027-02", 4000, 68_000},
		// Dry with even odds, never as sure as four in five: 58 m - 60 m in March, but carefully 40 - 48 in February.
		{"a pack that stays unsure", []func(*millBook){setPace(12_000), pack(20_000, "2027-01-10", "")}, "2027-03", "2027-02", 22_000, 62_000},
		// 30 m for an order in November: 40 - 30 - 12 = -2 at once; six months to April: 40 - 30 - 72 = -62.
		{"an order promised this month", []func(*millBook){setPace(12_000), func(b *millBook) { b.orders = []millNeed{{board100, 30_000, on("2026-11-20")}} }}, "2026-11", "2026-11", -26_000, 62_000},
		// The same, promised long ago, is needed now.
		{"a late build", []func(*millBook){setPace(12_000), func(b *millBook) { b.builds = []millNeed{{board100, 30_000, on("2026-05-20")}} }}, "2026-11", "2026-11", -26_000, 62_000},
		// A quote over 20 m at even odds asks 10 m in December, which the pace of 12 m holds already: nothing changes but the
		// careful line, whose variance is 0.25 x 20^2 = 100 m2, so 8.4 m more from December: 40 - 36 - 8.4 < 0 in January.
		{"a quote that is out", []func(*millBook){setPace(12_000), func(b *millBook) { b.quotes = []millNeed{{board100, 20_000, on("2026-12-10")}} }}, "2027-02", "2027-01", 4000, 68_000},
		// 60 m at even odds ask 30 m in December in place of 12: 40 - 12 - 30 = -2. Carefully -2 - 0.84 x 30.
		{"a quote larger than the pace", []func(*millBook){setPace(12_000), func(b *millBook) { b.quotes = []millNeed{{board100, 60_000, on("2026-12-10")}} }}, "2026-12", "2026-12", -14_000, 62_000},
		// Builds under way make 24 m worth of boxes for the shelf: two months of pace are answered.
		{"pieces for the shelf", []func(*millBook){setPace(12_000), func(b *millBook) { b.toShelf[board100] = 24_000 }}, "2027-04", "2027-04", 28_000, 68_000},
		{"nothing is asked", nil, "never", "never", 40_000, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := smallBook(c.change...).one(t)
			require.Equal(t, c.expected, monthName(s.Expected))
			require.Equal(t, c.careful, monthName(s.Careful))
			require.InDelta(t, c.left, s.Months[2].LeftMM, 0.5)
			if s.Expected != nil {
				require.InDelta(t, c.missing, s.Expected.ShortMM, 0.5)
				require.InDelta(t, c.missing/0.9, s.Expected.SawMM, 0.5, "more is sawn than is dressed")
				require.Equal(t, int(math.Ceil(c.missing/0.9/2400)), s.Expected.Boards)
			}
		})
	}
}

// One year and a half of orders: 10 m a month, but 28 m in both Mays. The mean of the 17
// months June 2025 to October 2026 with one May in them, and the arithmetic of the
// method: (28 + 2 x mean) / 3 for May, and for June, seen twice, (20 + 2 x mean) / 4.
func TestMillNextPaceBySeason(t *testing.T) {
	t.Parallel()
	past := make([]float64, 17)
	for i := range past {
		past[i] = 10_000
	}
	past[11] = 28_000 // May 2026
	b := smallBook(func(b *millBook) { b.pastFrom, b.past[board100] = on("2025-06-01"), past })
	mean := (16*10_000.0 + 28_000) / 17
	require.InDelta(t, (28_000+2*mean)/3, b.paceOf(board100, time.May).mean, 1e-6)
	require.InDelta(t, (20_000+2*mean)/4, b.paceOf(board100, time.June).mean, 1e-6)
	require.InDelta(t, (10_000+2*mean)/3, b.paceOf(board100, time.December).mean, 1e-6, "a month seen once")
	require.Positive(t, b.paceOf(board100, time.May).spread2)

	b.set[pine] = map[size]millPace{board100.size: {mean: 5000}}
	require.InDelta(t, 5000, b.paceOf(board100, time.May).mean, 1e-9, "what the maker says stands in place of the past")
	require.Zero(t, smallBook().paceOf(board100, time.May).mean, "no past, no pace")
	require.Contains(t, smallBook().reckon().Notes[0], "knows no order")
	even := smallBook(func(b *millBook) {
		b.pastFrom, b.past[board100] = on("2026-01-01"), []float64{7, 7, 7, 7, 7, 7, 7, 7, 7, 7}
	})
	for m := time.January; m <= time.December; m++ {
		require.Equal(t, millPace{7, 0}, even.paceOf(board100, m), "the same each month is expected again, without doubt")
	}
}

// Of the running month only what is left of it counts: on the 16th of a month of 30 days
// 15 days are left.
func TestMillNextRestOfTheMonth(t *testing.T) {
	t.Parallel()
	s := smallBook(setPace(12_000), func(b *millBook) { b.day = on("2026-11-16") }).one(t)
	require.InDelta(t, 6000, s.Months[0].PaceMM, 1e-6)
	require.InDelta(t, 12_000, s.Months[1].PaceMM, 1e-6)
}

// Three packs of 100 m meant for 90 x 25 gave 60, 50 and 40 m of it and 20 m each of
// 60 x 25: 50 % and 20 %. With five packs the careful share is what four of them gave.
func TestYieldsOfPastPacks(t *testing.T) {
	t.Parallel()
	meant, side := size{90, 25}, size{60, 25}
	var rows []yieldRow
	add := func(id int64, own, other float64) {
		rows = append(rows, yieldRow{id, pine, 90, 25, 100_000, 90, 25, own}, yieldRow{id, pine, 90, 25, 100_000, 60, 25, other})
	}
	add(1, 60_000, 20_000)
	add(2, 50_000, 20_000)
	add(3, 40_000, 20_000)
	y := yieldsOf(rows)[millKey{pine, meant}]
	require.Equal(t, 3, y.packs)
	require.InDelta(t, 0.5, y.mean[meant], 1e-9)
	require.InDelta(t, 0.2, y.mean[side], 1e-9)
	require.InDelta(t, 0.45, y.careful[meant], 1e-9)
	add(4, 55_000, 0)
	rows = append(rows, yieldRow{PackID: 5, SpeciesID: pine, WidthMM: 90, ThicknessMM: 25, StackedMM: 100_000}) // all lost
	y = yieldsOf(rows)[millKey{pine, meant}]
	require.InDelta(t, 0.41, y.mean[meant], 1e-9, "205 m of 500 m")
	require.InDelta(t, 0.4, y.careful[meant], 1e-9, "of 0, 40, 50, 55 and 60 four are at least 40")
	require.InDelta(t, 0.12, y.mean[side], 1e-9)

	b := smallBook(pack(10_000, "2027-01-10", "2027-01-10"), func(b *millBook) {
		b.yields[board100] = millYield{packs: 3, mean: map[size]float64{board100.size: 0.5, side: 0.2}, careful: map[size]float64{board100.size: 0.45, side: 0.18}}
	})
	require.InDelta(t, 5000, b.one(t).Months[2].InMM, 1e-6)
	for _, s := range b.reckon().Sizes {
		require.NotEqual(t, side, s.key.size, "a size nobody asks for and that no pack is meant for is not listed")
	}
}

// Laws: more on the rack, a further pack or an earlier one never makes it run short
// earlier; a further need never later; and the careful line is never above the expected one.
func TestMillNextLaws(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(7, 11))
	when := func(s *MillShort) time.Time {
		if s == nil {
			return on("9999-01-01")
		}
		return s.On
	}
	for n := range 400 {
		var list []func(*millBook)
		list = append(list, func(b *millBook) {
			b.pastFrom, b.past[board100] = on("2025-06-01"), make([]float64, 17)
			for i := range b.past[board100] {
				b.past[board100][i] = rng.Float64() * 20_000
			}
		})
		for range rng.IntN(4) {
			ready := on("2026-10-01").AddDate(0, 0, rng.IntN(400))
			list = append(list, pack(rng.Float64()*50_000, ready.Format(time.DateOnly), ready.AddDate(0, 0, rng.IntN(90)).Format(time.DateOnly)))
		}
		for range rng.IntN(4) {
			need := millNeed{board100, rng.Float64() * 20_000, on("2026-10-01").AddDate(0, 0, rng.IntN(200))}
			list = append(list, func(b *millBook) { b.orders = append(b.orders, need) }, func(b *millBook) { b.quotes = append(b.quotes, need) })
		}
		base := smallBook(list...)
		was := base.one(t)
		for i, m := range was.Months {
			require.LessOrEqual(t, m.CarefulLeftMM, m.LeftMM+1e-6, "book %d month %d", n, i)
		}
		check := func(what string, later bool, change func(*millBook)) {
			b := *base
			b.rack = map[millKey]millRack{board100: base.rack[board100]}
			b.packs, b.orders = append([]millPack{}, base.packs...), append([]millNeed{}, base.orders...)
			change(&b)
			now := b.one(t)
			for _, pair := range [][2]*MillShort{{was.Expected, now.Expected}, {was.Careful, now.Careful}} {
				if later {
					require.False(t, when(pair[1]).Before(when(pair[0])), "book %d: %s", n, what)
				} else {
					require.False(t, when(pair[1]).After(when(pair[0])), "book %d: %s", n, what)
				}
			}
		}
		check("more on the rack", true, func(b *millBook) { b.rack[board100] = millRack{free: 60_000} })
		check("a further pack", true, pack(30_000, "2027-02-01", "2027-03-01"))
		check("packs dry earlier", true, func(b *millBook) {
			for i := range b.packs {
				b.packs[i].ready, b.packs[i].careful = ptr(b.packs[i].ready.AddDate(0, 0, -40)), ptr(b.packs[i].careful.AddDate(0, 0, -40))
			}
		})
		check("a pack without a day", true, pack(30_000, "", ""))
		check("a pack without a day", false, pack(30_000, "", ""))
		check("a further order", false, func(b *millBook) { b.orders = append(b.orders, millNeed{board100, 9000, on("2027-01-10")}) })
	}
}

// Logs are chosen as the words say: those that cover most, then the fewest, then the cheapest.
func TestChooseLogs(t *testing.T) {
	t.Parallel()
	log := func(mm float64, cost int64) logGives {
		return logGives{log: timber.Log{CostMinor: cost}, mm: map[millKey]float64{board100: mm}}
	}
	need := map[millKey]float64{board100: 50_000}
	for _, c := range []struct {
		name string
		logs []logGives
		want []int
	}{
		{"none lies there", nil, nil},
		{"one is enough, the cheaper of two", []logGives{log(60_000, 90), log(55_000, 40), log(30_000, 1)}, []int{1}},
		{"two small ones where no single one does", []logGives{log(20_000, 1), log(30_000, 1), log(25_000, 1)}, []int{1, 2}}, // 55 and 50 both cover: 20 + 30 = 50 too, at the same price
		{"all that there are where they do not suffice", []logGives{log(20_000, 1), log(10_000, 1)}, []int{0, 1}},
		{"none that gives nothing", []logGives{log(20_000, 1), log(0, 0)}, []int{0}},
	} {
		got := chooseLogs(need, c.logs)
		sum, wantSum := 0.0, 0.0
		for _, i := range got {
			sum += c.logs[i].mm[board100]
		}
		for _, i := range c.want {
			wantSum += c.logs[i].mm[board100]
		}
		require.Len(t, got, len(c.want), c.name)
		require.InDelta(t, min(50_000, wantSum), min(50_000, sum), 1e-6, c.name)
		if c.name == "one is enough, the cheaper of two" {
			require.Equal(t, c.want, got)
		}
	}
}

// steadyAir is a climate of one weather all year, so that a pack takes as long whenever
// it is stacked.
func steadyAir() timber.Climate {
	c := timber.Climate{ID: 4, Name: "ridge shed"}
	for i := range c.Months {
		c.Months[i] = timber.Month{TemperatureC: 22, HumidityPct: 60}
	}
	return c
}

// The latest day to stack is the latest: a day later is too late. In a steady air the
// whole way back is one length, and drying.Predict itself says how long that is.
func TestLatestDayToStack(t *testing.T) {
	t.Parallel()
	sg := decimal.RequireFromString("0.5")
	sp := timber.Species{ID: pine, Code: "hoop-pine", Name: "Hoop pine", SpecificGravity: &sg}
	d := dryPlace{timber: map[int64]dryTimber{pine: {climateID: 4, targetPct: 14}}, climates: []timber.Climate{steadyAir()}, known: map[dryKey]dryDays{}, memo: &dryMemo{}}
	by := on("2027-06-01")
	stack, ok, err := d.latestStack(t.Context(), sp, 32, by, 180)
	require.NoError(t, err)
	require.True(t, ok)
	late := func(days int) int { // days that boards stacked so many days later than that are dressed after by
		dates, err := timber.AirDry(context.Background(), timber.DryQuestion{StackedOn: stack.AddDate(0, 0, days), ThicknessMM: 32, SpeciesCode: "hoop-pine", Gravity: 0.5, TargetMCPct: 14, Months: steadyAir().Months})
		require.NoError(t, err)
		return int(dates.ReadyOnP80.AddDate(0, 0, dressDays).Sub(by).Hours() / 24)
	}
	require.LessOrEqual(t, late(0), 0)
	require.Positive(t, late(3), "three days later is too late: days between the firsts of months are taken in proportion")
	shed := steadyAir()
	for i := range shed.Months { // a wet summer and a dry winter
		shed.Months[i] = timber.Month{TemperatureC: 20 + 5*math.Cos(float64(i)*math.Pi/6), HumidityPct: 58 + 8*math.Cos(float64(i)*math.Pi/6)}
	}
	d.climates, d.known = []timber.Climate{shed}, map[dryKey]dryDays{}
	for _, stacked := range []string{"2026-11-15", "2027-02-10", "2027-05-20", "2027-08-25"} {
		out, err := d.dryBy(t.Context(), sp, 32, on(stacked))
		require.NoError(t, err)
		dates, err := timber.AirDry(context.Background(), timber.DryQuestion{StackedOn: on(stacked), ThicknessMM: 32, SpeciesCode: "hoop-pine", Gravity: 0.5, TargetMCPct: 14, Months: shed.Months})
		require.NoError(t, err)
		require.InDelta(t, 0, out.on.Sub(*dates.ReadyOnP80).Hours()/24, 4, "%s", stacked)
	}
	d.climates = []timber.Climate{steadyAir()}

	d.timber[pine], d.known = dryTimber{climateID: 4, targetPct: 6}, map[dryKey]dryDays{}
	_, ok, err = d.latestStack(t.Context(), sp, 32, by, 180)
	require.NoError(t, err)
	require.False(t, ok, "air of 60 % never brings it to 6 %")

	// Without weather: a year for each 25 mm, so 365 days for 25 mm, and a week to dress.
	d = dryPlace{known: map[dryKey]dryDays{}, memo: &dryMemo{}}
	stack, ok, err = d.latestStack(t.Context(), sp, 25, by, 180)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, by.AddDate(0, 0, -365-dressDays), stack)
}

func TestMillSentences(t *testing.T) {
	t.Parallel()
	s := MillSize{Species: "Hoop pine", WidthMM: 100, ThicknessMM: 28, GreenWidthMM: 110, GreenThicknessMM: 32, Expected: &MillShort{On: on("2026-11-01"), Boards: 45, SawBy: ptr(on("2026-03-12"))}}
	require.Equal(t, "Saw 45 boards 110 × 32 mm by Thu 12 Mar 2026: Hoop pine 100 × 28 mm runs short in November 2026.", s.Sentence())
	s.Expected.Late = true
	require.Equal(t, "45 boards 110 × 32 mm should have been sawn by Thu 12 Mar 2026: Hoop pine 100 × 28 mm runs short in November 2026.", s.Sentence())
	s.Expected.SawBy = nil
	s.Careful, s.Expected = s.Expected, nil
	require.Equal(t, "Saw 45 boards 110 × 32 mm: Hoop pine 100 × 28 mm may run short in November 2026.", s.Sentence())
	s.Careful = nil
	require.Equal(t, "Hoop pine 100 × 28 mm lasts.", s.Sentence())
	require.Equal(t, "Hoop pine 100 × 28 mm", fmt.Sprint(s.Name()))
}

// The most valuable pattern of a log, by the calculation of sawing itself, is nearly all
// wide boards, more than are needed; steered it gives most of what is needed of them and several
// times as much of the narrow ones.
func TestLogIsSteeredToWhatIsShort(t *testing.T) {
	t.Parallel()
	short := func(wide, greenWide, need float64) *MillSize {
		return &MillSize{key: millKey{pine, size{wide, 25}}, WidthMM: wide, ThicknessMM: 25, GreenWidthMM: greenWide, GreenThicknessMM: 29, Expected: &MillShort{SawMM: need}}
	}
	list := []*MillSize{short(60, 68, 37_000), short(125, 135, 24_000), short(100, 109, 2600)}
	log := timber.Log{SmallEndMM: decimal.NewFromInt(390), LargeEndMM: decimal.NewFromInt(425), LengthMM: decimal.NewFromInt(3100), SweepMM: decimal.NewFromInt(10)}
	out, err := new(Room).patternFor(t.Context(), house.Standard(), log, list)
	require.NoError(t, err)
	plain, err := sawing.Pattern(t.Context(), sawing.PatternIn{SmallEndMM: 390, LargeEndMM: 425, LengthMM: 3100, KerfMM: house.Standard().MillKerfMM.InexactFloat64(), SweepMM: 10,
		Boards: wanted(list, 3100, float64(house.Standard().ShortBoardMM))})
	require.NoError(t, err)
	was := map[string]float64{}
	for _, l := range plain.Layout {
		was[l.ID] += l.LengthMM
	}
	narrow, wide := list[0], list[1]
	require.Greater(t, was[wide.Size()], wide.Expected.SawMM)
	require.Less(t, was[narrow.Size()], 12_000.0)
	require.GreaterOrEqual(t, out.mm[wide.key], 0.9*wide.Expected.SawMM)
	require.Greater(t, out.mm[narrow.key], 3*was[narrow.Size()])
}
