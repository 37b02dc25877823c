package paper

// Passage is one piece of a sheet's wording, for pages that show the same text.
type Passage struct {
	Kind  string   // heading, text, item, caution or row
	Text  string   // empty for a row
	Cells []string // of a row
}

var passageKinds = map[blockKind]string{blockPara: "text", blockHeading: "heading", blockItem: "item", blockCaution: "caution", blockRow: "row"}

// HandoverPassages gives the wording of both sides of a handover sheet, without the
// boxes that name buyer and serial.
func HandoverPassages(d HandoverDoc) ([]Passage, error) {
	var out []Passage
	for _, name := range []string{"handover_front.tmpl", "handover_back.tmpl"} {
		blocks, err := d.words().blocks(name, d)
		if err != nil {
			return nil, err
		}
		out = append(out, passages(blocks)...)
	}
	return out, nil
}

func passages(blocks []block) []Passage {
	var out []Passage
	for _, b := range blocks {
		out = append(out, Passage{Kind: passageKinds[b.kind], Text: b.text, Cells: b.cells})
	}
	return out
}
