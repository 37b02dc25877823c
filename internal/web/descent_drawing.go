package web

import (
	"fmt"
	"slices"
	"strings"

	"kerfbook/internal/apiary"
	"kerfbook/internal/show"
)

// descentDrawing is a descent as lines of a family sheet: one row a colony, each below
// the one it came from and further in. It is as wide as a phone.
type descentDrawing struct {
	Width, Height int
	About         string
	Rows          []descentRow
	Lines         []descentLine
	Marks         []string // what the marks mean, of those that stand there
	LeftOut       string
}

type descentRow struct {
	Top, X, Y, TextX int
	Mark             string // here, held, over, theirs, gone
	Triangle         string // points of the mark of what is held back
	Number, Words    string
	Href             string
	Self             bool
}

// descentLine is the way from a parent to a child.
type descentLine struct{ D, Kind string }

// Sizes of the drawing, in units of about a pixel on a phone.
const (
	descentWide  = 340
	descentTall  = 48 // a row, high enough for a thumb
	descentIn    = 16 // a generation further in
	descentLane  = 7  // between lines of further parents
	descentR     = 6  // of a mark
	numberChar   = 10 // about, of 17 units high and bold
	wordsChar    = 8  // about, of 15 units high
	descentLines = 3  // offset of the two lines of what was united
)

// descentLaid is a descent put in order: the rows from the top, each with how far in it
// stands, and the parent it stands under.
type descentLaid struct {
	order []int64
	depth map[int64]int
	under map[int64]apiary.Parent
	kin   map[int64]apiary.Kin
	below map[int64][]int64
}

// layDescent puts each colony under one parent: of those that it was split from before
// those it was united of, before those that gave brood.
func layDescent(d apiary.Descent) descentLaid {
	l := descentLaid{depth: map[int64]int{}, under: map[int64]apiary.Parent{}, kin: map[int64]apiary.Kin{}, below: map[int64][]int64{}}
	for _, k := range d.Kin {
		l.kin[k.ColonyID] = k
	}
	rank := []string{"split", "united", "brood given"}
	for _, t := range d.Ties {
		was, ok := l.under[t.ColonyID]
		if !ok || slices.Index(rank, t.Kind) < slices.Index(rank, was.Kind) {
			l.under[t.ColonyID] = t
		}
	}
	var roots []int64
	ids := make([]int64, 0, len(d.Kin))
	for _, k := range d.Kin {
		ids = append(ids, k.ColonyID)
	}
	slices.Sort(ids)
	for _, id := range ids {
		if t, ok := l.under[id]; ok {
			l.below[t.ParentID] = append(l.below[t.ParentID], id)
		} else {
			roots = append(roots, id)
		}
	}
	begun := map[int64]bool{}
	for _, root := range roots {
		l.tree(d, root, begun)
	}
	return l
}

// tree lays a root with all below it, and before it the roots of further parents, so that
// as few lines as can be run upwards.
func (l *descentLaid) tree(d apiary.Descent, root int64, begun map[int64]bool) {
	if begun[root] {
		return
	}
	begun[root] = true
	for _, t := range d.Ties {
		if l.rootOf(t.ColonyID) == root {
			l.tree(d, l.rootOf(t.ParentID), begun)
		}
	}
	l.branch(root, 0)
}

func (l *descentLaid) branch(id int64, depth int) {
	l.order, l.depth[id] = append(l.order, id), depth
	for _, child := range l.below[id] {
		l.branch(child, depth+1)
	}
}

func (l *descentLaid) rootOf(id int64) int64 {
	for {
		t, ok := l.under[id]
		if !ok {
			return id
		}
		id = t.ParentID
	}
}

// drawDescent draws a descent; nil when the colony has no kin in the book.
func drawDescent(d apiary.Descent) *descentDrawing {
	if len(d.Kin) < 2 {
		return nil
	}
	l := layDescent(d)
	row := map[int64]int{}
	for i, id := range l.order {
		row[id] = i
	}
	var further []apiary.Parent
	for _, t := range d.Ties {
		if l.under[t.ColonyID] != t {
			further = append(further, t)
		}
	}
	lanes, lane := lanesOf(further, row)
	start := 12 + descentLane*lanes
	x := func(id int64) int { return start + descentIn*l.depth[id] }
	y := func(id int64) int { return descentTall*row[id] + descentTall/2 }
	v := &descentDrawing{Width: descentWide, Height: descentTall * len(l.order), About: "Descent of colony " + l.kin[d.ColonyID].Number + ", the older ones above"}
	for _, id := range l.order {
		if t, ok := l.under[id]; ok {
			v.line(t.Kind, [][2]int{{x(t.ParentID), y(t.ParentID)}, {x(t.ParentID), y(id)}, {x(id), y(id)}})
		}
	}
	for i, t := range further {
		at := 6 + descentLane*lane[i]
		v.line(t.Kind, [][2]int{{x(t.ParentID), y(t.ParentID)}, {at, y(t.ParentID)}, {at, y(t.ColonyID)}, {x(t.ColonyID), y(t.ColonyID)}})
	}
	marks := map[string]bool{}
	for _, id := range l.order {
		r := rowOfKin(l.kin[id], d, x(id), y(id))
		marks[r.Mark] = true
		v.Rows = append(v.Rows, r)
	}
	v.Marks = descentMarks(marks, d.Ties)
	if d.LeftOut > 0 {
		v.LeftOut = show.Count(int64(d.LeftOut), "more of the kin is", "more of the kin are") + " in the book; their own pages show them."
	}
	return v
}

