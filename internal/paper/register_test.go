package paper

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// testPhoto is a picture of a box, roughly: three sections and an entrance.
func testPhoto(w, h int) []byte {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{uint8(150 + 40*(y*3/h)), 120, 80, 255}
			if dx, dy := x-w/2, y-h*4/5; dx*dx+dy*dy < w*w/400 {
				c = color.RGBA{20, 15, 10, 255}
			}
			img.Set(x, y, c)
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, nil); err != nil {
		panic(err)
	}
	return out.Bytes()
}

func testRegister() RegisterDoc {
	return RegisterDoc{Head: testHead("B0004"), Serial: "10427", What: "Hive box, 35 mm hoop pine, one honey section", Made: "Fri 17 April 2026", Finish: "painted outside, stone grey",
		Punched:  "10427 punched into the front of the brood section, the one with the entrance; the last digit checks the others",
		Sections: "floor, brood, brood, honey, roof", Colony: "C-17, Tetragonula carbonaria, in it since Sat 18 April 2026", Owner: "Bram Oakshott", Since: "Mon 1 February 2027",
		Owners: []OwnedBy{{"Three Gullies Box Works", "Fri 17 April 2026", "Sat 18 April 2026", ""}, {"Zoë Grünewald-Núñez", "Sat 18 April 2026", "Mon 1 February 2027", "handed over with order O-0031"},
			{"Bram Oakshott", "Mon 1 February 2027", "", "sold on; told by Zoë Grünewald-Núñez by telephone"}},
		Stolen: []Report{{"Mon 7 September 2026", "Zoë Grünewald-Núñez", "QP 2612345", "Wed 9 September 2026", "stood behind the school"}},
		Photo:  testPhoto(400, 600), PhotoSay: "Photo of Sat 18 April 2026"}
}

func testMovements() MovementsDoc {
	return MovementsDoc{Head: testHead("2026-07-01..2026-09-30"), From: "Wed 1 July 2026", To: "Wed 30 September 2026", Total: "4 colonies in 2 moves", Rows: []MovedTogether{
		{When: "Sat 4 Jul 2026, 17:40", From: "behind the shed", To: "Cane paddock, 81 Cane Road, Lower Moor QLD", Count: 3, Colonies: "C-04, C-09, C-11", Kinds: "Tetragonula carbonaria, Austroplebeia australis", Permit: "HB 2026/118", Note: "Run N-0012"},
		{When: "Fri 11 Sep 2026, 18:02", From: "behind the shed", To: "3 Quarry Lane, Mount Ember", Whom: "Zoë Grünewald-Núñez", Count: 1, Colonies: "C-17", Kinds: "Tetragonula carbonaria"}}}
}

func TestRegisterSaysWhatHoldsNow(t *testing.T) {
	t.Parallel()
	say := func(change func(*RegisterDoc)) string {
		d := testRegister()
		change(&d)
		pdf, err := Register(d)
		require.NoError(t, err)
		requireTidy(t, pdf)
		return strings.Join(pages(t, pdf), " ")
	}
	found := say(func(*RegisterDoc) {})
	require.NotContains(t, found, "please ring", "it was found again")
	missing := say(func(d *RegisterDoc) { d.Stolen[0].Found, d.Stolen[0].How = "", "" })
	require.Contains(t, missing, "Reported stolen Mon 7 September 2026. Whoever has seen it: please ring Three Gullies Box Works, 0491 570 156.")
	require.Contains(t, missing, "not found")
	never := say(func(d *RegisterDoc) { d.Stolen = nil })
	require.NotContains(t, never, "Missed on")
	for name, photo := range map[string][]byte{"none": nil, "no picture": []byte("%PDF-1.4"), "cut off": testPhoto(400, 600)[:300], "wide": testPhoto(900, 90), "tall": testPhoto(9, 900)} {
		text := say(func(d *RegisterDoc) { d.Photo = photo })
		require.Contains(t, text, "no legal title", name)
	}
	pdf, err := Register(testRegister())
	require.NoError(t, err)
	require.Contains(t, string(pdf), "/DCTDecode", "the photo lies in the file as JPEG")
	bare, err := Register(RegisterDoc{Head: testHead("B0005"), Serial: "1016"})
	require.NoError(t, err)
	require.NotContains(t, string(bare), "/DCTDecode")
}

func TestLongRecordsKeepTheirRowsWhole(t *testing.T) {
	t.Parallel()
	m := testMovements()
	d := testRegister()
	for i := range 50 {
		m.Rows = append(m.Rows, MovedTogether{When: "Fri 11 Sep 2026, 18:02", From: fmt.Sprintf("from%02d %s", i, long(4)), To: long(8), Whom: long(3), Count: 1234, Colonies: strings.Repeat("C0001, ", 20), Kinds: long(3), Permit: strings.Repeat("9", 60), Note: fmt.Sprintf("%s upto%02d", long(6), i)})
		d.Owners = append(d.Owners, OwnedBy{fmt.Sprintf("from%02d %s", i, long(3)), long(2), long(2), fmt.Sprintf("%s upto%02d", long(9), i)})
	}
	d.Punched, d.What, d.Owner = long(30), long(9), long(9)
	for name, draw := range map[string]func() ([]byte, error){"movements": func() ([]byte, error) { return Movements(m) }, "register": func() ([]byte, error) { return Register(d) }} {
		pdf, err := draw()
		require.NoError(t, err)
		requireTidy(t, pdf)
		list := pages(t, pdf)
		for i := range 50 {
			requireWholeRow(t, list, fmt.Sprintf("from%02d", i), fmt.Sprintf("upto%02d", i))
		}
		require.Greater(t, len(list), 3, name)
	}
}
