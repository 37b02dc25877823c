package web

import (
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/PuerkitoBio/goquery"
	"github.com/stretchr/testify/require"

	"kerfbook/internal/access"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/timber"
)

// addTimber puts hoop pine into the book and gives its id.
func (b *browser) addTimber() int64 {
	b.t.Helper()
	sp, err := b.server.Timber.SpeciesSave(b.t.Context(), timber.Species{Code: "hoop-pine", Name: "hoop pine", DensityKgM3: nil, MetreCostMinor: 320})
	require.NoError(b.t, err)
	return sp.ID
}

// rows gives the texts of the cells of each row of a page's tables.
func (b *browser) rows() []string {
	var list []string
	b.Find("main tbody tr").Each(func(_ int, e *goquery.Selection) { list = append(list, strings.Join(strings.Fields(e.Text()), " ")) })
	return list
}

func (b *browser) pdf(path string) {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), http.MethodGet, b.base+path, nil)
	require.NoError(b.t, err)
	res, err := b.client.Do(r)
	require.NoError(b.t, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	require.NoError(b.t, err)
	require.Equal(b.t, http.StatusOK, res.StatusCode)
	require.Equal(b.t, "%PDF", string(body[:4]))
}

// A model is drawn up on a page, built, and its box gets its serial.
func TestFromDrawingToSerial(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	species := b.addTimber()
	b.get("/bench/models").submit("form[action='/bench/models']", "name", "Small box", "code", "small", "start", "two-tier-230")
	require.Equal(t, "/bench/models/1?start=two-tier-230", b.Path)
	b.submit("form[action='/bench/models/1/draw']", "body.length_mm", "-5")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	require.Equal(t, "-5", b.Find("input[name='body.length_mm']").AttrOr("value", ""), "what was typed is kept")
	b.submit("form[action='/bench/models/1/draw']", "body.length_mm", "230")
	require.Equal(t, "/bench/models/1", b.Path)
	b.has(".said", "Revision 1 is kept.")
	rev, err := b.server.Workshop.RevisionGet(t.Context(), 1)
	require.NoError(t, err)
	want := hive.Ready()[0].Model
	want.ID, want.Revision, want.LengthMM = "small", 1, 230
	require.Equal(t, want.Parts, rev.Body.Parts, "the drawing's fields give the model back")
	require.Equal(t, want.Sections, rev.Body.Sections)
	require.Equal(t, want.Operations, rev.Body.Operations)
	require.Equal(t, want.Fittings, rev.Body.Fittings)
	out, err := hive.Hive(t.Context(), hive.HiveIn{Model: want})
	require.NoError(t, err)
	b.get("/bench/revisions/1").has("dl.facts", strconv.FormatFloat(out.InnerVolumeL, 'f', 1, 64)+" litres")

	b.get("/bench/builds/new").submit("form[action='/bench/builds/new']", "quantity", "1")
	b.has("#f-species-id-about", "Choose the timber")
	b.submit("form[action='/bench/builds/new']", "species_id", strconv.FormatInt(species, 10), "revision_id", "1", "due_on", "2020-01-01")
	b.has("#f-due-on-about", "This day is past")
	b.submit("form[action='/bench/builds/new']", "due_on", "")
	require.Equal(t, "/bench/builds/1", b.Path)
	b.has(".caution", "hoop pine short").has(".margin .caution", "kick back")

	for _, p := range out.Boards {
		b.get("/timber/lots/new").submit("form[action='/timber/lots/new']", "species_id", strconv.FormatInt(species, 10), "width_mm", figureText(p.WidthMM), "thickness_mm", figureText(p.ThicknessMM), "length_mm", "2430", "count", "4")
		b.has(".said", "4 of 2400 mm lie there now.")
	}
	b.get("/bench/builds/1").submit("form[action='/bench/builds/1/lay']")
	b.has(".said", "laid anew")
	b.get("/bench/builds/1/longer").has("main", "The plan it has now").submit("form[action='/bench/builds/1/longer/start']", "seconds", "10")
	b.has(".said", "begun").has("main", "The search")
	require.Eventually(t, func() bool {
		return b.get("/bench/builds/1/longer").Find("form[action='/bench/builds/1/longer/take']").Length() == 1
	}, time.Minute, 50*time.Millisecond)
	b.has("tbody", "proved after").submit("form[action='/bench/builds/1/longer/take']").has(".said", "is the build's plan now")
	b.get("/bench/builds/1").submit("form[action='/bench/builds/1/accept']")
	b.has(".said", "put aside")
	b.get("/bench/cuttings/1").has("h1", "Cutting for build B0001").has(".lead", "put aside").has("svg.board text", "1")
	cut := b.Find("form[action^='/bench/cuttings/1/cut-']").First().AttrOr("action", "")
	dock := b.Find("form[action^='/bench/cuttings/1/dock-']").First().AttrOr("action", "")
	b.submit("form[action='"+dock+"']", "usable_mm", "9000")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".wrong-top, .wrong", "shorter than the board")
	b.get("/bench/cuttings/1").submit("form[action='" + cut + "']")
	b.has(".said", "Written down as cut.")
	leave := b.Find("form[action^='/bench/cuttings/1/leave-']").First().AttrOr("action", "")
	b.submit("form[action='" + leave + "']")
	b.has(".said", "laid anew").has(".lead", "put aside").has("dl.facts", "The best").has("details.cost", "Your choice costs")
	use := b.Find("form[action^='/bench/cuttings/1/use-']").First().AttrOr("action", "")
	b.submit("form[action='" + use + "']")
	b.has(".lead", "only meant")
	b.submit("form[action='/bench/cuttings/1/accept']")
	b.get("/bench/builds/1")
	b.pdf("/bench/builds/1/job-card.pdf")
	start := b.Find("form[action^='/bench/operations/'][action$='/start']").First().AttrOr("action", "")
	b.submit("form[action='" + start + "']")
	b.has(".lead", "Your time runs on").hasNot("dl.facts .late")
	b.submit("main form[action='/bench/clock/stop']")
	b.has(".said", "Stopped:")
	b.submit("form[action='/bench/builds/1/time']", "minutes", "45")
	b.has("dl.facts", "45 min of")

	b.submit("form[action='/bench/builds/1/finish']", "spoiled", "one")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.submit("form[action='/bench/builds/1/finish']", "spoiled", "", "place", "by the door")
	b.has(".said", "Punch the serials: 1007.")
	b.pdf("/bench/builds/1/labels.pdf")
	b.pdf("/bench/builds/1/labels.pdf?used=3")
	require.Equal(t, "/bench/boxes/1", b.get("/find?q=1007").Path, "the find line leads to the box")
	b.has("h1", "Box 1007").has(".lead", "on the shelf").has("details.cost", "To make it cost")
	b.pdf("/bench/boxes/1/label.pdf")
	b.submit("form[action='/bench/boxes/1/change']", "held_back_because", "a crack")
	b.has(".lead", "held back: a crack")
	b.submit("form[action='/bench/boxes/1/section']", "place_in_box", "1", "note", "sent for repair")
	require.Contains(t, strings.Join(b.rows(), "\n"), "sent for repair", "what left is kept")
	b.submit("form[action='/bench/boxes/1/place']", "place", "paint rack")
	b.get("/bench/boxes").has("tbody", "paint rack")
	b.get("/bench/done").has("tbody", "B0001")
}

