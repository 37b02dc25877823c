package answer

import (
	"testing"

	"github.com/shopspring/decimal"

	"kerfbook/internal/timber"
)

func BenchmarkLatestStack(b *testing.B) {
	sg := decimal.RequireFromString("0.5")
	sp := timber.Species{ID: pine, Code: "hoop-pine", Name: "Hoop pine", SpecificGravity: &sg}
	for b.Loop() {
		d := dryPlace{timber: map[int64]dryTimber{pine: {climateID: 4, targetPct: 14}}, climates: []timber.Climate{steadyAir()}, known: map[dryKey]dryDays{}, memo: &dryMemo{}}
		_, _, err := d.latestStack(b.Context(), sp, 32, on("2027-06-01"), 180)
		if err != nil {
			b.Fatal(err)
		}
	}
}
