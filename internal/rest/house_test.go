package rest

import (
	"bytes"
	"context"
	"image"
	"image/jpeg"
	"image/png"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/api"
	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/house"
)

// setUp puts a workshop in Brisbane into the book.
func (c *client) setUp() house.Settings {
	c.t.Helper()
	set, now := house.Standard(), c.db.Now()
	set.Name, set.SetUpAt = "Test workshop", &now
	set, err := c.server.House.SettingsPut(c.t.Context(), set)
	require.NoError(c.t, err)
	return set
}

func TestWorkshopFigures(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	c.do("GET", "/api/v1/workshop", nil).want(http.StatusNotFound)
	c.setUp()
	require.NoError(t, c.server.House.GuessMark(t.Context(), "workshop.saw_kerf_mm", "workshop.trim_mm"))
	var w api.Workshop
	got := c.do("GET", "/api/v1/workshop", nil).want(http.StatusOK)
	got.into(&w)
	require.Equal(t, []string{"saw_kerf_mm", "trim_mm"}, w.Guesses)
	w.Figures.SawKerfMm, w.Figures.Latitude = 2.8, new(-26.4)
	c.do("PUT", "/api/v1/workshop", w.Figures).want(http.StatusPreconditionRequired)
	match := header{"If-Match", got.Header.Get("ETag")}
	c.do("PUT", "/api/v1/workshop", w.Figures, match).want(http.StatusOK).into(&w)
	require.Equal(t, 2.8, w.Figures.SawKerfMm)
	require.Equal(t, []string{"trim_mm"}, w.Guesses)
	c.do("PUT", "/api/v1/workshop", w.Figures, match).want(http.StatusPreconditionFailed)
	w.Figures.TimeZone = "Atlantis"
	bad := c.do("PUT", "/api/v1/workshop", w.Figures, header{"If-Match", "2"}).want(http.StatusUnprocessableEntity)
	require.Equal(t, []string{"/time_zone"}, bad.pointers())
	w.Figures.TimeZone, w.Figures.TrimMm = "Australia/Brisbane", -1
	bad = c.do("PUT", "/api/v1/workshop", w.Figures, header{"If-Match", "2"}).want(http.StatusUnprocessableEntity)
	require.Equal(t, []string{"/trim_mm"}, bad.pointers())
	w.Figures.TrimMm, w.Figures.LabelSheet.Rows = 10, 8
	bad = c.do("PUT", "/api/v1/workshop", w.Figures, header{"If-Match", "2"}).want(http.StatusUnprocessableEntity)
	require.Equal(t, []string{"/label_sheet"}, bad.pointers(), "15.15 + 8 x 38.1 are 319.95 of 297 mm")
	w.Figures.LabelSheet.LabelHeightMm, w.Figures.LabelSheet.GapDownMm = 33.9, 0
	c.do("PUT", "/api/v1/workshop", w.Figures, header{"If-Match", "2"}).want(http.StatusOK).into(&w)
	require.Equal(t, []any{8, 33.9, 2.5}, []any{w.Figures.LabelSheet.Rows, w.Figures.LabelSheet.LabelHeightMm, w.Figures.LabelSheet.GapAcrossMm})
}

func TestTaxRegistrations(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	c.do("POST", "/api/v1/tax-registrations", api.TaxRegistration{FromOn: "2026-07-01", Registered: true, TaxName: "GST"}).want(http.StatusCreated)
	bad := c.do("POST", "/api/v1/tax-registrations", api.TaxRegistration{FromOn: "1 July", Registered: true, TaxName: "GST"}).want(http.StatusUnprocessableEntity)
	require.Equal(t, []string{"/from_on"}, bad.pointers())
	var list api.TaxRegistrationList
	c.do("GET", "/api/v1/tax-registrations", nil).want(http.StatusOK).into(&list)
	require.Equal(t, []api.TaxRegistration{{FromOn: "2026-07-01", Registered: true, TaxName: "GST"}}, list.Items)
}

// sheet stands in for what a day asks.
type sheet []answer.DayLine

func (s sheet) DaySheet(context.Context, time.Time) ([]answer.DayLine, error) { return s, nil }

