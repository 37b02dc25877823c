package rest

import (
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/access"
	"kerfbook/internal/calc/hive"
)

// day is the date some days from now.
func day(n int) string { return time.Now().AddDate(0, 0, n).Format(time.DateOnly) }

// addTimber puts a kind of timber down and boards of it on the rack.
func (c *client) addTimber(code string) api.TimberSpecies {
	c.t.Helper()
	var x api.TimberSpecies
	c.do("POST", "/api/v1/timber-species", `{"code":"`+code+`","name":"`+code+`","density_kg_m3":530,"metre_cost_minor":320,"source":"a test"}`).want(http.StatusCreated).into(&x)
	return x
}

func (c *client) addLot(species int64, length, count int) api.Lot {
	c.t.Helper()
	var x api.Lot
	c.do("POST", "/api/v1/lots", map[string]any{"species_id": species, "width_mm": 100, "thickness_mm": 28, "length_mm": length, "count": count}).want(http.StatusCreated).into(&x)
	return x
}

func TestTimberSpeciesLogsAndSuppliersOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	sp := c.addTimber("hoop-pine")
	require.Equal(t, int64(320), *sp.MetreCostMinor)
	c.do("GET", "/api/v1/timber-species", nil).want(http.StatusOK)
	c.do("GET", at("/api/v1/timber-species/", sp.ID), nil).want(http.StatusOK)
	c.do("PUT", at("/api/v1/timber-species/", sp.ID), `{"code":"hoop-pine","name":"Hoop pine"}`, header{"If-Match", `"1"`}).want(http.StatusOK).into(&sp)
	require.Equal(t, int64(320), *sp.MetreCostMinor, "a cost that is not sent stays")
	c.do("PUT", at("/api/v1/timber-species/", sp.ID), `{"code":"hoop-pine","name":"Hoop"}`, header{"If-Match", `"1"`}).want(http.StatusPreconditionFailed)
	c.do("POST", "/api/v1/timber-species", `{"code":"hoop-pine","name":"twice"}`).want(http.StatusConflict)

	var size api.BoardSize
	c.do("POST", "/api/v1/board-sizes", `{"width_mm":190,"thickness_mm":28.5}`).want(http.StatusCreated).into(&size)
	require.InDelta(t, 28.5, size.ThicknessMm, 1e-9)
	require.Equal(t, []string{"/thickness_mm"}, c.do("POST", "/api/v1/board-sizes", `{"width_mm":28,"thickness_mm":190}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("GET", "/api/v1/board-sizes", nil).want(http.StatusOK)

	var sup api.Supplier
	c.do("POST", "/api/v1/suppliers", `{"name":"Fastener Shed","lead_days":4}`).want(http.StatusCreated).into(&sup)
	c.do("PUT", at("/api/v1/suppliers/", sup.ID), `{"name":"Fastener Shed","lead_days":5}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	c.do("GET", "/api/v1/suppliers", nil).want(http.StatusOK)

	log := map[string]any{"species_id": sp.ID, "small_end_mm": 1900, "large_end_mm": 1950, "length_mm": 3600, "cost_minor": 12000}
	require.Equal(t, []string{"/small_end_mm"}, c.do("POST", "/api/v1/logs", log).want(http.StatusUnprocessableEntity).pointers(), "a girth is asked about")
	log["small_end_mm"], log["large_end_mm"] = 380, 430
	var g api.Log
	c.do("POST", "/api/v1/logs", log).want(http.StatusCreated).into(&g)
	require.Equal(t, "L0001", g.Number)
	c.do("GET", at("/api/v1/logs/", g.ID), nil, header{"If-None-Match", `"1"`}).want(http.StatusNotModified)
	c.do("GET", at("/api/v1/logs/", g.ID), nil).want(http.StatusOK)
	log["notes"] = "a nail"
	c.do("PUT", at("/api/v1/logs/", g.ID), log, header{"If-Match", `"1"`}).want(http.StatusOK).into(&g)
	sawn := `{"sawn_at":"` + time.Now().Add(-time.Hour).Format(time.RFC3339) + `","sawn_min":90}`
	c.do("POST", at("/api/v1/logs/", g.ID, "/sawn"), sawn, header{"If-Match", `"2"`}).want(http.StatusOK)
	c.do("POST", at("/api/v1/logs/", g.ID, "/sawn"), sawn, header{"If-Match", `"3"`}).want(http.StatusConflict)
	c.do("GET", at("/api/v1/logs/", g.ID, "/sawing-card"), nil).want(http.StatusConflict)
	ready := hive.Ready()[0]
	var m api.Model
	c.do("POST", "/api/v1/models", `{"code":"a","name":"A"}`).want(http.StatusCreated).into(&m)
	c.do("POST", at("/api/v1/models/", m.ID, "/revisions"), map[string]any{"body": ready.Model}).want(http.StatusCreated)
	require.Equal(t, "%PDF", string(c.do("GET", at("/api/v1/logs/", g.ID, "/sawing-card"), nil).want(http.StatusOK).Body[:4]))
	c.do("GET", "/api/v1/logs?open=true", nil).want(http.StatusOK)
	c.do("GET", "/api/v1/logs?format=csv", nil).want(http.StatusOK)
}

func TestPacksOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	sp := c.addTimber("hoop-pine")
	months := make([]api.ClimateMonth, 12)
	for i := range months {
		months[i] = api.ClimateMonth{TemperatureC: 20, HumidityPct: 65}
	}
	var cl api.Climate
	c.do("POST", "/api/v1/climates", api.ClimateNew{Name: "shed", Months: months}).want(http.StatusCreated).into(&cl)
	c.do("PUT", at("/api/v1/climates/", cl.ID), api.ClimateNew{Name: "north shed", Months: months}, header{"If-Match", `"1"`}).want(http.StatusOK)
	require.Equal(t, []string{"/months"}, c.do("POST", "/api/v1/climates", api.ClimateNew{Name: "short", Months: months[:11]}).want(http.StatusUnprocessableEntity).pointers())
	c.do("GET", "/api/v1/climates", nil).want(http.StatusOK)

	pack := map[string]any{"species_id": sp.ID, "width_mm": 106, "thickness_mm": 31, "climate_id": cl.ID, "stacked_on": day(-40), "target_mc_pct": 15, "dresses_to": map[string]any{"width_mm": 100, "thickness_mm": 28},
		"cost_minor": 9000, "content": []map[string]any{{"length_mm": 2400, "count": 10}}}
	var p api.Pack
	c.do("POST", "/api/v1/packs", pack).want(http.StatusCreated).into(&p)
	require.Equal(t, 10, p.Boards)
	pack["stacked_on"] = day(3)
	require.Equal(t, []string{"/stacked_on"}, c.do("POST", "/api/v1/packs", pack).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", at("/api/v1/packs/", p.ID, "/readings"), `{"read_on":"`+day(-3)+`","meter_pct":19.5}`).want(http.StatusCreated).into(&p)
	require.InDelta(t, 19.5, *p.LatestMcPct, 1e-9)
	c.do("PUT", at("/api/v1/packs/", p.ID, "/dates"), `{"ready_on":"`+day(20)+`","ready_on_p80":"`+day(40)+`"}`, header{"If-Match", at(`"`, int64(p.Version), `"`)}).want(http.StatusOK)
	c.do("GET", at("/api/v1/packs/", p.ID), nil).want(http.StatusOK).into(&p)
	require.Len(t, *p.Readings, 1)
	require.Equal(t, "none", (*p.Readings)[0].Correction)
	require.Equal(t, []string{"/board"}, c.do("POST", at("/api/v1/packs/", p.ID, "/readings"), `{"read_on":"`+day(-3)+`","meter_pct":18.5}`).want(http.StatusUnprocessableEntity).pointers(), "twice a day, one board")
	earlier := `{"read_on":"` + day(-9) + `","meter_pct":24,"board":"b"`
	require.Equal(t, []string{"/read_on"}, c.do("POST", at("/api/v1/packs/", p.ID, "/readings"), earlier+`}`).want(http.StatusUnprocessableEntity).pointers(), "out of order")
	c.do("POST", at("/api/v1/packs/", p.ID, "/readings"), earlier+`,"late":true}`).want(http.StatusCreated).into(&p)
	require.Len(t, *p.Readings, 2)

	for i := range months {
		months[i] = api.ClimateMonth{TemperatureC: 45, HumidityPct: 30}
	}
	var chamber api.Climate
	kind := api.ClimateNewKind("solar")
	c.do("POST", "/api/v1/climates", api.ClimateNew{Name: "glass shed", Kind: &kind, Months: months}).want(http.StatusCreated).into(&chamber)
	require.Equal(t, "solar", chamber.Kind)
	var f api.PackForecast
	c.do("GET", at("/api/v1/packs/", p.ID, "/forecast"), nil).want(http.StatusOK).into(&f)
	require.NotEmpty(t, f.Curve)
	require.Equal(t, chamber.ID, f.Elsewhere[0].ClimateID)
	yard := *p.ReadyOnP80
	c.do("POST", at("/api/v1/packs/", p.ID, "/moves"), map[string]any{"from_on": day(0), "climate_id": chamber.ID, "place": "shelf 1"}).want(http.StatusCreated).into(&p)
	require.Less(t, *p.ReadyOnP80, yard, "the chamber is quicker")
	require.Less(t, *f.Elsewhere[0].ReadyOnP80, yard, "as the forecast had said")
	require.Equal(t, []string{"/from_on"}, c.do("POST", at("/api/v1/packs/", p.ID, "/moves"), map[string]any{"from_on": day(0), "climate_id": cl.ID}).want(http.StatusConflict).pointers())
	c.do("DELETE", at("/api/v1/packs/", p.ID, at("/moves/", (*p.Places)[0].ID)), nil).want(http.StatusOK).into(&p)
	require.Equal(t, yard, *p.ReadyOnP80)
	c.do("DELETE", at("/api/v1/packs/", p.ID, "/moves/99999"), nil).want(http.StatusNotFound)
	c.do("POST", at("/api/v1/packs/", p.ID, "/reckon"), nil).want(http.StatusOK).into(&p)
	c.do("PUT", at("/api/v1/packs/", p.ID, "/target"), `{"target_mc_pct":16}`, header{"If-Match", at(`"`, int64(p.Version), `"`)}).want(http.StatusOK).into(&p)
	require.Less(t, *p.ReadyOnP80, yard, "a higher target is reached sooner")
	require.Equal(t, []string{"/target_mc_pct"}, c.do("PUT", at("/api/v1/packs/", p.ID, "/target"), `{"target_mc_pct":60}`, header{"If-Match", at(`"`, int64(p.Version), `"`)}).want(http.StatusUnprocessableEntity).pointers())
	meter := `{"code":"hoop-pine","name":"Hoop pine","density_kg_m3":530,"meter_table":[{"shows_pct":12,"true_pct":13},{"shows_pct":20,"true_pct":23}],"meter_source":"the meter's booklet"}`
	c.do("PUT", at("/api/v1/timber-species/", sp.ID), meter, header{"If-Match", `"1"`}).want(http.StatusOK).into(&sp)
	require.Len(t, sp.MeterTable, 2)
	c.do("POST", at("/api/v1/packs/", p.ID, "/readings"), `{"read_on":"`+day(-1)+`","meter_pct":16}`).want(http.StatusCreated).into(&p)
	require.InDelta(t, 18, *p.LatestMcPct, 1e-9, "half way between 13 and 23")
	require.Equal(t, []string{"table", "the meter's booklet"}, []string{(*p.Readings)[0].Correction, (*p.Readings)[0].CorrectionSource})
	c.do("GET", "/api/v1/packs?find=P00", nil).want(http.StatusOK)
	c.do("GET", "/api/v1/packs?format=csv&finished=true", nil).want(http.StatusOK)

	var d api.Dressed
	c.do("POST", at("/api/v1/packs/", p.ID, "/dress"), `{"taken":[{"length_mm":2400,"count":11}],"boards":[{"width_mm":100,"thickness_mm":28,"length_mm":2380,"count":11}],"place":"rack 1","done":true}`).want(http.StatusOK).into(&d)
	require.Equal(t, 2350, d.Lots[0].LengthMm)
	require.Len(t, d.Notes, 1, "the book had ten")
	c.do("POST", at("/api/v1/packs/", p.ID, "/dress"), `{"done":true}`).want(http.StatusConflict)
}

func TestStockOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	sp := c.addTimber("hoop-pine")
	lot := c.addLot(sp.ID, 2449, 3)
	require.Equal(t, []int{2400, 3, 3}, []int{lot.LengthMm, lot.OnHand, lot.Free})
	c.do("GET", at("/api/v1/lots/", lot.ID), nil).want(http.StatusOK)
	c.do("GET", "/api/v1/lots", nil).want(http.StatusOK)
	c.do("GET", "/api/v1/lots?format=csv&empty=true", nil).want(http.StatusOK)
	var rack api.Rack
	c.do("GET", "/api/v1/rack", nil).want(http.StatusOK).into(&rack)
	require.InDelta(t, 7.2, rack.Items[0].TotalM, 1e-9)

	var booked api.Booked
	c.do("POST", "/api/v1/stock-moves", map[string]any{"lot_id": lot.ID, "quantity": 5, "kind": "cut"}).want(http.StatusCreated).into(&booked)
	require.Equal(t, 2, booked.Found, "a cut from an empty lot is taken and shown")
	require.Len(t, booked.Notes, 1)
	require.Equal(t, []string{"/reason"}, c.do("POST", "/api/v1/stock-moves", map[string]any{"lot_id": lot.ID, "quantity": 1, "kind": "lost"}).want(http.StatusUnprocessableEntity).pointers())
	require.Equal(t, []string{"/lot_id"}, c.do("POST", "/api/v1/stock-moves", `{"quantity":1,"kind":"cut"}`).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/stock-moves", `{"lot_id":99999,"quantity":1,"kind":"cut"}`).want(http.StatusNotFound)
	var done api.CountDone
	c.do("POST", "/api/v1/counts", map[string]any{"lines": []any{map[string]any{"lot_id": lot.ID, "counted": 4}}}).want(http.StatusCreated).into(&done)
	require.Equal(t, []int{0, 4}, []int{done.Differences[0].Book, done.Differences[0].Counted})
	require.Equal(t, []string{"/lines/0"}, c.do("POST", "/api/v1/counts", `{"lines":[{"counted":4}]}`).want(http.StatusUnprocessableEntity).pointers())
	var moves api.MoveList
	c.do("GET", at("/api/v1/lots/", lot.ID, "/moves?limit=2"), nil).want(http.StatusOK).into(&moves)
	require.Len(t, moves.Items, 2)
	require.NotNil(t, moves.Next)
}

func TestItemsAndPurchasesOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	var screw, glue api.Item
	c.do("POST", "/api/v1/items", `{"code":"screw-50","name":"screw 50 mm","kind":"fitting","low_mark":20,"cost_minor":10}`).want(http.StatusCreated).into(&screw)
	c.do("POST", "/api/v1/items", `{"code":"glue","name":"glue","kind":"fitting","counted":false}`).want(http.StatusCreated).into(&glue)
	require.True(t, screw.Counted)
	require.False(t, glue.Counted)
	c.do("POST", at("/api/v1/items/", glue.ID, "/low"), `{"low":true}`).want(http.StatusOK)
	c.do("POST", at("/api/v1/items/", screw.ID, "/low"), `{"low":true}`).want(http.StatusUnprocessableEntity)
	var low api.ItemList
	c.do("GET", "/api/v1/items-low", nil).want(http.StatusOK).into(&low)
	require.Len(t, low.Items, 2)
	var p api.Purchase
	c.do("POST", "/api/v1/purchases", map[string]any{"ordered_on": day(-3), "lines": []any{map[string]any{"item_id": screw.ID, "quantity": 200, "cost_ex_tax_minor": 2300}}}).want(http.StatusCreated).into(&p)
	c.do("GET", at("/api/v1/purchases/", p.ID), nil).want(http.StatusOK)
	c.do("GET", "/api/v1/purchases?open=true", nil).want(http.StatusOK)
	c.do("POST", at("/api/v1/purchases/", p.ID, "/receive"), `{}`).want(http.StatusPreconditionRequired)
	c.do("POST", at("/api/v1/purchases/", p.ID, "/receive"), `{}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	c.do("POST", at("/api/v1/purchases/", p.ID, "/receive"), `{}`, header{"If-Match", `"2"`}).want(http.StatusConflict)
	c.do("GET", at("/api/v1/items/", screw.ID), nil).want(http.StatusOK).into(&screw)
	require.Equal(t, []int{200, 12}, []int{screw.OnHand, int(*screw.CostMinor)})
	c.do("PUT", at("/api/v1/items/", screw.ID), `{"code":"screw-50","name":"screw, 50 mm","kind":"fitting","low_mark":30}`, header{"If-Match", at(`"`, int64(screw.Version), `"`)}).want(http.StatusOK).into(&screw)
	require.Equal(t, int64(12), *screw.CostMinor)
	c.do("GET", at("/api/v1/items/", screw.ID, "/moves"), nil).want(http.StatusOK)
	c.do("GET", "/api/v1/items?find=screw&kind=fitting", nil).want(http.StatusOK)
	c.do("GET", "/api/v1/items?format=csv", nil).want(http.StatusOK)
}

// A helper works at the bench and with timber, and sees no price or cost there.
func TestHelperSeesNoCosts(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	sp := c.addTimber("hoop-pine")
	lot := c.addLot(sp.ID, 2400, 3)
	c.do("POST", "/api/v1/items", `{"code":"screw-50","name":"screw","kind":"fitting","cost_minor":10}`).want(http.StatusCreated)
	var box api.BoxWhole
	c.do("POST", "/api/v1/boxes", `{"description":"old box","finished_at":"2024-01-01T00:00:00Z","cost_minor":5000}`).want(http.StatusCreated).into(&box)
	require.Equal(t, int64(5000), *box.Box.CostMinor)
	h := c.as(c.addAccount("hand", access.Helper))
	for _, path := range []string{"/api/v1/timber-species", at("/api/v1/timber-species/", sp.ID), "/api/v1/lots", at("/api/v1/lots/", lot.ID), "/api/v1/items", "/api/v1/items-low",
		"/api/v1/boxes", at("/api/v1/boxes/", box.Box.ID), "/api/v1/rack", "/api/v1/logs", "/api/v1/packs"} {
		body := h.do("GET", path, nil).want(http.StatusOK).Body
		require.True(t, json.Valid(body))
		require.NotContains(t, string(body), "_minor", path)
	}
	h.do("GET", "/api/v1/purchases", nil).want(http.StatusForbidden)
	// What a helper changes leaves the cost as it was.
	h.do("PUT", at("/api/v1/timber-species/", sp.ID), `{"code":"hoop-pine","name":"hoop","metre_cost_minor":1}`, header{"If-Match", `"1"`}).want(http.StatusOK)
	c.do("GET", at("/api/v1/timber-species/", sp.ID), nil).want(http.StatusOK).into(&sp)
	require.Equal(t, int64(320), *sp.MetreCostMinor)
}

func TestDressingAndRippingOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	sp := c.addTimber("hoop-pine")
	var p api.Pack
	c.do("POST", "/api/v1/packs", map[string]any{"species_id": sp.ID, "width_mm": 106, "thickness_mm": 31, "stacked_on": day(-100), "dresses_to": map[string]any{"width_mm": 100, "thickness_mm": 28},
		"cost_minor": 9000, "content": []map[string]any{{"length_mm": 2400, "count": 10}}}).want(http.StatusCreated).into(&p)
	var d api.Dressed
	dress := map[string]any{"taken": []any{map[string]any{"length_mm": 2400, "count": 5}}, "boards": []any{map[string]any{"width_mm": 100, "thickness_mm": 28, "length_mm": 2200, "count": 5}},
		"minutes": 30, "by": "Jo", "docked_for": "wane", "place": "rack 1"}
	c.do("POST", at("/api/v1/packs/", p.ID, "/dress"), dress).want(http.StatusOK).into(&d)
	require.Equal(t, []int64{4500, 2000}, []int64{*d.Work.BoardsMinor, *d.Work.LabourMinor}, "half of 90.00; half an hour at 40.00")
	require.InDelta(t, 8.3, d.Work.DockedPct, 1e-9, "11 of 12 m")
	dress["docked_for"] = "whim"
	c.do("POST", at("/api/v1/packs/", p.ID, "/dress"), dress).want(http.StatusUnprocessableEntity)
	var works api.WorkList
	c.do("GET", at("/api/v1/packs/", p.ID, "/dressings"), nil).want(http.StatusOK).into(&works)
	require.Len(t, works.Items, 1)
	require.Equal(t, "Jo", works.Items[0].By)
	var k api.Reckoning
	lot := d.Lots[0]
	c.do("GET", at("/api/v1/lots/", lot.ID, "/reckoning"), nil).want(http.StatusOK).into(&k)
	require.Equal(t, *lot.MetreCostMinor, k.Items[0].MetreCostMinor)

	c.do("POST", at("/api/v1/lots/", lot.ID, "/rip"), map[string]any{"count": 2, "widths_mm": []float64{48, 48}, "minutes": 6}).want(http.StatusOK).into(&d)
	require.Equal(t, []int{1, 4}, []int{len(d.Lots), d.Lots[0].OnHand})
	require.Equal(t, []string{"/widths_mm"}, c.do("POST", at("/api/v1/lots/", lot.ID, "/rip"), map[string]any{"count": 2, "widths_mm": []float64{48, 50}}).want(http.StatusUnprocessableEntity).pointers())
	c.do("POST", "/api/v1/lots/99999/rip", map[string]any{"count": 2, "widths_mm": []float64{48}}).want(http.StatusNotFound)
	var came api.SpeciesCame
	c.do("GET", at("/api/v1/timber-species/", sp.ID, "/came"), nil).want(http.StatusOK).into(&came)
	require.Equal(t, 2, came.Lots)
	require.Equal(t, int64(320), *came.StandardCostMinor)
	for _, path := range []string{"/api/v1/packs/99999/dressings", "/api/v1/lots/99999/reckoning", "/api/v1/timber-species/99999/came"} {
		c.do("GET", path, nil).want(http.StatusNotFound)
	}
}

func TestTimberIsBoughtOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	sp := c.addTimber("hoop-pine")
	var sup api.Supplier
	c.do("POST", "/api/v1/suppliers", `{"name":"Old Landing Yard","lead_days":9}`).want(http.StatusCreated).into(&sup)
	c.do("GET", at("/api/v1/suppliers/", sup.ID), nil).want(http.StatusOK).into(&sup)
	require.Equal(t, 9, sup.LeadDays)
	c.do("GET", "/api/v1/suppliers/99999", nil).want(http.StatusNotFound)
	boards := map[string]any{"brings": "boards", "species_id": sp.ID, "width_mm": 100, "thickness_mm": 28, "length_mm": 2400, "grade": "clear", "place": "rack 3", "quantity": 6, "cost_ex_tax_minor": 7200}
	log := map[string]any{"brings": "log", "species_id": sp.ID, "small_end_mm": 380, "large_end_mm": 430, "length_mm": 3600, "quantity": 1, "cost_ex_tax_minor": 9000}
	pack := map[string]any{"brings": "pack", "species_id": sp.ID, "width_mm": 110, "thickness_mm": 32, "length_mm": 2400, "quantity": 20, "cost_ex_tax_minor": 15000}
	var p api.Purchase
	c.do("POST", "/api/v1/purchases", map[string]any{"supplier_id": sup.ID, "ordered_on": day(-3), "lines": []any{boards, log, pack}}).want(http.StatusCreated).into(&p)
	require.Equal(t, day(6), *p.ExpectedOn)
	line := (*p.Lines)[0].ID
	receive := at("/api/v1/purchases/", p.ID, "/receive")
	c.do("POST", receive, map[string]any{"lines": []any{map[string]any{"line_id": line, "quantity": 7}}}, header{"If-Match", `"1"`}).want(http.StatusUnprocessableEntity)
	c.do("POST", receive, map[string]any{"lines": []any{map[string]any{"line_id": line, "quantity": 4}}}, header{"If-Match", `"1"`}).want(http.StatusOK).into(&p)
	require.Equal(t, []any{4, true}, []any{(*p.Lines)[0].Received, p.ReceivedAt == nil})
	c.do("PUT", at("/api/v1/purchases/", p.ID), map[string]any{"expected_on": day(4), "paid_on": day(0)}, header{"If-Match", at(`"`, int64(p.Version), `"`)}).want(http.StatusOK).into(&p)
	require.Equal(t, day(0), *p.PaidOn)
	c.do("POST", receive, `{}`, header{"If-Match", at(`"`, int64(p.Version), `"`)}).want(http.StatusOK).into(&p)
	require.NotNil(t, p.ReceivedAt)
	var lots api.LotList
	c.do("GET", "/api/v1/lots", nil).want(http.StatusOK).into(&lots)
	require.Equal(t, []any{6, int64(500)}, []any{lots.Items[0].OnHand, *lots.Items[0].MetreCostMinor}, "72.00 over 14.4 m")
	log["large_end_mm"] = 300
	require.Equal(t, []string{"/lines/0/large_end_mm"}, c.do("POST", "/api/v1/purchases", map[string]any{"ordered_on": day(-3), "lines": []any{log}}).want(http.StatusUnprocessableEntity).pointers())
	boards["species_id"] = 99999
	c.do("POST", "/api/v1/purchases", map[string]any{"ordered_on": day(-3), "lines": []any{boards}}).want(http.StatusConflict)
}

func TestLogsFromLookToPackOverREST(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	sp := c.addTimber("hoop-pine")
	look := map[string]any{"species_id": sp.ID, "small_end_mm": 1257, "large_end_mm": 1414, "length_mm": 3600, "measured": "girth", "cost_minor": 20000, "felled_on": day(-10), "metal_suspected": true}
	c.do("POST", "/api/v1/logs/look", look).want(http.StatusConflict) // nothing is wanted of it, and no model says so
	look["wish"] = map[string]any{"heart_box_mm": 60, "sizes": []map[string]any{{"width_mm": 100, "thickness_mm": 28}, {"width_mm": 200, "thickness_mm": 28, "value_minor": 900}}}
	var y api.LogYield
	c.do("POST", "/api/v1/logs/look", look).want(http.StatusOK).into(&y)
	require.True(t, y.FitsMill)
	require.Equal(t, int64(320), *y.Sizes[0].ValueMinor, "a metre of 100 x 28 by the standard cost")
	require.Equal(t, int64(900), *y.Sizes[1].ValueMinor)
	require.NotEmpty(t, y.Layout)
	require.NotNil(t, y.MillBy)
	require.Contains(t, y.Cautions[0], "detector")
	look["small_end_mm"] = 1500
	require.Equal(t, []string{"/large_end_mm"}, c.do("POST", "/api/v1/logs/look", look).want(http.StatusUnprocessableEntity).pointers(), "swapped ends")
	look["small_end_mm"] = 1257
	var g api.Log
	c.do("POST", "/api/v1/logs", look).want(http.StatusCreated).into(&g)
	require.InDelta(t, 400.1, g.SmallEndMm, 1e-9)
	require.NotNil(t, g.Wish)
	c.do("PUT", at("/api/v1/logs/", g.ID, "/wish"), map[string]any{"sizes": []map[string]any{{"width_mm": 100, "thickness_mm": 28}}}, header{"If-Match", at(`"`, int64(g.Version), `"`)}).want(http.StatusOK).into(&g)
	c.do("GET", at("/api/v1/logs/", g.ID, "/yield"), nil).want(http.StatusOK).into(&y)
	require.Len(t, y.Sizes, 1)
	sawn := map[string]any{"sawn_at": time.Now().Add(-time.Hour).Format(time.RFC3339), "sawn_min": 150, "place": "lean-to",
		"boards": []map[string]any{{"width_mm": y.Sizes[0].GreenWidthMm, "thickness_mm": y.Sizes[0].GreenThicknessMm, "length_mm": 3600, "count": 9}}}
	c.do("POST", at("/api/v1/logs/", g.ID, "/sawn"), sawn, header{"If-Match", at(`"`, int64(g.Version), `"`)}).want(http.StatusOK).into(&g)
	require.Len(t, *g.Boards, 1)
	require.InDelta(t, y.DrawnM3, g.Expected.M3, 1e-9)
	var p api.Pack
	c.do("GET", at("/api/v1/packs/", (*g.Boards)[0].PackID), nil).want(http.StatusOK).into(&p)
	require.Equal(t, 9, p.Boards)
	require.Equal(t, int64(30000), *p.CostMinor, "the log's 200.00 and two and a half hours at 40.00")
	var list api.TimberYieldList
	c.do("GET", "/api/v1/timber-yields", nil).want(http.StatusOK).into(&list)
	require.Equal(t, 1, list.Items[0].Logs)

	var a api.SizeAnswer
	c.do("POST", "/api/v1/board-sizes/reckon", map[string]any{"species_id": sp.ID, "dressed": map[string]any{"width_mm": 100, "thickness_mm": 28}}).want(http.StatusOK).into(&a)
	require.False(t, a.Known, "this timber has no shrinkage")
	var back api.SizeAnswer
	c.do("POST", "/api/v1/board-sizes/reckon", map[string]any{"species_id": sp.ID, "green": a.Green, "planing_mm": 4}).want(http.StatusOK).into(&back)
	require.InDelta(t, a.Sure.WidthMm-2, back.Dressed.WidthMm, 1e-9, "two more millimetres off the faces")
	require.Equal(t, []string{"/dressed"}, c.do("POST", "/api/v1/board-sizes/reckon", map[string]any{"species_id": sp.ID}).want(http.StatusUnprocessableEntity).pointers())
	require.Equal(t, []string{"/width_mm"}, c.do("POST", "/api/v1/board-sizes/reckon", map[string]any{"species_id": sp.ID, "dressed": map[string]any{"width_mm": -3, "thickness_mm": 28}}).want(http.StatusUnprocessableEntity).pointers())
}

// A helper sees what a log gives, and no price.
func TestHelperSeesNoValueOfALog(t *testing.T) {
	t.Parallel()
	c := newShop(t)
	sp := c.addTimber("hoop-pine")
	var g api.Log
	c.do("POST", "/api/v1/logs", map[string]any{"species_id": sp.ID, "small_end_mm": 380, "large_end_mm": 430, "length_mm": 3600, "cost_minor": 5, "wish": map[string]any{"sizes": []map[string]any{{"width_mm": 100, "thickness_mm": 28, "value_minor": 7}}}}).want(http.StatusCreated).into(&g)
	helper := c.as(c.addAccount("hand", access.Helper))
	body := string(helper.do("GET", at("/api/v1/logs/", g.ID, "/yield"), nil).want(http.StatusOK).Body)
	require.NotContains(t, body, "_minor")
	require.NotContains(t, string(helper.do("GET", at("/api/v1/logs/", g.ID), nil).want(http.StatusOK).Body), "_minor")
}
