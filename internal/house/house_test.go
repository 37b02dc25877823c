package house

import (
	"bytes"
	"context"
	"image"
	"image/jpeg"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres/pgtest"
)

func TestSettingsArePutAndRefusedWhenStale(t *testing.T) {
	t.Parallel()
	r := New(pgtest.DB(t))
	ctx := t.Context()
	_, err := r.SettingsGet(ctx)
	require.True(t, fault.Is(err, fault.NotFound))

	s := Standard()
	s.Name = "Gully Road Joinery"
	first, err := r.SettingsPut(ctx, s)
	require.NoError(t, err)
	require.Equal(t, 1, first.Version)

	first.Phone = "07 5550 0101"
	second, err := r.SettingsPut(ctx, first)
	require.NoError(t, err)
	require.Equal(t, 2, second.Version)
	_, err = r.SettingsPut(ctx, first)
	require.True(t, fault.Is(err, fault.Stale))

	second.TimeZone = "Mars/North"
	_, err = r.SettingsPut(ctx, second)
	require.True(t, fault.Is(err, fault.Invalid))
	second.TimeZone, second.MarginPct = "Australia/Brisbane", decimal.NewFromInt(100)
	_, err = r.SettingsPut(ctx, second)
	require.True(t, fault.Is(err, fault.Invalid))
}

func TestTodayIsTheWorkshopsDay(t *testing.T) {
	t.Parallel()
	s := Settings{TimeZone: "Australia/Brisbane"}
	at := time.Date(2026, 3, 4, 15, 0, 0, 0, time.UTC) // 1 a.m. of the 5th at UTC+10
	require.Equal(t, time.Date(2026, 3, 5, 0, 0, 0, 0, time.UTC), s.Today(at))
}

func TestTaxFollowsTheDate(t *testing.T) {
	t.Parallel()
	db := pgtest.DB(t)
	r := New(db)
	day := func(s string) time.Time { d, err := time.Parse(time.DateOnly, s); require.NoError(t, err); return d }
	require.NoError(t, r.TaxRegister(t.Context(), day("2025-07-01"), true, "GST"))
	require.NoError(t, r.TaxRegister(t.Context(), day("2026-07-01"), false, "GST"))
	for _, c := range []struct {
		on, code, want string
	}{{"2025-06-30", "standard", "0"}, {"2025-07-01", "standard", "10"}, {"2026-06-30", "free", "0"}, {"2026-07-01", "standard", "0"}} {
		state, err := TaxIn(t.Context(), db, day(c.on))
		require.NoError(t, err)
		pct, err := state.Pct(c.code)
		require.NoError(t, err)
		require.True(t, pct.Equal(decimal.RequireFromString(c.want)), "%s %s: %s", c.on, c.code, pct)
	}
	state, err := TaxIn(t.Context(), db, day("2026-01-01"))
	require.NoError(t, err)
	_, err = state.Pct("luxury")
	require.True(t, fault.Is(err, fault.Invalid))
}

func TestNumbersHaveNoGapsWhenSomeFail(t *testing.T) {
	t.Parallel()
	db := pgtest.DB(t)
	const workers = 12
	errs := make(chan error, workers)
	for i := range workers {
		go func() {
			errs <- db.WithTx(context.WithoutCancel(t.Context()), func(ctx context.Context, tx pgx.Tx) error {
				if _, err := NextNumber(ctx, tx, "invoice"); err != nil {
					return err
				}
				if i%3 == 0 {
					return fault.New(fault.Conflict, "this one fails")
				}
				return nil
			})
		}()
	}
	failed := 0
	for range workers {
		if err := <-errs; err != nil {
			require.True(t, fault.Is(err, fault.Conflict), err)
			failed++
		}
	}
	require.Equal(t, 4, failed)
	require.NoError(t, db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		n, err := NextNumber(ctx, tx, "invoice")
		require.Equal(t, int64(workers-4+1), n)
		return err
	}))
}

func TestPapersAreKeptOnceAndUnchanged(t *testing.T) {
	t.Parallel()
	db := pgtest.DB(t)
	r := New(db)
	keep := func() error {
		return db.WithTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
			_, err := PaperKeep(ctx, tx, "quote", "Q0001", 1, db.Now(), []byte("%PDF one"))
			return err
		})
	}
	require.NoError(t, keep())
	require.True(t, fault.Is(keep(), fault.Conflict))
	p, err := r.PaperFind(t.Context(), "quote", "Q0001")
	require.NoError(t, err)
	require.Equal(t, "%PDF one", string(p.Bytes))
	_, err = db.Exec(t.Context(), `UPDATE document SET bytes = 'x'`)
	require.Error(t, err)
	_, err = db.Exec(t.Context(), `DELETE FROM document`)
	require.Error(t, err)
}

func TestShrinkLosesTheLocationAndTheSize(t *testing.T) {
	t.Parallel()
	var big bytes.Buffer
	require.NoError(t, jpeg.Encode(&big, image.NewRGBA(image.Rect(0, 0, 3200, 800)), nil))
	exif := append([]byte{0xff, 0xd8, 0xff, 0xe1, 0, 16}, []byte("Exif\x00\x00GPS-here")...)
	withPlace := append(exif, big.Bytes()[2:]...)
	out, err := Shrink(withPlace)
	require.NoError(t, err)
	require.NotContains(t, string(out), "GPS-here")
	cfg, _, err := image.DecodeConfig(bytes.NewReader(out))
	require.NoError(t, err)
	require.Equal(t, [2]int{1600, 400}, [2]int{cfg.Width, cfg.Height})
	_, err = Shrink([]byte("not a picture"))
	require.True(t, fault.Is(err, fault.Invalid))
}
