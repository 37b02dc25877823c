package demo

import (
	"fmt"
	"net/http"
	"time"
)

type object map[string]any

// sell goes from the call to the deposit.
func (w *walker) sell() {
	model, wood := w.find("/models", "two-tier-230"), w.find("/timber-species", "hoop-pine")
	bees, bracket := w.find("/bee-species", "carbonaria"), w.find("/box-options", "wall-bracket")
	wish := object{"model_id": model.ID, "timber_id": wood.ID, "option_ids": []int64{bracket.ID}, "count": 1, "with_colony": true, "bee_species_id": bees.ID, "deliver": true, "deliver_km": 21}

	var enquiry struct {
		ID int64 `json:"id"`
	}
	w.send(http.MethodPost, "/enquiries", 0, object{"name": "Isolde Fennimore", "number": "07 5550 0871", "place": "Tallowood Reach", "wanted": "A hive with bees for the kitchen garden", "found_by": "a neighbour", "wish": wish}, &enquiry)
	w.say("A buyer rings: Isolde Fennimore, 07 5550 0871, of Tallowood Reach, who heard of the workshop from a neighbour.")
	w.send(http.MethodPost, fmt.Sprintf("/enquiries/%d/party", enquiry.ID), 0, nil, &w.party)
	var site struct {
		ID int64 `json:"id"`
	}
	w.send(http.MethodPost, fmt.Sprintf("/parties/%d/sites", w.party.ID), 0, object{"name": "Kitchen garden", "address": "7 Ferry Lane", "town": "Tallowood Reach", "region": "QLD", "postcode": "4599",
		"latitude": -26.512, "longitude": 152.741, "time_zone": "Australia/Brisbane", "wall": "north wall of the shed", "wall_faces_deg": 10, "eave_out_mm": 600, "eave_above_mm": 900}, &site)
	w.site = site.ID

	var a reply
	w.send(http.MethodPost, "/answer", 0, object{"wish": wish, "party_id": w.party.ID, "site_id": w.site}, &a)
	w.today = a.AsOf
	w.say("The answer on %s: %s with %s (%s of it %s); it costs %s today, %s is left. Box %s, bees %s.", a.AsOf, money(a.Price), a.TaxName, money(a.Tax), a.TaxName, money(a.Cost), money(a.Left), orNoDay(a.BoxOn), orNoDay(a.BeesOn))
	for _, r := range a.Reasons {
		w.say("  %s: %s", r.Part, r.Text)
	}
	w.quoteAndAccept(wish, enquiry.ID)
	w.order = w.readOrder()
	w.paper("order-"+w.order.Number+".pdf", fmt.Sprintf("/orders/%d/pdf", w.order.ID))
	if w.order.Deposit > 0 {
		w.pay("deposit", w.order.Deposit)
	}
}

func (w *walker) quoteAndAccept(wish object, enquiry int64) {
	plain := object{}
	for k, v := range wish {
		if k != "with_colony" && k != "bee_species_id" {
			plain[k] = v
		}
	}
	var q quote
	w.send(http.MethodPost, "/quotes", 0, object{"enquiry_id": enquiry, "site_id": w.site, "wishes": []object{wish, plain}, "titles": []string{"With bees", "The box alone"}}, &q)
	w.send(http.MethodPost, fmt.Sprintf("/quotes/%d/issue", q.ID), q.Version, nil, &q)
	w.say("Quote %s: %s with tax, valid until %s, deposit %s, two alternatives.", q.Name, money(q.Price), q.ValidUntil, money(q.Deposit))
	w.paper("quote-"+q.Name+".pdf", fmt.Sprintf("/quotes/%d/pdf", q.ID))
	w.paper("quote-"+q.Name+".txt", fmt.Sprintf("/quotes/%d/text", q.ID))

	var whole struct {
		Alternatives []struct {
			ID int64 `json:"id"`
		} `json:"alternatives"`
	}
	w.send(http.MethodGet, fmt.Sprintf("/quotes/%d", q.ID), 0, nil, &whole)
	var agreed struct {
		Order order    `json:"order"`
		Short []string `json:"short"`
	}
	w.send(http.MethodPost, fmt.Sprintf("/quotes/%d/accept", q.ID), 0, object{"alternative_id": whole.Alternatives[0].ID, "note": "By telephone"}, &agreed)
	w.order = agreed.Order
	w.say("She takes the first: order %s for %s.", w.order.Number, money(w.order.Price))
	for _, s := range agreed.Short {
		w.say("  short: %s", s)
	}
}

