package rest

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/api"
	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
)

func (s *Server) registerPhotoRoutes(g *echo.Group) {
	g.GET("/photos", s.handlePhotoList)
	g.POST("/photos", s.handlePhotoAdd)
	g.GET("/photos/:id", s.handlePhoto)
}

// photoRecord gives the record of the query, when the person may see it.
func photoRecord(c echo.Context) (string, int64, error) {
	table := c.QueryParam("table")
	area, ok := access.AreaOf(table)
	if !ok {
		return "", 0, fault.New(fault.NotFound, "Records of this kind keep no photos.")
	}
	if !person(c).May(area) {
		return "", 0, forbidden(area)
	}
	return table, queryInt(c, "id", 0), nil
}

func (s *Server) handlePhotoList(c echo.Context) error {
	table, id, err := photoRecord(c)
	if err != nil {
		return err
	}
	list, err := s.House.PhotoList(c.Request().Context(), table, id)
	if err != nil {
		return err
	}
	out := api.PhotoList{Items: make([]api.Photo, len(list))}
	for i, p := range list {
		out.Items[i] = photoOf(p)
	}
	return reply(c, http.StatusOK, out)
}

func (s *Server) handlePhotoAdd(c echo.Context) error {
	table, id, err := photoRecord(c)
	if err != nil {
		return err
	}
	raw, _ := c.Get(bodyIn).([]byte)
	p, err := s.House.PhotoAdd(c.Request().Context(), table, id, c.QueryParam("name"), raw)
	if err != nil {
		return err
	}
	return reply(c, http.StatusCreated, photoOf(p))
}

func (s *Server) handlePhoto(c echo.Context) error {
	p, err := s.House.PhotoGet(c.Request().Context(), pathID(c, "id"))
	if err != nil {
		return err
	}
	if area, ok := access.AreaOf(p.Table); !ok || !person(c).May(area) {
		return forbidden(area)
	}
	return c.Blob(http.StatusOK, p.MediaType, p.Bytes)
}

func photoOf(p house.Photo) api.Photo {
	return api.Photo{ID: p.ID, Name: p.Name, MediaType: api.PhotoMediaType(p.MediaType), RecordedAt: p.RecordedAt}
}
