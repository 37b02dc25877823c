package paper

import "strconv"

// MovementsDoc is the record of bees that went from place to place in some days. Its
// number names the days.
type MovementsDoc struct {
	Head
	From, To string // first and last day, both with it
	Country  string // ISO 3166 code; empty: AU
	Total    string // "7 colonies in 3 moves"
	Rows     []MovedTogether
}

// MovedTogether are colonies that went the same way at the same time.
type MovedTogether struct {
	When     string
	From, To string
	Whom     string // to whom they went, where To does not say it
	Count    int    // colonies, each with its hive
	Colonies string // their numbers
	Kinds    string // of bees
	Permit   string // number, where one was needed
	Note     string
}

// Australia tells whether the rules of Australia are the ones to name.
func (d MovementsDoc) Australia() bool { return d.Country == "" || d.Country == "AU" }

// Movements draws a movement record.
func Movements(d MovementsDoc) ([]byte, error) {
	s := newSheet(d.Head, "Movement record")
	s.body = 9.5
	blocks, err := d.words().blocks("movement_rules.tmpl", d)
	if err != nil {
		return nil, err
	}
	s.pairs([]pair{{"From", d.From}, {"To", d.To}, {"Moved", d.Total}})
	s.gap(1)
	s.write(blocks)
	if len(d.Rows) == 0 {
		s.para("No bees were moved in this time, as far as the workshop's book knows.")
		return s.finish()
	}
	s.gap(1)
	rows := make([]row, 0, len(d.Rows))
	for _, m := range d.Rows {
		permit := cell{text: m.Permit}
		if m.Permit == "" {
			permit.detail = []string{"________"}
		}
		rows = append(rows, row{cells: []cell{{text: m.When}, {text: m.From}, {text: m.To, detail: some(prefixed("to ", m.Whom), m.Note)},
			{text: strconv.Itoa(m.Count), bold: true}, {text: m.Colonies, detail: some(m.Kinds)}, permit}})
	}
	s.table([]column{{head: "When", share: 2.2}, {head: "From", share: 3.4}, {head: "To", share: 4}, {head: "How many", share: 1.3, align: right}, {head: "Colonies", share: 2.9}, {head: "Permit, if one is needed", share: 2.2}}, rows, true)
	s.signature("Kept for " + first(d.Workshop.Name, "the workshop"))
	return s.finish()
}
