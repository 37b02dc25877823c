package demo

import (
	"kerfbook/internal/answer"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// register lets boxes go on through other hands: one is sold on by its buyer, one is
// stolen and missing, and one of another maker comes into the register.
func (w *world) register() {
	ids, err := postgres.Column[int64](w.ctx, w.DB, `SELECT b.id FROM box b JOIN box_owner o ON o.box_id = b.id AND o.to_at IS NULL AND o.party_id IS NOT NULL
		WHERE b.stolen_at IS NULL AND b.gone_at IS NULL AND o.from_at < $1 ORDER BY o.from_at DESC, b.id LIMIT 2`, w.day.AddDate(0, 0, -20))
	ok(err)
	keeper := got(w.Sales.PartyPut(w.ctx, sales.Party{Name: "Ambrose Tarn", Town: "Upper Range"}))
	got(w.Workshop.BoxRegister(w.ctx, workshop.BoxNew{Serial: "5724", Maker: "a keeper up the range, long retired", Description: "round log hive in a slab box", FinishedAt: w.day.AddDate(-9, 0, 0), OwnerID: &keeper.ID, Place: "on a stand by the tank"}))
	if len(ids) > 0 {
		_, _, err := w.Answer.SellOn(w.ctx, answer.SoldOn{BoxID: ids[0], Name: "Corisande Blyth", Phone: "0491 570 313", At: w.day.AddDate(0, 0, -6), Note: "sold on; told by the former owner by telephone"})
		ok(err)
		got(w.Answer.RegisterPaper(w.ctx, ids[0]))
	}
	if len(ids) > 1 {
		b := got(w.Workshop.BoxGet(w.ctx, ids[1]))
		got(w.Answer.BoxStolen(w.ctx, workshop.StolenReport{BoxID: b.ID, StolenAt: w.day.AddDate(0, 0, -3), ReportedBy: b.Owners[0].PartyName, PoliceReference: "QP 2600413", Note: "Gone from the front fence overnight; the strap was cut."}))
	}
}
