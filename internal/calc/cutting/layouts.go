package cutting

import (
	"cmp"
	"slices"
	"strconv"

	"github.com/shopspring/decimal"
)

// out writes an answer in the caller's ids and millimetres.
func (m *model) out(a answer, work int) Out {
	w := m.worth(a.draft)
	o := Out{
		BoardsUsed: w.boards, Bound: m.money(a.bound), BoundUnit: m.unit, Proved: a.placed && a.bound == w.price,
		Layouts: []Layout{}, Unplaced: []PartCount{}, Work: work,
	}
	length, kept := 0, 0
	for _, b := range a.draft.bins {
		length += m.stocks[b.stock].length
		if left := m.offcut(b); left >= m.keep {
			kept = max(kept, left)
		}
	}
	o.LengthUsedMM, o.KeptOffcutMM = mm(length), mm(kept)
	o.UnplacedMM, o.LeastUnplacedMM = mm(w.leftLength), mm(a.leftLow)
	if a.placed {
		o.LeastUnplacedMM = o.UnplacedMM
	}
	if m.unit == UnitCost {
		o.Cost = NewCost(m.money(w.price).Decimal)
	}
	o.Layouts = m.layouts(a.draft)
	for k, n := range a.draft.left {
		// The last ids go short: the first ones were cut.
		for i := len(m.kinds[k].ids) - 1; i >= 0 && n > 0; i-- {
			id := m.kinds[k].ids[i]
			c := min(n, id.Count)
			n -= c
			o.Unplaced = append(o.Unplaced, PartCount{Part: id.Part, Count: c})
		}
	}
	return o
}

func mm(thousandths int) float64 { return float64(thousandths) / perMM }

func (m *model) money(steps int) Bound {
	return Bound{Decimal: m.priceStep.Mul(decimal.NewFromInt(int64(steps))), money: m.unit == UnitCost}
}

// offcut is what comes back from a board after the last kerf.
func (m *model) offcut(b bin) int {
	left := m.stocks[b.stock].length - 2*m.trim
	for _, c := range b.cuts {
		left -= c.count * (m.kinds[c.kind].length + m.kerf)
	}
	return max(0, left)
}

// layouts hands out boards and ids: longest offcut-lots first as each stock says,
// equal boards side by side.
func (m *model) layouts(d draft) []Layout {
	bins := slices.Clone(d.bins)
	slices.SortStableFunc(bins, func(a, b bin) int {
		return cmp.Or(cmp.Compare(a.stock, b.stock), cmpCuts(a.cuts, b.cuts))
	})
	ids := make([][]PartCount, len(m.kinds))
	for k := range ids {
		ids[k] = slices.Clone(m.kinds[k].ids)
	}
	lots := make([][]lot, len(m.stocks))
	for s := range lots {
		lots[s] = slices.Clone(m.stocks[s].lots)
	}
	all := []Layout{}
	at := map[string]int{}
	for _, b := range bins {
		q := &lots[b.stock]
		for (*q)[0].count == 0 {
			*q = (*q)[1:]
		}
		(*q)[0].count--
		l := Layout{Board: (*q)[0].id, Times: 1, Cuts: m.cutsWithIDs(b.cuts, ids), OffcutMM: mm(m.offcut(b))}
		key := layoutKey(l)
		if i, ok := at[key]; ok {
			all[i].Times++
			continue
		}
		at[key] = len(all)
		all = append(all, l)
	}
	return all
}

// cutsWithIDs takes ids of each kind in their order.
func (m *model) cutsWithIDs(cuts []cut, ids [][]PartCount) []PartCount {
	var named []PartCount
	for _, c := range cuts {
		for n := c.count; n > 0; {
			id := &ids[c.kind][0]
			take := min(n, id.Count)
			named = append(named, PartCount{Part: id.Part, Count: take})
			n -= take
			if id.Count -= take; id.Count == 0 {
				ids[c.kind] = ids[c.kind][1:]
			}
		}
	}
	return named
}

func layoutKey(l Layout) string {
	b := strconv.AppendQuote(make([]byte, 0, 64), l.Board)
	for _, c := range l.Cuts {
		b = strconv.AppendInt(append(b, ' '), int64(c.Count), 10)
		b = strconv.AppendQuote(append(b, ' '), c.Part)
	}
	return string(b)
}

func cmpCuts(a, b []cut) int {
	return slices.CompareFunc(a, b, func(x, y cut) int {
		return cmp.Or(cmp.Compare(x.kind, y.kind), cmp.Compare(y.count, x.count))
	})
}
