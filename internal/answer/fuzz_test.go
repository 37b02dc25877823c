package answer_test

import (
	"encoding/json"
	"testing"

	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
	"kerfbook/internal/sales"
)

// FuzzAsk asks whatever a wish can hold: the answer adds up, or the question is refused
// with a kind that a person can act on.
func FuzzAsk(f *testing.F) {
	for _, seed := range []string{`{}`, `{"model_id":1}`, `{"model_id":1,"count":3,"option_ids":[1],"with_colony":true}`, `{"bee_species_id":1,"own_box":true,"count":500}`,
		`{"model_id":1,"deliver":true,"deliver_km":12.5}`, `{"model_id":-1}`, `{"count":-5}`, `{"model_id":1,"option_ids":[1,1,1]}`, `{"timber_id":9223372036854775807,"model_id":1}`,
		`{"own_box":true,"model_id":1}`, `{"deliver":true,"deliver_km":1e308}`} {
		f.Add(seed)
	}
	w := newWorld(f)
	w.listPrices()
	w.rack(2000, 5)
	w.haveScrews(100)
	w.box()
	w.colony()
	f.Fuzz(func(t *testing.T, raw string) {
		var wish sales.Wish
		if json.Unmarshal([]byte(raw), &wish) != nil {
			return
		}
		a, err := w.Ask(t.Context(), answer.Question{Wish: wish, PartyID: w.buyer.ID, SiteID: w.site.ID})
		if err != nil {
			if k := fault.KindOf(err); k != fault.Invalid && k != fault.NotFound {
				t.Fatalf("%s: %v", raw, err)
			}
			return
		}
		var net, tax int64
		for _, l := range a.Lines {
			net, tax = net+l.PriceExTaxMinor, tax+l.TaxMinor
		}
		if net != a.PriceExTaxMinor || tax != a.TaxMinor || net+tax != a.PriceMinor || a.LeftMinor != a.PriceExTaxMinor-a.CostMinor {
			t.Fatalf("%s does not add up: %+v", raw, a)
		}
		for _, u := range a.Units {
			if u.BoxOn != nil && u.BoxOn.Before(a.AsOf) || u.ColonyOn != nil && u.ColonyOn.Before(a.AsOf) {
				t.Fatalf("%s promises the past: %+v", raw, u)
			}
		}
	})
}