func TestPlanPage(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	b.addTimber()
	b.get("/bench/plan").submit("form[action='/bench/plan']")
	require.Equal(t, http.StatusConflict, b.Status)
	b.has(".wrong-top", "no open build")
	b.get("/bench/models").submit("form[action='/bench/models']", "name", "Small box", "code", "small", "start", "two-tier-230").submit("form[action='/bench/models/1/draw']")
	b.get("/bench/builds/new").submit("form[action='/bench/builds/new']", "species_id", "1", "revision_id", "1", "quantity", "2")
	b.get("/bench/plan").submit("form[action='/bench/plan']", "why", "a new week")
	b.has(".lead", "Plan 1 is proposed").has("tbody", "B0001")
	b.submit("form[action='/bench/plans/1/accept']")
	b.has(".said", "It is in force.").has("main", "in force")
	b.get("/bench/builds/1").submit("form[action='/bench/builds/1/spoil-2']").has(".said", "Piece 2 is spoiled.")
	b.submit("form[action='/bench/builds/1/cancel']", "because", "")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.submit("form[action='/bench/builds/1/cancel']", "because", "wet timber")
	b.has(".said", "free again").has("dl.facts", "Cancelled")
	b.get("/bench").has("main", "No build is open.")
}

func TestTimberPages(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	species := strconv.FormatInt(b.addTimber(), 10)
	b.get("/timber/logs/new").submit("form[action='/timber/logs/new']", "species_id", species, "small_end_mm", "1900", "large_end_mm", "1950", "length_mm", "3600")
	b.has(".wrong-top", "Is it the girth?")
	b.submit("form[action='/timber/logs/new']", "small_end_mm", "380", "large_end_mm", "430")
	b.has(".said", "It is log L0001").has(".margin", "heavy")
	b.get("/timber/logs/1").has(".caution", "Say which board sizes")
	b.submit("form[action='/timber/logs/1/wish']", "own.0.width_mm", "100", "own.0.thickness_mm", "28", "heart_box_mm", "60")
	b.has(".said", "drawn anew").has("figcaption", "broken square").has("dl.facts", "no sawn log of this timber")
	b.get("/timber/logs/1/sawing").has("tbody", "114 × 34")
	b.submit("form[action='/timber/logs/1/sawing']", "minutes", "90", "boards.0.count", "999")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".wrong-top", "the log only")
	b.submit("form[action='/timber/logs/1/sawing']", "boards.0.count", "3", "boards.1.count", "1", "place", "lean-to")
	b.has(".said", "sawn and stacked: P0001").has(".lead", "Sawn on").has("tbody", "P0001").has("dl.facts", "by volume")
	b.get("/timber/logs").has("main", "against the drawings")

	look := "/timber/logs/look?wished=yes&species_id=" + species + "&small_end_mm=620&large_end_mm=700&length_mm=4000&sweep_mm=40&own.0.width_mm=100&own.0.thickness_mm=28&felled_on=2026-01-02&metal_suspected=yes"
	b.get(look).has("svg text", "A").has("main", "Cross-cut in the middle").has(".caution", "detector").has("dl.facts", "no: it takes 600 mm")
	b.submit("form[action='/timber/logs/new']")
	b.has(".said", "It is log L0002").has("svg text", "A")
	b.get("/timber/logs/look?wished=yes&species_id=" + species + "&small_end_mm=430&large_end_mm=380&length_mm=4000&own.0.width_mm=100&own.0.thickness_mm=28")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.has(".wrong-top", "swapped")
	b.get("/timber/sizes?species_id="+species+"&width_mm=100&thickness_mm=28").has("dl.facts", "Saw it green")
	b.get("/timber/sizes?species_id="+species+"&width_mm=110&thickness_mm=32&way=green&planing_mm=3").has("dl.facts", "Is sure to dress to")

	b.get("/timber/climates/0")
	values := []string{"name", "north shed"}
	for i := range 12 {
		at := "months." + strconv.Itoa(i) + "."
		values = append(values, at+"temperature_c", strconv.Itoa(12+i), at+"humidity_pct", "65")
	}
	b.submit("form[action='/timber/climates/0']", values...)
	require.Equal(t, "/timber/climates", b.Path)
	b.get("/timber/packs/new?log_id=1").submit("form[action='/timber/packs/new']", "width_mm", "106", "thickness_mm", "31", "content.0.length_mm", "2400", "content.0.count", "10", "climate_id", "1")
	b.has(".said", "It is pack P0002")
	b.submit("form[action='/timber/packs/2/reading']", "meter_pct", "200.5", "read_on", "2001-01-01")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.get("/timber/packs/2/dress").submit("form[action='/timber/packs/2/dress']", "taken.2400.sound", "10", "width_mm", "100", "thickness_mm", "28", "boards.0.length_mm", "2390", "boards.0.count", "11")
	b.has(".wrong-top", "More came than the boards taken out can give")
	b.submit("form[action='/timber/packs/2/dress']", "taken.2400.sound", "11", "boards.0.count", "9", "strips.0.width_mm", "48", "strips.0.length_mm", "2300", "strips.0.count", "2", "minutes", "40", "by", "Jo", "docked_for", "wane", "done", "yes")
	b.has(".said", "11 boards lie on the rack.").has(".said", "The book had 10 boards").has("dl.facts", "Dressing loss").has("tbody", "wane").has("tbody", "Jo")
	b.get("/timber/packs/2/dress").has(".lead", "finished")
	b.get("/timber").has("tbody", "100 × 28 mm")
	b.get("/timber/lots?species_id="+species).has("tbody", "2350 mm")
	b.get("/timber/lots/1").has("details.cost", "A metre").has("details.cost", "Time at planer and saw")
	b.get("/timber/species/"+species).has("details.cost", "Standard cost")
	b.get("/timber/lots/1/rip").submit("form[action='/timber/lots/1/rip']", "count", "2", "widths_mm.0", "60", "widths_mm.1", "37")
	b.has(".wrong-top", "the board has 100")
	b.submit("form[action='/timber/lots/1/rip']", "widths_mm.1", "36")
	b.has(".said", "2 boards are ripped to 60 × 28 mm and 36 × 28 mm.").has("tbody", "ripped")
	b.get("/timber/lots/1")
	b.submit("form[action='/timber/lots/1/move']", "kind", "cut", "quantity", "12")
	b.has(".said", "too few; they are booked as found")
	b.submit("form[action='/timber/lots/1/move']", "kind", "lost", "quantity", "1")
	b.has("#f-reason-about", "needs a reason")

	b.get("/timber/lots/new").submit("form[action='/timber/lots/new']", "species_id", species, "width_mm", "100", "thickness_mm", "28", "length_mm", "900", "count", "4")
	b.get("/timber/count").submit("form[action='/timber/count']", "counted.5", "-1")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	require.Equal(t, "-1", b.Find("input[name='counted.5']").AttrOr("value", ""))
	b.submit("form[action='/timber/count']", "counted.5", "6")
	b.has(".said", "the book said 4, there are 6")

	b.get("/timber/items/0").submit("form[action='/timber/items/0/change']", "name", "screw 50 mm", "code", "screw-50", "kind", "fitting", "low_mark", "20", "cost", "0.12")
	b.has(".lead", "Runs low.")
	b.submit("form[action='/timber/items/1/count']", "counted", "200")
	b.has(".said", "The book said 0, there are 200.")
	b.submit("form[action='/timber/items/1/move']", "kind", "used", "quantity", "8")
	b.has("dl.facts", "192")
	b.get("/timber/items/0").submit("form[action='/timber/items/0/change']", "name", "glue", "code", "glue", "kind", "finish", "counted", "")
	b.submit("form[action='/timber/items/2/low']")
	b.get("/timber").has("main", "glue")
	b.get("/timber/purchases/new").submit("form[action='/timber/purchases/new']", "new_supplier", "Fastener Shed", "lines.0.item_id", "1", "lines.0.quantity", "100", "lines.0.cost", "11.00")
	b.submit("form[action='/timber/purchases/1']")
	b.has(".said", "It is booked in.").has(".lead", "Came in")
	b.get("/timber/purchases/new?of=boards").submit("form[action^='/timber/purchases/new']", "supplier_id", "1", "lines.0.species_id", species, "lines.0.width_mm", "28", "lines.0.thickness_mm", "100", "lines.0.length_mm", "2400", "lines.0.quantity", "6", "lines.0.cost", "72.00")
	b.has(".wrong-top", "smaller of the two")
	b.submit("form[action^='/timber/purchases/new']", "lines.0.width_mm", "150", "lines.0.thickness_mm", "28")
	b.has(".said", "Written down.").has("tbody", "150 × 28 mm")
	line := strings.TrimPrefix(b.Find("input[name^='came.']").AttrOr("name", ""), "came.")
	b.submit("form[action='/timber/purchases/2/part']", "came."+line, "7")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.submit("form[action='/timber/purchases/2/part']", "came."+line, "4").has(".said", "It is booked in.")
	b.submit("form[action='/timber/purchases/2/change']", "paid_on", "2001-01-01").has("dl.facts", "1 Jan 2001")
	b.submit("form[action='/timber/purchases/2']").has(".lead", "Came in")
	for _, of := range []string{"log", "pack"} {
		b.get("/timber/purchases/new?of="+of).submit("form[action^='/timber/purchases/new']", "lines.0.species_id", species, "lines.0.width_mm", "110", "lines.0.thickness_mm", "32", "lines.0.small_end_mm", "380", "lines.0.large_end_mm", "420",
			"lines.0.length_mm", "2400", "lines.0.quantity", "1", "lines.0.cost", "90").has(".said", "Written down.")
	}
	b.submit("form[action='/timber/purchases/4']").has(".lead", "Came in")
	b.get("/history/purchase/4").has("main", "received at")
	b.get("/timber").has("tbody", "P0003")
	b.get("/timber/suppliers").has("tbody", "Fastener Shed").get("/timber/suppliers/1").submit("form[action='/timber/suppliers/1']", "lead_days", "x")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.submit("form[action='/timber/suppliers/1']", "lead_days", "4").has("tbody", "4 days")
	b.get("/timber/suppliers/0").submit("form[action='/timber/suppliers/0']", "name", "Old Landing Yard").has("tbody", "Old Landing Yard")
	b.get("/timber/species/0").submit("form[action='/timber/species/0']", "name", "silky oak", "code", "silky oak")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.submit("form[action='/timber/species/0']", "code", "silky-oak")
	require.Equal(t, "/timber/species", b.Path)

	// A helper works here and sees no cost.
	b.addAccount("jo", access.Helper)
	jo := b.other()
	jo.signIn("jo")
	for _, path := range []string{"/timber", "/timber/lots/1", "/timber/items/1", "/timber/logs/1", "/timber/packs/1", "/timber/species/1", "/bench", "/bench/boxes"} {
		jo.get(path)
		require.Equal(t, http.StatusOK, jo.Status, path)
		jo.hasNot("details.cost").hasNot("input[name=cost]").hasNot("input[name=metre_cost]")
		require.NotContains(t, jo.Find("main").Text(), "$", path)
	}
	require.Equal(t, http.StatusForbidden, jo.get("/timber/purchases").Status)
}

