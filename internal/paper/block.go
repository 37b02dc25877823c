package paper

import "strings"

type blockKind int

const (
	blockPara blockKind = iota
	blockHeading
	blockItem
	blockCaution
	blockRow
)

// block is one piece of wording.
type block struct {
	kind  blockKind
	text  string
	cells []string // of a row
}

// readBlocks reads the line marks described at Words.
func readBlocks(text string) []block {
	var out []block
	open := false // the last block takes further lines
	for _, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		mark, rest, _ := strings.Cut(line, " ")
		rest = strings.TrimSpace(rest)
		switch {
		case line == "":
			open = false
		case mark == "#":
			out, open = append(out, block{kind: blockHeading, text: rest}), false
		case mark == "-":
			out, open = append(out, block{kind: blockItem, text: rest}), true
		case mark == "!":
			out, open = append(out, block{kind: blockCaution, text: rest}), true
		case mark == "+" && len(out) > 0 && out[len(out)-1].kind == blockRow:
			last := &out[len(out)-1]
			last.cells[len(last.cells)-1] = strings.TrimPrefix(last.cells[len(last.cells)-1]+"\n"+dash+rest, "\n")
			open = false
		case mark == "|":
			cells := strings.Split(rest, "|")
			for i := range cells {
				cells[i] = strings.TrimSpace(cells[i])
			}
			out, open = append(out, block{kind: blockRow, cells: cells}), false
		case open:
			out[len(out)-1].text += " " + line
		default:
			out, open = append(out, block{kind: blockPara, text: line}), true
		}
	}
	return out
}

// items gives the texts of a wording that is a plain list.
func items(blocks []block) []string {
	var out []string
	for _, b := range blocks {
		if b.text != "" {
			out = append(out, b.text)
		}
	}
	return out
}

// write sets blocks on the sheet.
func (s *sheet) write(blocks []block) {
	for i := 0; i < len(blocks); {
		n := run(blocks[i:])
		group := blocks[i : i+n]
		switch group[0].kind {
		case blockHeading:
			s.heading(group[0].text)
		case blockItem:
			s.bullets(items(group))
		case blockCaution:
			s.caution(items(group))
		case blockRow:
			s.wordingTable(group)
		default:
			s.para(group[0].text)
		}
		i += n
	}
}

// run counts the first blocks that are set as one.
func run(blocks []block) int {
	k := blocks[0].kind
	if k == blockPara || k == blockHeading {
		return 1
	}
	n := 1
	for n < len(blocks) && blocks[n].kind == k {
		n++
	}
	return n
}

// wordingTable sets "| a | b" rows; the first column is narrow and bold.
func (s *sheet) wordingTable(group []block) {
	n := 0
	for _, b := range group {
		n = max(n, len(b.cells))
	}
	cols := make([]column, n)
	for i := range cols {
		cols[i].share = 4
	}
	if n > 0 {
		cols[0].share, cols[0].bold = s.firstShare(group), true
	}
	rows := make([]row, 0, len(group))
	for _, b := range group {
		r := texts(b.cells...)
		for len(r.cells) < n {
			r.cells = append(r.cells, cell{})
		}
		rows = append(rows, r)
	}
	s.table(cols, rows, false)
}

// firstShare is the share of a narrow first column against 4 for each other: as
// wide as its widest word needs, at most a quarter of the table.
func (s *sheet) firstShare(group []block) float64 {
	w := 0.0
	for _, b := range group {
		if len(b.cells) > 0 {
			for _, word := range strings.Fields(clean(b.cells[0])) {
				w = max(w, textWidth(word, true, max(s.body-0.5, s.small)))
			}
		}
	}
	w = min(w+2*cellPad+1, s.w/4)
	return w / (s.w - w) * 4
}

// The look of a caution's ruled box, in mm: room at the sides, above and below,
// and for the dash before each of several sentences.
const cautionSide, cautionPad, cautionHang = 3.2, 1.6, 4.0

// cautionBox is a ruled box under way, with the word at its side, so that it is
// seen without colour.
type cautionBox struct {
	s     *sheet
	top   float64
	textX float64
}

// caution sets sentences in a ruled box, kept whole unless it is taller than a page.
func (s *sheet) caution(list []string) {
	wordW := textWidth("Caution", true, s.body) + 2*cautionSide
	lh := lineHeight(s.body)
	var laid [][]string
	h := 0.0
	for _, item := range list {
		if lines := wrap(item, false, s.body, s.w-wordW-cautionSide-cautionHang); len(lines) > 0 {
			laid = append(laid, lines)
			h += float64(len(lines))*lh + 0.6
		}
	}
	if len(laid) == 0 {
		return
	}
	s.need(h + 2*cautionPad + 1)
	s.gap(1)
	box := cautionBox{s: s, textX: s.x + wordW}
	box.open()
	for _, lines := range laid {
		if s.y+float64(len(lines))*lh+cautionPad > contentBottom {
			box.close()
			s.addPage()
			box.open()
		}
		x := box.textX
		if len(laid) > 1 {
			s.text(x, s.y+lh*0.73, "–", false, s.body)
			x += cautionHang
		}
		for _, l := range lines {
			s.y += lh
			s.text(x, s.y-lh*0.27, l, false, s.body)
		}
		s.y += 0.6
	}
	box.close()
	s.y += cautionPad + 2.5
}

func (b *cautionBox) open() {
	b.top = b.s.y
	b.s.y += cautionPad
	b.s.text(b.s.x+cautionSide, b.s.y+lineHeight(b.s.body)*0.73, "Caution", true, b.s.body)
}

func (b *cautionBox) close() {
	b.s.line(0.45)
	b.s.pdf.Rect(b.s.x, b.top, b.s.w, b.s.y+cautionPad-b.top, "D")
}