// readOrder reads the order and its unit with a box as they are now.
func (w *walker) readOrder() order {
	var o order
	w.send(http.MethodGet, fmt.Sprintf("/orders/%d", w.order.ID), 0, nil, &o)
	for _, l := range o.Lines {
		if l.Kind == "box" {
			w.unit = l.Units[0]
		}
	}
	return o
}

func (w *walker) pay(kind string, minor int64) {
	var p payment
	w.send(http.MethodPost, fmt.Sprintf("/orders/%d/payments", w.order.ID), 0, object{"kind": kind, "method": "transfer", "amount_minor": minor}, &p)
	w.say("Paid by transfer, %s: %s, receipt %s; %s is still to pay.", kind, money(minor), p.Payment.Number, money(p.Balance))
	w.paper("receipt-"+p.Payment.Number+".pdf", fmt.Sprintf("/payments/%d/receipt", p.Payment.ID))
}

// make builds the box with one more for the shelf; where a box of the shelf was put aside,
// another takes its place there.
func (w *walker) make() {
	for _, l := range w.order.Lines {
		if l.Kind != "box" {
			continue
		}
		in := object{"model_revision_id": l.Revision, "timber_species_id": l.Timber, "options": l.Options, "quantity": 2, "units": []int64{w.unit.ID}}
		if w.unit.BoxID != 0 {
			in["quantity"], in["units"] = 1, []int64{}
			w.say("Box %s of the shelf is put aside for %s; another is built in its place.", w.unit.Serial, w.order.Number)
		}
		w.send(http.MethodPost, "/builds", 0, in, &w.build)
	}
	w.say("Build %s: %s, %.0f minutes by the standard.", w.build.Build.Number, w.build.Build.Title, w.build.Build.Minutes)
	for _, s := range w.build.Short {
		w.say("  short: %s", s)
	}
	w.send(http.MethodPost, fmt.Sprintf("/builds/%d/cutting/accept", w.build.Build.ID), 0, nil, &w.build)
	for _, p := range w.build.Cutting {
		w.say("  cutting plan: %d boards of %g x %g, %s", p.Boards, p.WidthMM, p.ThicknessMM, p.Note)
	}
	w.paper("jobcard-"+w.build.Build.Number+".pdf", fmt.Sprintf("/builds/%d/job-card", w.build.Build.ID))
	w.paper("part-labels-"+w.build.Build.Number+".pdf", fmt.Sprintf("/builds/%d/part-labels", w.build.Build.ID))
	for _, o := range w.build.Operations {
		w.send(http.MethodPost, fmt.Sprintf("/operations/%d/done", o.ID), 0, object{"done": true}, &w.build)
	}
	var done struct {
		Boxes []struct {
			ID     int64  `json:"id"`
			Serial string `json:"serial"`
		} `json:"boxes"`
		Notes []string `json:"notes"`
	}
	w.send(http.MethodPost, fmt.Sprintf("/builds/%d/finish", w.build.Build.ID), w.build.Build.Version, object{"place": "shelf"}, &done)
	for _, n := range done.Notes {
		w.say("  the book did not know: %s", n)
	}
	w.order = w.readOrder()
	for _, b := range done.Boxes {
		what := "for the shelf"
		if b.ID == w.unit.BoxID {
			what = "for " + w.order.Number
		}
		w.say("  box %s is made, %s.", b.Serial, what)
	}
	w.box = w.unit.Serial
	w.paper("labels-"+w.build.Build.Number+".pdf", fmt.Sprintf("/builds/%d/labels", w.build.Build.ID))
	if w.unit.BoxID == 0 {
		panic(trouble{fmt.Errorf("the finished box is not put aside for order %s", w.order.Number)})
	}
	w.paper("label-"+w.box+".pdf", fmt.Sprintf("/boxes/%d/label", w.unit.BoxID))
	w.sawingCard()
}

// sawingCard prints the card of the last log that is still to be sawn, or of the last one.
func (w *walker) sawingCard() {
	var logs page[struct {
		ID     int64  `json:"id"`
		Number string `json:"number"`
	}]
	w.send(http.MethodGet, "/logs?limit=1", 0, nil, &logs)
	for _, l := range logs.Items {
		w.paper("sawing-"+l.Number+".pdf", fmt.Sprintf("/logs/%d/sawing-card", l.ID))
	}
}

