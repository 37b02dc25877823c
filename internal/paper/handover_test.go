package paper

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestHandoverTypeSizes(t *testing.T) {
	t.Parallel()
	pdf, err := Handover(testHandover())
	require.NoError(t, err)
	sizes := smallestType(t, pdf)
	require.Len(t, sizes, 2)
	require.GreaterOrEqual(t, sizes[0], 12.0, "side one is read at dusk")
	require.GreaterOrEqual(t, sizes[1], 10.5)
}

func TestHandoverSecondLeaf(t *testing.T) {
	t.Parallel()
	d := testHandover()
	d.Law = []string{strings.Repeat("A rule of this district that has many words. ", 12)}
	pdf, err := Handover(d)
	require.NoError(t, err)
	list := pages(t, pdf)
	require.Len(t, list, 3)
	for _, p := range list {
		require.Contains(t, p, "this sheet has two leaves: keep them together")
	}
	for i, size := range smallestType(t, pdf) {
		require.GreaterOrEqual(t, size, []float64{12, 10.5, 10.5}[i])
	}
}

func TestHandoverCode(t *testing.T) {
	t.Parallel()
	d := testHandover()
	pdf, err := Handover(d)
	require.NoError(t, err)
	require.Equal(t, []string{d.Link}, codes(t, pdf))
	d.Link = ""
	pdf, err = Handover(d)
	require.NoError(t, err)
	text := strings.Join(pages(t, pdf), " ")
	require.Contains(t, text, "Say the serial: 10427")
	require.Contains(t, text, "0491 570 156")
}

// What stands on the sheet follows the facts it is given.
func TestHandoverWording(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name      string
		change    func(d *HandoverDoc)
		want, not []string
		source    string
	}{
		{"carbonaria", func(*HandoverDoc) {}, []string{"above about 18 °C", "more than 40 °C", "42 to 43 °C", "about Bega"}, []string{"not certain"},
			"bees/facts.csv: Heard and Hendrikz 1993; keepers' weather page; Heard 2016 from memory"},
		{"species without a threshold", func(d *HandoverDoc) { d.Colony.Species, _ = Species("Tetragonula hockingsi") },
			[]string{"They fly when it is mild", "Cape York"}, []string{"They fly above"}, "the threshold was measured for carbonaria only"},
		{"unsure", func(d *HandoverDoc) { d.Colony.Sure = false }, []string{"not certain"}, nil, "design, section 4, Colony: species is a finding, sure or not"},
		{"empty box", func(d *HandoverDoc) { d.Colony = nil }, []string{"No bees are in it yet", "no sugar"}, []string{"do not sting", "fly above", "belonging to bees"}, "our choice"},
		{"another country", func(d *HandoverDoc) { d.Country = "MX" }, []string{"ring 112", "authorities for animal health"}, []string{"Queensland:", "Western Australia"}, "112, from memory (GSM emergency number)"},
		{"own box", func(d *HandoverDoc) { d.OwnBox = true }, []string{"the buyer's own box"}, nil, "design, section 4, Colony"},
		{"moving and splitting disagree", func(*HandoverDoc) {}, []string{"0.5, 1 or 2 km", "half a metre to a metre a day", "three weeks or more", "12 to 18 months"}, nil, "bees/facts.csv, moving and splitting"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			d := testHandover()
			tt.change(&d)
			pdf, err := Handover(d)
			require.NoError(t, err)
			list := pages(t, pdf)
			require.Len(t, list, 2)
			text := strings.Join(list, " ")
			for _, want := range tt.want {
				require.Contains(t, text, want)
			}
			for _, not := range tt.not {
				require.NotContains(t, text, not)
			}
		})
	}
}

func TestYearByHemisphere(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, hemisphere string
		from             time.Month
		first, place     string
		january          string
		source           string
	}{
		{"south in April", "southern", time.April, "April", "mid-autumn", "midsummer", "seasons by whole months, Bureau of Meteorology, from memory"},
		{"south by default", "", time.December, "December", "early summer", "midsummer", "same"},
		{"north in April", "northern", time.April, "April", "mid-spring", "midwinter", "meteorological seasons, from memory"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			year := HandoverDoc{Hemisphere: tt.hemisphere, HandedOn: time.Date(2026, tt.from, 30, 0, 0, 0, 0, time.UTC)}.Year()
			require.Len(t, year, 12)
			require.Equal(t, Month{tt.first, tt.place}, year[0])
			names := map[string]bool{}
			for _, m := range year {
				names[m.Name+m.Place] = true
			}
			require.Len(t, names, 12)
			require.True(t, names["January"+tt.january])
		})
	}
}

// The months of the sheet stand in order from the month of the handover.
func TestYearOnTheSheet(t *testing.T) {
	t.Parallel()
	d := testHandover()
	d.Hemisphere = "northern"
	pdf, err := Handover(d)
	require.NoError(t, err)
	back := pages(t, pdf)[1]
	at := -1
	for _, line := range []string{"April Check the finish", "May Nights are mild", "June Check shade", "January Days without flight", "March Busiest flight"} {
		i := strings.Index(back, line)
		require.Greater(t, i, at, line)
		at = i
	}
}

// The type of each side stays as large with a maker's own words, however short or long;
// what overflows takes a second leaf, and every page says so.
func TestHandoverWithOwnWording(t *testing.T) {
	t.Parallel()
	const front, back = "handover_front.tmpl", "handover_back.tmpl"
	long := strings.Repeat("- Water the garden before the bees, and tell the neighbours of them.\n", 60)
	for _, tt := range []struct {
		name   string
		own    map[string]string
		sizes  []float64 // at least, page by page
		leaves string
	}{
		{"short", map[string]string{front: "- Set it down.", back: "- Leave it."}, []float64{12, 10.5}, ""},
		{"long side one", map[string]string{front: long}, []float64{12, 12, 10.5}, "this sheet has two leaves: keep them together"},
		{"long side two", map[string]string{back: long}, []float64{12, 10.5, 10.5}, "this sheet has two leaves: keep them together"},
		{"both long", map[string]string{front: long, back: long}, []float64{12, 12, 10.5, 10.5}, "this sheet has two leaves: keep them together"},
		{"very long", map[string]string{back: strings.Repeat(long, 3)}, []float64{12, 10.5, 10.5, 10.5, 10.5, 10.5}, "this sheet has three leaves: keep them together"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			for _, hemisphere := range []string{"southern", "northern"} {
				words, problems := (*Words)(nil).With(tt.own, nil)
				require.Empty(t, problems)
				d := testHandover()
				d.Words, d.Hemisphere = words, hemisphere
				pdf, err := Handover(d)
				require.NoError(t, err)
				requireTidy(t, pdf)
				sizes := smallestType(t, pdf)
				require.Len(t, sizes, len(tt.sizes), hemisphere)
				for i, least := range tt.sizes {
					require.GreaterOrEqual(t, sizes[i], least, "page %d", i+1)
				}
				for _, p := range pages(t, pdf) {
					if tt.leaves != "" {
						require.Contains(t, p, tt.leaves)
					} else {
						require.NotContains(t, p, "leaves")
					}
				}
			}
		})
	}
}