func TestFitsAndOptionsOnPages(t *testing.T) {
	t.Parallel()
	b := newBrowser(t)
	b.get("/bench/fits/0").submit("form[action='/bench/fits/0']", "name", "230 square", "sizes.0.name", "length", "sizes.0.nominal_mm", "230", "sizes.0.low_mm", "231", "sizes.0.high_mm", "230.5")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
	b.submit("form[action='/bench/fits/0']", "sizes.0.low_mm", "229.5")
	require.Equal(t, "/bench/models", b.Path)
	b.get("/bench/fits/1")
	require.Equal(t, "229.5", b.Find("input[name='sizes.0.low_mm']").AttrOr("value", ""))
	b.get("/bench/things/0").submit("form[action='/bench/things/0']", "name", "rack", "count", "0")
	b.has("#f-count-about", "1 to 1000")
	b.submit("form[action='/bench/things/0']", "count", "2")
	require.Equal(t, "/bench/things/1", b.Path)
	b.get("/bench/things/0").submit("form[action='/bench/things/0']", "name", "brush", "count", "3")
	b.get("/bench/options/0").submit("form[action='/bench/options/0']", "name", "oiled", "code", "oiled", "kind", "finish", "cure_days", "7", "operations.0.id", "oil", "operations.0.piece_minutes", "12.5", "operations.0.needs.0", "rack", "operations.0.needs.1", "brush", "operations.0.owner_only", "yes")
	require.Equal(t, "/bench/models", b.Path)
	b.get("/bench/options/1")
	require.Equal(t, "12.5", b.Find("input[name='operations.0.piece_minutes']").AttrOr("value", ""))
	for k, want := range []string{"rack", "brush", ""} {
		require.Equal(t, want, b.Find(fmt.Sprintf("select[name='operations.0.needs.%d'] option[selected]", k)).AttrOr("value", ""))
	}
	require.Equal(t, 1, b.Find("input[name='operations.0.owner_only'][checked]").Length())
	b.get("/bench/boxes/new").submit("form[action='/bench/boxes/new']", "serial", "5725", "description", "an old one")
	b.has("#f-serial-about", "check digit")
	b.submit("form[action='/bench/boxes/new']", "serial", "5724")
	b.has(".said", "It is box 5724.")
	b.get("/bench/shelf").submit("form[action='/bench/shelf']", "piece", "honey")
	require.Equal(t, http.StatusUnprocessableEntity, b.Status)
}
