package web

import (
	"net/http"
	"path"
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

type photosView struct {
	Form   *Form
	Href   string // the record
	Action string
	Photos []photoRow
}

type photoRow struct {
	Href, Name, When string
	Picture          bool
}

var photosPage = definePage[photosView]("photos")

// registerPhotoPages has one page of photos for any record: link to /photos/of/TABLE/ID.
func (s *Server) registerPhotoPages(r *routes) {
	r.get(access.Day, "/photos/of/:table/:id", s.handlePhotos)
	r.post(access.Day, "/photos/of/:table/:id", s.handlePhotosPost)
	r.get(access.Day, "/photos/:id", s.handlePhoto)
}

func (s *Server) handlePhotos(c echo.Context) error {
	table, id, href, err := recordOf(c)
	if err != nil {
		return err
	}
	list, err := s.House.PhotoList(c.Request().Context(), table, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := photosView{Form: formOf(c), Href: href, Action: c.Request().URL.Path}
	for _, p := range list {
		name := p.Name
		if name == "" {
			name = "without a name"
		}
		v.Photos = append(v.Photos, photoRow{hrefOfPhoto(p.ID), name, show.Time(p.RecordedAt, set.Location()), p.MediaType == "image/jpeg"})
	}
	return photosPage.show(s, c, "Photos and papers kept", v)
}

func (s *Server) handlePhotosPost(c echo.Context) error {
	table, id, _, err := recordOf(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	raw, file, err := f.File("photo")
	if err != nil {
		return err
	}
	if raw == nil {
		f.Wrong("photo", "Choose a photo or a PDF.")
		return again(f.Err(), s.handlePhotos)
	}
	name := f.Text("name")
	if name == "" {
		name = path.Base(file)
	}
	if _, err := s.House.PhotoAdd(c.Request().Context(), table, id, name, raw); err != nil {
		return again(err, s.handlePhotos)
	}
	return goTo(c, c.Request().URL.Path, "Kept.")
}

// handlePhoto sends the bytes to whoever may see the record they are kept with.
func (s *Server) handlePhoto(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	p, err := s.House.PhotoGet(c.Request().Context(), id)
	if err != nil {
		return err
	}
	if !maySeePhoto(person(c), p) {
		return fault.New(fault.Forbidden, "This page is not for your sign-in. Ask the owner of the workshop.")
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "private, max-age=86400")
	return c.Blob(http.StatusOK, p.MediaType, p.Bytes)
}

func maySeePhoto(who access.Person, p house.Photo) bool {
	area, ok := access.AreaOf(p.Table)
	return ok && who.May(area)
}

func hrefOfPhoto(id int64) string { return "/photos/" + strconv.FormatInt(id, 10) }
