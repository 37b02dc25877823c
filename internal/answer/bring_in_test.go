package answer_test

import (
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/answer"
	"kerfbook/internal/fault"
)

func (w *world) bring(kind, file string) answer.Brought {
	w.t.Helper()
	got, err := w.BringIn(w.t.Context(), kind, []byte(file), false)
	require.NoError(w.t, err)
	return got
}

func TestTablesComeInWholeOrNotAtAll(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	people := "name,phone,town\nAda Quill,07 5550 0901,Gully Flat\n\"Odell, the younger\",07 5550 0902,\n"
	look, err := w.BringIn(t.Context(), "people", []byte(people), true)
	require.NoError(t, err)
	require.Equal(t, []int{2, 0, 0}, []int{look.New, look.Already, look.Wrong})
	require.False(t, look.Done)
	count := func() int { return w.count(`SELECT count(*)::int FROM party`) }
	before := count()
	require.True(t, w.bring("people", people).Done)
	require.Equal(t, before+2, count())
	again := w.bring("people", people)
	require.Equal(t, []int{0, 2}, []int{again.New, again.Already}, "the same file again adds nothing")
	require.Equal(t, before+2, count())
	wrong := w.bring("people", "name,phone,business_number\nNew One,07 5550 0903,\n,x,\nThird,,51 824 753 557\n")
	require.False(t, wrong.Done)
	require.Equal(t, []int{1, 2}, []int{wrong.New, wrong.Wrong})
	require.Equal(t, 3, wrong.Lines[1].Line)
	require.Equal(t, "phone", wrong.Lines[1].Wrong[0].Pointer)
	require.Equal(t, "business_number", wrong.Lines[2].Wrong[0].Pointer)
	require.Equal(t, before+2, count(), "nothing came in")
	twice := w.bring("timber", "timber;width_mm;thickness_mm;length_mm;count\nHoop pine;100;28;2400;5\nhoop-pine;100;28;2400;5\nHoop pine;100;28;2400;5\n")
	require.Equal(t, 3, twice.New, "two lines alike are two lots of five")
	require.Equal(t, 15, w.count(`SELECT sum(on_hand)::int FROM board_lot WHERE length_mm = 2400`))
	require.True(t, w.bring("boxes", "serial,model,description,made_on,owner,owner_phone\n,"+w.model.Name+",,2019-04-02,Ada Quill,07 5550 0901\n,,Old one,3/5/2001,,\n").Done)
	require.Equal(t, 1, w.count(`SELECT count(*)::int FROM box_owner o JOIN party p ON p.id = o.party_id WHERE p.name = 'Ada Quill'`), "the one who came in before")
	orders := w.bring("orders", "agreed_on,buyer,phone,what,count,price,paid,paid_by,box_on\n2026-01-12,Ada Quill,07 5550 0901,Two-tier box,2,\"$1,320.00\",100.00,cash,2026-06-01\n")
	require.True(t, orders.Done, "%+v", orders)
	o, err := w.Sales.OrderGet(t.Context(), orders.Lines[0].ID)
	require.NoError(t, err)
	require.Equal(t, []int64{132000, 10000}, []int64{o.PriceMinor, o.PaidMinor})
	require.Len(t, o.Lines[0].Units, 2)
	for _, k := range answer.TableKinds {
		got, err := w.BringIn(t.Context(), k.Name, []byte(k.Example), true)
		require.NoError(t, err)
		require.Zero(t, got.Wrong, "%s: %+v", k.Name, got)
	}
}

// RFC 4180: quoted fields may hold line breaks, commas and doubled quotation marks; the
// examples are those of its section 2.
func TestTableFilesAreRead(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, c := range []struct {
		name, file string
		lines      []int
	}{
		{"CR LF", "name,notes\r\naaa,bbb\r\nzzz,yyy\r\n", []int{2, 3}},
		{"no last line break", "name,notes\naaa,bbb\nzzz,yyy", []int{2, 3}},
		{"a break in a field", "name,notes\n\"aaa\",\"b\nbb\"\nzzz,yyy", []int{2, 4}},
		{"a doubled mark", "name,notes\n\"aaa\",\"b\"\"bb\"\n", []int{2}},
		{"a mark of UTF-8", "\xEF\xBB\xBFname,notes\naaa,b\n", []int{2}},
		{"tabs, head in capitals", "Name\tNotes\naaa\tb\n", []int{2}},
		{"an empty line", "name,notes\n\naaa,b\n,\n", []int{3}},
		{"UTF-16", utf16Of("name,notes\nBjörn,b\n"), []int{2}},
	} {
		got, err := w.BringIn(t.Context(), "people", []byte(c.file), true)
		require.NoError(t, err, c.name)
		require.Zero(t, got.Wrong, "%s: %+v", c.name, got)
		var lines []int
		for _, l := range got.Lines {
			lines = append(lines, l.Line)
		}
		require.Equal(t, c.lines, lines, c.name)
	}
	for name, file := range map[string]string{
		"empty": "", "another encoding": "name\nBj\xf6rn\n", "noughts": "name\na\x00b\n", "an unknown column": "name,colour\na,b\n", "no name": "town\nx\n", "a column twice": "name,name\na,b\n",
		"too many fields": "name\na,b\n", "a broken quotation": "name\n\"a\n", "100,000 lines": "name\n" + strings.Repeat("a\n", 100_000), "too large": "name\n" + strings.Repeat("a", 9<<20),
	} {
		_, err := w.BringIn(t.Context(), "people", []byte(file), true)
		require.True(t, fault.Is(err, fault.Invalid), "%s: %v", name, err)
	}
	_, err := w.BringIn(t.Context(), "moons", []byte("name\na\n"), true)
	require.True(t, fault.Is(err, fault.Invalid))
	for kind, file := range map[string]string{"timber": "timber,width_mm,thickness_mm,length_mm,count\nmoonwood,100,28,2400,1\nHoop pine,wide,28,2400,1\nHoop pine,100,28,2400,-4\nHoop pine,100.55,28,2400,1\n",
		"boxes": "made_on,description,serial\nyesterday,x,\n2199-01-01,x,\n2020-01-01,,\n2020-01-01,x,1\n", "orders": "agreed_on,buyer,what,price,paid\n2026-01-01,A,x,-4,\n2026-01-01,A,,4,\n,A,x,4,\n2026-01-01,,x,4,\n2026-01-01,A,x,4,1e300\n"} {
		got, err := w.BringIn(t.Context(), kind, []byte(file), true)
		require.NoError(t, err)
		require.Equal(t, len(got.Lines), got.Wrong, "%s: %+v", kind, got)
		for _, l := range got.Lines {
			require.NotEmpty(t, l.Wrong[0].Detail)
		}
	}
}

func utf16Of(text string) string {
	out := []byte{0xFF, 0xFE}
	for _, u := range utf16.Encode([]rune(text)) {
		out = append(out, byte(u), byte(u>>8))
	}
	return string(out)
}

func FuzzTableFile(f *testing.F) {
	f.Add([]byte("name,notes\na,b\n"))
	f.Add([]byte("\xFF\xFEn\x00"))
	f.Fuzz(func(t *testing.T, body []byte) {
		lines, err := answer.ReadTable(body)
		require.True(t, err == nil || fault.Is(err, fault.Invalid), "%v", err)
		require.LessOrEqual(t, lines, len(body))
	})
}
