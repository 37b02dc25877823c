package cutting

import (
	"cmp"
	"slices"

	"github.com/shopspring/decimal"
)

// model is the input in whole numbers, sorted so that the order in which things
// were typed cannot matter.
type model struct {
	kinds  []kind  // falling size
	stocks []stock // falling room, then rising price
	step   int     // one unit of size, in thousandths of a millimetre
	unit   string  // of the bound
	// price of one unit of bound: decimals of a cost, or thousandths of a mm.
	priceStep decimal.Decimal
	kerf      int // thousandths of a millimetre
	trim      int
	keep      int // shortest offcut worth keeping
}

// kind is all parts of one length.
type kind struct {
	size   int // length and kerf, units
	length int // thousandths of a millimetre
	demand int
	ids    []PartCount // by id
}

// stock is all boards of one length and price.
type stock struct {
	room   int // usable length and kerf, units
	length int // thousandths of a millimetre
	price  int // prices have no common divisor
	count  int
	lots   []lot // in the order in which they should be used
}

type lot struct {
	id     string
	count  int
	offcut bool
	age    float64
}

func newModel(in In) *model {
	m := &model{}
	m.kerf, _ = thousandths(in.KerfMM)
	m.trim, _ = thousandths(in.TrimMM)
	if in.KeepOffcutMM != nil {
		m.keep, _ = thousandths(*in.KeepOffcutMM)
	}
	m.addParts(in.Parts)
	m.addBoards(in.Boards)
	return m
}

func (m *model) addParts(parts []Part) {
	byLength := map[int]int{}
	for _, p := range parts {
		length, _ := thousandths(p.LengthMM)
		at, ok := byLength[length]
		if !ok {
			at = len(m.kinds)
			byLength[length] = at
			m.kinds = append(m.kinds, kind{length: length})
			m.step = gcd(m.step, length+m.kerf)
		}
		m.kinds[at].demand += p.Count
		m.kinds[at].ids = append(m.kinds[at].ids, PartCount{Part: p.ID, Count: p.Count})
	}
	slices.SortFunc(m.kinds, func(a, b kind) int { return cmp.Compare(b.length, a.length) })
	for i := range m.kinds {
		k := &m.kinds[i]
		k.size = (k.length + m.kerf) / m.step
		slices.SortFunc(k.ids, func(a, b PartCount) int { return cmp.Compare(a.Part, b.Part) })
	}
}

// addBoards joins boards of one length and price and leaves out those that hold
// no part at all.
func (m *model) addBoards(boards []Board) {
	m.chooseUnit(boards)
	type key struct{ length, price int }
	at := map[key]int{}
	shortest := m.kinds[len(m.kinds)-1].size
	for _, b := range boards {
		length, _ := thousandths(b.LengthMM)
		usable := length - 2*m.trim
		if usable <= 0 || (usable+m.kerf)/m.step < shortest {
			continue
		}
		k := key{length, m.price(b, length)}
		i, ok := at[k]
		if !ok {
			i = len(m.stocks)
			at[k] = i
			m.stocks = append(m.stocks, stock{room: (usable + m.kerf) / m.step, length: length, price: k.price})
		}
		m.stocks[i].count += b.Count
		m.stocks[i].lots = append(m.stocks[i].lots, lot{b.ID, b.Count, b.Offcut, b.AgeDays})
	}
	slices.SortFunc(m.stocks, func(a, b stock) int {
		return cmp.Or(cmp.Compare(b.length, a.length), cmp.Compare(a.price, b.price))
	})
	pieces := 0
	for _, k := range m.kinds {
		pieces += k.demand
	}
	divisor := 0
	for i := range m.stocks {
		s := &m.stocks[i]
		s.count = min(s.count, pieces)
		divisor = gcd(divisor, s.price)
		slices.SortFunc(s.lots, func(a, b lot) int {
			return cmp.Or(-cmpBool(a.offcut, b.offcut), cmp.Compare(b.age, a.age), cmp.Compare(a.id, b.id))
		})
	}
	if divisor > 1 {
		for i := range m.stocks {
			m.stocks[i].price /= divisor
		}
		m.priceStep = m.priceStep.Mul(decimal.NewFromInt(int64(divisor)))
	}
}

// chooseUnit decides what is minimised first: cost, boards or mm.
func (m *model) chooseUnit(boards []Board) {
	m.unit, m.priceStep = UnitBoards, decimal.NewFromInt(1)
	for _, b := range boards {
		if b.LengthMM != boards[0].LengthMM {
			m.unit, m.priceStep = UnitMM, decimal.New(1, -3)
		}
	}
	if len(boards) > 0 && boards[0].Cost != nil {
		m.unit, m.priceStep = UnitCost, decimal.New(1, -maxDecimals)
	}
}

func (m *model) price(b Board, length int) int {
	switch m.unit {
	case UnitCost:
		return int(b.Cost.Shift(maxDecimals).IntPart())
	case UnitMM:
		return length
	}
	return 1
}

// pieces is the number of parts wanted, size their sizes added up.
func (m *model) pieces() (pieces, size int) {
	for _, k := range m.kinds {
		pieces += k.demand
		size += k.demand * k.size
	}
	return pieces, size
}

func cmpBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// cut is so many parts of one kind on one board.
type cut struct{ kind, count int }

// bin is a board with what is cut from it, kinds rising.
type bin struct {
	stock int
	cuts  []cut
}

// draft is a plan in the making: filled boards and what is left over.
type draft struct {
	bins []bin
	left []int // by kind, not placed
}

// worth orders drafts: first the length left unplaced, then the pieces left,
// then the price, then the number of boards: smaller is better; then the offcuts
// used, more being better.
type worth struct {
	leftLength, leftPieces, price, boards int
	offcuts                               float64
}

func (m *model) worth(d draft) worth {
	var w worth
	for i, n := range d.left {
		w.leftLength += n * m.kinds[i].length
		w.leftPieces += n
	}
	take := make([]int, len(m.stocks))
	for _, b := range d.bins {
		w.price += m.stocks[b.stock].price
		take[b.stock]++
	}
	w.boards = len(d.bins)
	w.offcuts = m.offcuts(take)
	return w
}

func (w worth) less(o worth) bool {
	return cmp.Or(cmp.Compare(w.leftLength, o.leftLength), cmp.Compare(w.leftPieces, o.leftPieces),
		cmp.Compare(w.price, o.price), cmp.Compare(w.boards, o.boards), cmp.Compare(o.offcuts, w.offcuts)) < 0
}
