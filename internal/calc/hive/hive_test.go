package hive_test

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/calc/contract"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/calc/printed"
	"kerfbook/internal/calc/wood"
)

// oneSection is a brood section of the outside size that keepers call common.
func oneSection(wallMM float64) hive.Model {
	return hive.Model{
		HeldFrom: "outside", LengthMM: 280, WidthMM: 200, WallMM: wallMM,
		Sections: []hive.Section{{ID: "s", Kind: "brood", HeightMM: 90, Count: 1}},
		Parts: []hive.Part{
			{ID: "side", Name: "Side", Section: "s", Count: 2, BoardSize: hive.BoardSize{WidthMM: 90, ThicknessMM: wallMM}, Length: hive.Length{Length: 1}},
			{ID: "end", Name: "End", Section: "s", Count: 2, BoardSize: hive.BoardSize{WidthMM: 90, ThicknessMM: wallMM}, Length: hive.Length{Width: 1, Wall: -2}},
		},
	}
}

func work(t *testing.T, in hive.HiveIn) hive.HiveOut {
	t.Helper()
	out, err := hive.Hive(context.Background(), in)
	require.NoError(t, err)
	return out
}

// TestInnerVolume: source testdata/facts.csv, a keeper's page: one 280 x 200 x 90
// section holds about 3 l in 25 mm timber and 2.4 in 35 mm; the geometry there
// gives 3.1 and 2.46.
func TestInnerVolume(t *testing.T) {
	t.Parallel()
	all := printed.Rows(t, "facts.csv")
	checked := 0
	for _, row := range all {
		for _, tc := range []struct {
			timber string
			wall   float64
			exact  float64
		}{{"25 mm timber", 25, 3.105}, {"35 mm timber", 35, 2.457}} {
			if !strings.Contains(row[1], "one 280x200x90 section") || !strings.Contains(row[1], tc.timber) {
				continue
			}
			checked++
			got := work(t, hive.HiveIn{Model: oneSection(tc.wall)}).InnerVolumeL
			require.InDelta(t, tc.exact, got, 1e-9, "by hand, as beside the row")
			require.Contains(t, []string{"3", "2.4"}, row[2])
			var printed float64
			require.NoError(t, json.Unmarshal([]byte(row[2]), &printed))
			require.InDelta(t, printed, got, 0.11, row[1])
		}
	}
	require.Equal(t, 2, checked)
}

// TestTrueThickness: the same model drawn with a 25 mm wall, built of 35 mm boards,
// is the box drawn with 35 mm walls.
func TestTrueThickness(t *testing.T) {
	t.Parallel()
	thick := 35.0
	drawn, built := work(t, hive.HiveIn{Model: oneSection(35)}), work(t, hive.HiveIn{Model: oneSection(25), ThicknessMM: &thick})
	require.Equal(t, 25.0, built.Parts[0].BoardSize.ThicknessMM, "the board size keeps its name")
	built.Parts, built.Boards = drawn.Parts, drawn.Boards
	require.Equal(t, drawn, built)
	parts, err := hive.Parts(oneSection(25), 35)
	require.NoError(t, err)
	require.Equal(t, 130.0, parts[1].LengthMM, "by hand: 200 - 2 x 35")
}

func TestHeldFromInside(t *testing.T) {
	t.Parallel()
	m := oneSection(25)
	m.HeldFrom = "inside"
	out := work(t, hive.HiveIn{Model: m})
	require.InDelta(t, 280*200*90/1e6, out.InnerVolumeL, 1e-9, "inside sizes are the room")
	require.Equal(t, 330.0, out.OutsideLengthMM, "by hand: 280 + 2 x 25")
	require.Equal(t, 250.0, out.OutsideWidthMM)
}

func TestPartLengths(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name    string
		section string
		length  hive.Length
		want    float64
		source  string
	}{
		{"every size", "s", hive.Length{Length: 1, Width: -0.5, Wall: 1.5, Height: 2, PlusMM: -3.7}, 280.1 - 100.15 + 37.8 + 180.6 - 3.7, "by hand"},
		{"half of an odd tenth is kept", "s", hive.Length{Width: 0.5}, 100.15, "by hand: 200.3 / 2"},
		{"height without a section is that of all", "", hive.Length{Height: 1}, 2*90.3 + 40.1, "by hand: two brood sections and a roof"},
		{"height of the section named", "roof", hive.Length{Height: 1, PlusMM: 1}, 41.1, "by hand"},
	}
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			m := hive.Model{
				HeldFrom: "outside", LengthMM: 280.1, WidthMM: 200.3, WallMM: 25.2,
				Sections: []hive.Section{{ID: "s", Kind: "brood", HeightMM: 90.3, Count: 2}, {ID: "roof", Kind: "roof", HeightMM: 40.1, Count: 1}},
				Parts:    []hive.Part{{ID: "p", Name: "P", Section: tc.section, Count: 3, BoardSize: hive.BoardSize{WidthMM: 90, ThicknessMM: 20}, Length: tc.length}},
			}
			parts, err := hive.Parts(m, m.WallMM)
			require.NoError(t, err)
			require.InDelta(t, tc.want, parts[0].LengthMM, 1e-9, tc.source)
			require.InDelta(t, tc.want*10, parts[0].LengthTenths(), 0.5+1e-6)
		})
	}
}

