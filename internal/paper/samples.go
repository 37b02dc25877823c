package paper

import "time"

// samplesFor gives made-up papers on which a file of wording is tried when it is
// loaded: a full one and a bare one, on both halves of the earth where it matters.
func samplesFor(name string) []any {
	head := Head{Workshop: Workshop{Name: "Sample workshop", Owner: "A. Sample", Phone: "0400 000 000", TaxRegistered: true},
		Number: "S-1", Issued: time.Date(2026, time.March, 12, 0, 0, 0, 0, time.UTC)}
	switch name {
	case "order_terms.tmpl":
		return []any{OrderDoc{Head: head, Deposit: "$100.00", Quote: "Q-1"}, OrderDoc{}}
	case "jobcard_cautions.tmpl":
		return []any{JobCardDoc{Head: head, Build: "2 boxes", Timber: "hoop pine", Finish: "oil"}, JobCardDoc{}}
	case "sawing_cautions.tmpl":
		return []any{SawingDoc{Head: head, Log: "L-1", Species: "hoop pine"}, SawingDoc{}}
	case "run_cautions.tmpl":
		return []any{RunDoc{Head: head, Colony: true, Dusk: "18:20"}, RunDoc{}}
	case "movement_rules.tmpl":
		return []any{MovementsDoc{Head: head, From: "Wed 1 July 2026", To: "Wed 30 September 2026"}, MovementsDoc{Country: "NZ"}}
	case "register_words.tmpl":
		return []any{RegisterDoc{Head: head, Serial: "10017", Owner: "B. Sample", Since: "Thu 12 March 2026"}, RegisterDoc{Stolen: []Report{{StolenOn: "Thu 12 March 2026"}}}, RegisterDoc{}}
	case "site_sheet.tmpl":
		return []any{SiteDoc{Head: head, HasBees: true, LoadKG: "about 14 kg"}, SiteDoc{}}
	case "handover_front.tmpl", "handover_back.tmpl":
		facts, _ := Species("Tetragonula carbonaria")
		return []any{
			HandoverDoc{Head: head, Serial: "10017", Owner: "B. Sample", DuskAt: "18:20", Mount: "bracket", Fixing: "two screws",
				FullMass: "14 kg", Sun: []string{"21 December: none"}, Law: []string{"a rule"}, Guarantee: []string{"a year"},
				Colony: &HandedColony{Number: "C-1", Species: facts, Sure: true, Origin: "split", NoSplit: "October"}},
			HandoverDoc{Hemisphere: "northern", Country: "MX", Colony: &HandedColony{}},
			HandoverDoc{Head: head, Country: "NZ"},
			HandoverDoc{},
		}
	default:
		return []any{QuoteDoc{Head: head, ValidUntil: "Fri 27 March 2026", Alternatives: []Alternative{{Deposit: "$100.00"}}}, QuoteDoc{}}
	}
}
