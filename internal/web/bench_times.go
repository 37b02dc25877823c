package web

import (
	"fmt"
	"strings"

	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// timeTables are the operations of a build with their standard and real time, and for
// ordered boxes what the buyers were quoted.
func timeTables(b workshop.Build) []sheetTable {
	list := []sheetTable{operationTable(b)}
	if b.QuotedPieces > 0 && b.SpentMin > 0 {
		list = append(list, quotedTable(b))
	}
	return list
}

func operationTable(b workshop.Build) sheetTable {
	t := sheetTable{Title: "Operations", Heads: heads("Operation", "Standard", "Spent", "How it stands", ""), Empty: "No operations."}
	for _, o := range b.Operations {
		state, cell := "", sheetCell{}
		at := "/bench/operations/" + idText(o.ID)
		switch {
		case o.DoneAt != nil:
			state = "done, " + beside(o.SpentMin, o.StandardMin(b.Quantity), "the standard")
			if b.Open() {
				cell.Buttons = []sheetButton{button(at+"/again", "Not done after all", plain(o.Name)+": not done after all")}
			}
		case b.Open():
			if len(o.Running) > 0 {
				state = strings.Join(o.Running, ", ") + " at it"
			}
			cell.Buttons = []sheetButton{button(at+"/start", "Start", "Start my time on "+plain(o.Name)), button(at+"/done", "Done", plain(o.Name)+" is done")}
		}
		standard := minutesOf(o.StandardMin(b.Quantity))
		if o.WaitMin > 0 {
			standard += ", then wait " + show.Minutes(int64(o.WaitMin))
		}
		name := plain(o.Name)
		needs := workNeeds(o.Needs, o.OwnerOnly)
		if o.Dry {
			needs = append(needs, "dry weather")
		}
		if len(needs) > 0 {
			name += " (" + strings.Join(needs, ", ") + ")"
		}
		t.add(cellOf(name), cellOf(standard), cellOf(spentWords(o)), cellOf(state), cell)
	}
	if len(b.Operations) > 1 {
		t.add(cellOf("In all"), cellOf(minutesOf(b.StandardMin)), cellOf(minutesOf(b.SpentMin)), cellOf(""), sheetCell{})
	}
	return t
}

// spentWords is the time spent; a share of a whole day is no measured time.
func spentWords(o workshop.Operation) string {
	words := minutesOf(o.SpentMin)
	switch {
	case o.SplitMin <= 0:
	case o.SplitMin > o.SpentMin-1:
		words += ", a share of whole days"
	default:
		words += fmt.Sprintf(", %s of it a share of whole days", minutesOf(o.SplitMin))
	}
	return words
}

// beside says how far real minutes of what is done lie from what they were reckoned to be.
func beside(real, reckoned float64, by string) string {
	switch more := int64(real+0.5) - int64(reckoned+0.5); {
	case real == 0:
		return "no time written down"
	case more > 0:
		return show.Minutes(more) + " over"
	case more < 0:
		return show.Minutes(-more) + " under"
	}
	return "as " + by + " has it"
}

// quotedTable sets what was quoted for the ordered boxes beside what their share of the
// build has taken so far.
func quotedTable(b workshop.Build) sheetTable {
	t := sheetTable{Title: fmt.Sprintf("Quoted and real time of %s", show.Count(int64(b.QuotedPieces), "ordered box", "ordered boxes")), Fold: b.Open(), Heads: heads("Operation", "Quoted", "Real", "")}
	quoted, real, known := b.QuotedElse, 0.0, true
	for _, o := range b.Operations {
		mine, state := o.RealMin(b.QuotedPieces, b.Quantity), "not done yet"
		if o.DoneAt != nil {
			state = beside(mine, o.QuotedMin, "the quote")
		}
		known = known && o.DoneAt != nil && o.SpentMin > 0
		quoted, real = quoted+o.QuotedMin, real+mine
		t.add(cellOf(plain(o.Name)), cellOf(minutesOf(o.QuotedMin)), cellOf(minutesOf(mine)), cellOf(state))
	}
	if b.QuotedElse > 0 {
		t.add(cellOf("what the build has not"), cellOf(minutesOf(b.QuotedElse)), cellOf(""), cellOf(""))
	}
	state := "so far"
	if known {
		state = beside(real, quoted, "the quote")
	}
	t.add(cellOf("In all"), cellOf(minutesOf(quoted)), cellOf(minutesOf(real)), cellOf(state))
	return t
}
