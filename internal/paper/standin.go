package paper

// StandInDoc is the sheet for somebody who stands in for the maker: what is owed to whom,
// what is kept for whom, and how to go on.
type StandInDoc struct {
	Head
	FirstToDo  []string
	WhoDecides []string
	Backups    []string
	Starting   []string
	Promises   []StandInRow // what is promised to whom
	Deposits   []StandInRow // money taken for work that is owed
	HeldSum    string
	Keeping    []StandInRow // others' hives and boxes in our keeping
	Visits     []StandInRow // host trees to look after
	Suppliers  []StandInRow
}

// StandInRow is one line: what it is, of whom, how to reach them, when, and how much.
type StandInRow struct {
	What, Who, Ring, When, Amount string
}

// StandIn draws the stand-in sheet.
func StandIn(d StandInDoc) ([]byte, error) {
	s := newSheet(d.Head, "For who stands in")
	s.para("Everything below stands in the book; this sheet is for the day when somebody else must open it.")
	for _, part := range []struct {
		title string
		list  []string
		none  string
	}{{"First", d.FirstToDo, "Nothing is written down."}, {"Who decides", d.WhoDecides, "Nobody is named."}, {"Where the backups lie", d.Backups, "Nothing is written down."}, {"How the book is started", d.Starting, "Nothing is written down. The folder deploy of the program says how it is run and restored."}} {
		s.headingWith(part.title, 12)
		if len(some(part.list...)) == 0 {
			s.para(part.none)
		}
		s.bullets(some(part.list...))
	}
	s.standIn("Promised", "Nothing is promised.", d.Promises, "Piece", "To", "Ring", "When")
	s.standIn("Deposits held: work that is owed", "No deposit is held.", d.Deposits, "Order", "Of", "Ring", "Since", "Held")
	if d.HeldSum != "" {
		s.totals([]Total{{Label: "Together", Amount: d.HeldSum, Strong: true}})
	}
	s.standIn("Others' hives and boxes in our keeping", "None.", d.Keeping, "What, and what was agreed", "Whose", "Ring", "Back on")
	s.standIn("Visits due", "None.", d.Visits, "Host tree", "Whose land", "Ring", "When")
	s.standIn("Suppliers", "None are written down.", d.Suppliers, "What", "Who", "Ring")
	s.gap(2)
	s.para("Bees first: closed entrances are opened the same evening. Do not climb, saw or lift hives alone. The workshop's machines are not for who has not learnt them.")
	return s.finish()
}

// standIn is one table of the sheet; columns of which no row has anything fall away.
func (s *sheet) standIn(title, none string, list []StandInRow, heads ...string) {
	s.headingWith(title, 16)
	if len(list) == 0 {
		s.para(none)
		return
	}
	cols := make([]column, len(heads))
	for i, h := range heads {
		cols[i] = column{head: h, share: []float64{5, 3, 2.6, 2.6, 1.8}[i]}
	}
	if len(heads) == 5 {
		cols[4].align = right
	}
	rows := make([]row, len(list))
	for i, r := range list {
		for _, text := range []string{r.What, r.Who, r.Ring, r.When, r.Amount}[:len(heads)] {
			rows[i].cells = append(rows[i].cells, cell{text: text})
		}
	}
	s.table(cols, rows, false)
}