// TestMassAndWarmth uses the handbook's worked wood: specific gravity 0.40 at 12 %
// is 448 kg/m3 (source: oakmissouri.org), conductivity 0.1158 by eq. 4-15.
func TestMassAndWarmth(t *testing.T) {
	t.Parallel()
	timber := hive.Timber{DensityKgM3: wood.DensityKgM3(0.40, 12), ConductivityWMK: wood.Conductivity(0.40, 12)}
	out, err := hive.Measure(oneSection(25), 25, timber)
	require.NoError(t, err)
	require.InDelta(t, (2*280+2*150)*90*25*448/1e9, out.EmptyMassKg, 1e-9, "by hand: two sides of 280, two ends of 150")
	require.InDelta(t, out.EmptyMassKg+3.105*0.5, out.FullMassKg, 1e-9, "our estimate for brood, 0.5 kg a litre")
	require.InDelta(t, 0.025/0.11578, out.WallRM2KW, 1e-4, "by hand: eq. 4-15")
	area := 2 * (0.23*0.15 + 0.15*0.09 + 0.09*0.23)
	require.InDelta(t, 0.11578*(area/0.025+0.54*4*(0.23+0.15+0.09)+0.15*8*0.025), out.HeatLossWK, 1e-3, "by hand: Langmuir's shape factors")
}

// TestSpeciesMass: the usual timber is hoop pine, 560 kg/m3 at 12 % (Queensland page).
func TestSpeciesMass(t *testing.T) {
	t.Parallel()
	usual := work(t, hive.HiveIn{Model: oneSection(25)})
	require.InDelta(t, 560, usual.DensityKgM3, 1e-9)
	require.Equal(t, usual, work(t, hive.HiveIn{Model: oneSection(25), Species: "Hoop pine"}))
	cypress := work(t, hive.HiveIn{Model: oneSection(25), Species: "white-cypress"})
	require.InEpsilon(t, 675.0/560, cypress.EmptyMassKg/usual.EmptyMassKg, 1e-9)
	wet := 18.0
	damp := work(t, hive.HiveIn{Model: oneSection(25), MCPct: &wet})
	require.Greater(t, damp.EmptyMassKg, usual.EmptyMassKg)
	require.Less(t, damp.WallRM2KW, usual.WallRM2KW, "damp wood insulates less")
}

func TestRefuses(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, from, to, pointer string
	}{
		{"held from nowhere", `"held_from":"outside"`, `"held_from":"above"`, "/model/held_from"},
		{"negative length", `"length_mm":280`, `"length_mm":-280`, "/model/length_mm"},
		{"no width", `"width_mm":200,"wall`, `"width_mm":0,"wall`, "/model/width_mm"},
		{"walls that meet", `"wall_mm":25`, `"wall_mm":100`, "/model/wall_mm"},
		{"true walls that meet", `"species"`, `"thickness_mm":100,"species"`, "/model/wall_mm"},
		{"thickness below zero", `"species"`, `"thickness_mm":-1,"species"`, "/thickness_mm"},
		{"unknown species", `"species":"hoop-pine"`, `"species":"treacle"`, "/species"},
		{"too wet", `"species"`, `"mc_pct":60,"species"`, "/mc_pct"},
		{"unknown kind", `"kind":"floor"`, `"kind":"cellar"`, "/model/sections/0/kind"},
		{"section twice", `"id":"honey","kind"`, `"id":"brood","kind"`, "/model/sections/2/id"},
		{"part twice", `"id":"brood-end"`, `"id":"brood-side"`, "/model/parts/2/id"},
		{"fitting twice", `"id":"screw-30"`, `"id":"screw-50"`, "/model/fittings/1/id"},
		{"operation twice", `"id":"sand"`, `"id":"dock"`, "/model/operations/3/id"},
		{"part of no section", `"section":"floor"`, `"section":"cellar"`, "/model/parts/0/section"},
		{"factor of a third", `"width":1,"wall":-2`, `"width":0.333,"wall":-2`, "/model/parts/2/length/width"},
		{"part of no length", `"width":1,"wall":-2`, `"width":1,"wall":-8`, "/model/parts/2/length"},
		{"absurd count", `"count":4`, `"count":1000000000`, "/model/parts/1/count"},
		{"no pieces", `"count":4`, `"count":0`, "/model/parts/1/count"},
		{"negative board", `"thickness_mm":12`, `"thickness_mm":-12`, "/model/parts/3/board_size/thickness_mm"},
		{"unknown field in a part", `"plus_mm":60`, `"plus_cm":6`, "/plus_cm"},
		{"negative minutes", `"piece_minutes":24`, `"piece_minutes":-24`, "/model/operations/2/piece_minutes"},
		{"model left out", `"model"`, `"modell"`, "/modell"},
	}
	raw, err := json.Marshal(hive.HiveIn{Model: hive.Ready()[0].Model, Species: "hoop-pine"})
	require.NoError(t, err)
	for _, tc := range tests {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			require.Contains(t, string(raw), tc.from)
			_, err := hive.Topics()[0].Run(context.Background(), []byte(strings.Replace(string(raw), tc.from, tc.to, 1)))
			var bad *contract.Error
			require.ErrorAs(t, err, &bad)
			require.Equal(t, tc.pointer, bad.Fields[0].Pointer)
		})
	}
	m := oneSection(25)
	m.Sections[0].Kind = "roof"
	var bad *contract.Error
	require.ErrorAs(t, m.Check("", 25), &bad)
	require.Equal(t, "/sections", bad.Fields[0].Pointer, "bees need a brood or a honey section")
}