// bring houses a colony in the box, drives to the buyer and hands over.
func (w *walker) bring() {
	colony := w.colony()
	var run struct {
		ID     int64  `json:"id"`
		Number string `json:"number"`
		Stops  []struct {
			ID int64 `json:"id"`
		} `json:"stops"`
	}
	w.send(http.MethodPost, "/runs", 0, object{"run_on": w.today, "kind": "delivery", "loads": "dusk", "driver": MakerName, "unit_ids": []int64{w.unit.ID}}, &run)
	w.say("Run %s on %s.", run.Number, w.today)
	w.paper("run-"+run.Number+".pdf", fmt.Sprintf("/runs/%d/sheet", run.ID))
	w.paper("site-"+w.order.Number+".pdf", fmt.Sprintf("/orders/%d/site-sheet", w.order.ID))
	stop := run.Stops[len(run.Stops)-1].ID // the closing round comes before it
	w.send(http.MethodPost, fmt.Sprintf("/run-stops/%d/mark", run.Stops[0].ID), 0, object{"mark": "closed"}, nil)
	w.send(http.MethodPost, fmt.Sprintf("/run-stops/%d/mark", stop), 0, object{"mark": "opened"}, nil)
	var given struct {
		Handover struct {
			ID     int64  `json:"id"`
			Number string `json:"number"`
		} `json:"handover"`
		Warnings []string `json:"warnings"`
	}
	w.send(http.MethodPost, fmt.Sprintf("/units/%d/hand-over", w.unit.ID), 0, object{"received_by": w.party.Name, "run_stop_id": stop, "site_id": w.site, "bees_in": 34, "bees_out": 31, "fixing": "two coach screws through the bracket"}, &given)
	w.say("Handed over on %s: box %s with colony %s, sheet %s; bees 34 in and 31 out in a minute.", w.today, w.box, colony, given.Handover.Number)
	for _, s := range given.Warnings {
		w.say("  note: %s", s)
	}
	w.paper("handover-"+given.Handover.Number+".pdf", fmt.Sprintf("/handovers/%d/sheet", given.Handover.ID))
}

// colony finds a colony that is ready, houses it in the box and puts it aside.
func (w *walker) colony() string {
	type colony struct {
		ID      int64  `json:"id"`
		Number  string `json:"number"`
		Ready   bool   `json:"ready"`
		UnitID  int64  `json:"unit_id"`
		Species string `json:"species"`
	}
	var c colony
	if w.unit.ColonyID != 0 {
		var whole struct {
			Colony colony `json:"colony"`
		}
		w.send(http.MethodGet, fmt.Sprintf("/colonies/%d", w.unit.ColonyID), 0, nil, &whole)
		c = whole.Colony
	} else {
		bees := w.find("/bee-species", "carbonaria")
		var list page[colony]
		w.send(http.MethodGet, fmt.Sprintf("/colonies?species_id=%d&limit=200", bees.ID), 0, nil, &list)
		for _, x := range list.Items {
			if x.Ready && x.UnitID == 0 && c.ID == 0 {
				c = x
			}
		}
		if c.ID == 0 {
			panic(trouble{fmt.Errorf("no colony is ready")})
		}
	}
	w.send(http.MethodPost, fmt.Sprintf("/colonies/%d/house", c.ID), 0, object{"dwelling": "box", "box_id": w.unit.BoxID}, nil)
	if w.unit.ColonyID == 0 {
		w.send(http.MethodPost, fmt.Sprintf("/units/%d/put-aside", w.unit.ID), 0, object{"colony_id": c.ID}, nil)
	}
	w.say("Colony %s (%s) is housed in box %s and put aside for %s.", c.Number, c.Species, w.box, w.order.Number)
	return c.Number
}

// settle is the balance and the invoice.
func (w *walker) settle() {
	w.order = w.readOrder()
	w.pay("payment", w.order.Balance)
	var inv struct {
		ID     int64  `json:"id"`
		Number string `json:"number"`
		Price  int64  `json:"price_minor"`
		On     string `json:"invoice_on"`
	}
	w.send(http.MethodPost, fmt.Sprintf("/orders/%d/invoices", w.order.ID), 0, object{"due_days": 7}, &inv)
	w.say("Invoice %s of %s for %s.", inv.Number, inv.On, money(inv.Price))
	w.paper("invoice-"+inv.Number+".pdf", fmt.Sprintf("/invoices/%d/pdf", inv.ID))
	w.order = w.readOrder()
	w.say("Order %s is %s; %s is left to pay.", w.order.Number, w.order.State, money(w.order.Balance))
}

// orNoDay is a day, or a word where the book cannot name one.
func orNoDay(day string) string {
	if day == "" {
		return "on no day that can be said yet"
	}
	if t, err := time.Parse(time.DateOnly, day); err == nil {
		return "on " + t.Format("Monday 2 January 2006")
	}
	return day
}