func TestDayAndItsMarks(t *testing.T) {
	t.Parallel()
	due := time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC)
	c := newClient(t, func(d *Deps) {
		d.Day = sheet{{Subject: "quote:1:runs-out", Kind: "quote", Text: "Quote Q1 runs out", Area: access.Enquiries},
			{Subject: "build:2:due", Kind: "build", Text: "Build B2 is due", Area: access.Bench, Due: due, Late: true}}
	})
	c.do("GET", "/api/v1/day", nil).want(http.StatusNotFound)
	set := c.setUp()
	lines := func(c *client) []string {
		var day api.DaySheet
		c.do("GET", "/api/v1/day", nil).want(http.StatusOK).into(&day)
		list := []string{}
		for _, l := range day.Lines {
			list = append(list, l.Subject)
		}
		return list
	}
	require.Equal(t, []string{"build:2:due", "quote:1:runs-out"}, lines(c), "late ones first")
	require.Equal(t, []string{"build:2:due"}, lines(c.as(c.addAccount("jo", access.Helper))))
	mark := func(deed api.DayMarkDeed, to *string) int {
		return c.do("POST", "/api/v1/day/marks", api.DayMark{Subject: "build:2:due", Deed: deed, PutOffTo: to}).Status
	}
	today := set.Today(c.db.Now())
	require.Equal(t, 422, mark(api.DayMarkDeedPutOff, nil))
	require.Equal(t, 422, mark(api.DayMarkDeedPutOff, dayOut(&today)))
	tomorrow := today.AddDate(0, 0, 1)
	require.Equal(t, 204, mark(api.DayMarkDeedPutOff, dayOut(&tomorrow)))
	require.Equal(t, []string{"quote:1:runs-out"}, lines(c))
	require.Equal(t, 204, mark(api.DayMarkDeedPutBack, nil))
	require.Len(t, lines(c), 2)
	require.Equal(t, 204, mark(api.DayMarkDeedDone, nil))
	require.Len(t, lines(c), 1)
}

func TestFindByREST(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	_, err := c.db.Exec(t.Context(), `INSERT INTO party (name, town) VALUES ('Ada Longmire', 'Gympie')`)
	require.NoError(t, err)
	var hits api.HitList
	c.do("GET", "/api/v1/find?q=longm+gym", nil).want(http.StatusOK).into(&hits)
	require.Len(t, hits.Items, 1)
	require.Equal(t, "party", hits.Items[0].Kind)
	c.as(c.addAccount("jo", access.Helper)).do("GET", "/api/v1/find?q=longmire", nil).want(http.StatusOK).into(&hits)
	require.Empty(t, hits.Items)
}

func TestPhotos(t *testing.T) {
	t.Parallel()
	c := newClient(t)
	for _, sql := range []string{`INSERT INTO party (name) VALUES ('Ada Longmire')`, `INSERT INTO box (serial, finished_at) VALUES ('10424', now())`} {
		_, err := c.db.Exec(t.Context(), sql)
		require.NoError(t, err)
	}
	var picture bytes.Buffer
	require.NoError(t, png.Encode(&picture, image.NewRGBA(image.Rect(0, 0, 2000, 100))))
	isPNG, isPDF := header{"Content-Type", "image/png"}, header{"Content-Type", "application/pdf"}
	var p api.Photo
	c.do("POST", "/api/v1/photos?table=box&id=1&name=front", picture.Bytes(), isPNG).want(http.StatusCreated).into(&p)
	require.Equal(t, api.PhotoMediaTypeImageJpeg, p.MediaType)
	got := c.do("GET", "/api/v1/photos/"+itoa(int(p.ID)), nil).want(http.StatusOK)
	size, err := jpeg.DecodeConfig(bytes.NewReader(got.Body))
	require.NoError(t, err)
	require.Equal(t, []int{1600, 80}, []int{size.Width, size.Height}, "at most 1600 pixels a side")
	c.do("POST", "/api/v1/photos?table=party&id=1", "%PDF-1.4 a letter", isPDF).want(http.StatusCreated)
	var list api.PhotoList
	c.do("GET", "/api/v1/photos?table=party&id=1", nil).want(http.StatusOK).into(&list)
	require.Len(t, list.Items, 1)
	c.do("POST", "/api/v1/photos?table=box&id=1", "no picture", isPNG).want(http.StatusUnprocessableEntity)
	c.do("POST", "/api/v1/photos?table=box&id=1", make([]byte, 7<<20), isPNG).want(http.StatusRequestEntityTooLarge)
	c.do("POST", "/api/v1/photos?table=box&id=99", picture.Bytes(), isPNG).want(http.StatusNotFound)
	c.do("POST", "/api/v1/photos?table=sessions&id=1", picture.Bytes(), isPNG).want(http.StatusNotFound)
	jo := c.as(c.addAccount("jo", access.Helper))
	jo.do("GET", "/api/v1/photos?table=box&id=1", nil).want(http.StatusOK)
	jo.do("GET", "/api/v1/photos?table=party&id=1", nil).want(http.StatusForbidden)
	jo.do("GET", "/api/v1/photos/"+itoa(int(list.Items[0].ID)), nil).want(http.StatusForbidden)
}