// lanesOf gives each line of a further parent a lane at the edge, so that no two lie on
// one another; and how many lanes there are.
func lanesOf(list []apiary.Parent, row map[int64]int) (int, []int) {
	var ends []([][2]int) // of the lines in each lane, from row to row
	lanes := make([]int, len(list))
	for i, t := range list {
		from, to := min(row[t.ParentID], row[t.ColonyID]), max(row[t.ParentID], row[t.ColonyID])
		k := slices.IndexFunc(ends, func(in [][2]int) bool {
			return !slices.ContainsFunc(in, func(s [2]int) bool { return from <= s[1] && s[0] <= to })
		})
		if k < 0 {
			k, ends = len(ends), append(ends, nil)
		}
		ends[k] = append(ends[k], [2]int{from, to})
		lanes[i] = k
	}
	return len(ends), lanes
}

// line draws a way over corners; what was united has two lines beside one another.
func (v *descentDrawing) line(kind string, way [][2]int) {
	path := func(off int) string {
		parts := make([]string, len(way))
		for i, p := range way {
			parts[i] = fmt.Sprintf("%d %d", p[0]+off, p[1]+off)
		}
		return "M " + strings.Join(parts, " L ")
	}
	v.Lines = append(v.Lines, descentLine{path(0), kind})
	if kind == "united" {
		v.Lines = append(v.Lines, descentLine{path(descentLines), kind})
	}
}

func rowOfKin(k apiary.Kin, d apiary.Descent, x, y int) descentRow {
	r := descentRow{Top: y - descentTall/2, X: x, Y: y, TextX: x + descentR + 8, Href: hrefOf("colony", k.ColonyID), Self: k.ColonyID == d.ColonyID, Mark: k.Stands()}
	r.Triangle = fmt.Sprintf("%d,%d %d,%d %d,%d", x-descentR-1, y+descentR, x+descentR+1, y+descentR, x, y-descentR-1)
	var ways []string
	for _, t := range d.Ties {
		if t.ColonyID != k.ColonyID {
			continue
		}
		way := t.Kind
		if t.HappenedOn != nil {
			way += " " + t.HappenedOn.Format("Jan 2006")
		}
		ways = append(ways, way)
	}
	if len(ways) == 0 && k.BeganAbout != "" {
		ways = append(ways, "began "+k.BeganAbout)
	} else if len(ways) == 0 && k.BeganOn != nil {
		ways = append(ways, "began "+k.BeganOn.Format("Jan 2006"))
	}
	parts := []string{}
	if words := k.Words(); words != "" {
		parts = append(parts, words)
	}
	r.Number = fitted(strings.TrimSpace(k.Number+" "+k.Name), descentWide-r.TextX, numberChar)
	r.Words = fitted(strings.Join(append(parts, ways...), "; "), descentWide-r.TextX, wordsChar)
	return r
}

// fitted cuts words to a width, by what a character is about wide.
func fitted(s string, wide, char int) string {
	if r := []rune(s); len(r)*char > wide {
		return strings.TrimSpace(string(r[:max(1, wide/char-1)])) + "…"
	}
	return s
}

// descentMarks says what the marks and lines mean that stand in a drawing.
func descentMarks(marks map[string]bool, ties []apiary.Parent) (list []string) {
	for _, m := range []struct{ mark, words string }{{apiary.StandsHere, "full circle: lives here"}, {apiary.StandsHeldBack, "triangle: held back"}, {apiary.StandsHandedOver, "square: handed over"}, {apiary.StandsAnothers, "ring: another's"}, {apiary.StandsGone, "cross: gone"}} {
		if marks[m.mark] {
			list = append(list, m.words)
		}
	}
	for _, k := range []struct{ kind, words string }{{"split", "full line: split"}, {"brood given", "broken line: brood given"}, {"united", "double line: united"}} {
		if slices.ContainsFunc(ties, func(t apiary.Parent) bool { return t.Kind == k.kind }) {
			list = append(list, k.words)
		}
	}
	return list
}
