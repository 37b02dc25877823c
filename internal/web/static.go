package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/fault"
)

//go:embed static
var staticFiles embed.FS

// staticPath carries a hash of all static files, so that a browser may keep them for
// good and a new program never meets an old style.
var staticPath = "/static/" + staticHash()

func staticHash() string {
	h := sha256.New()
	err := fs.WalkDir(staticFiles, "static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := staticFiles.ReadFile(name)
		h.Write([]byte(name))
		h.Write(body)
		return err
	})
	if err != nil {
		panic(err) // the files are embedded
	}
	return hex.EncodeToString(h.Sum(nil))[:10]
}

var staticKinds = map[string]string{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}

// registerStatic serves style, script and mark.
func (s *Server) registerStatic(e *echo.Echo) {
	e.GET("/static/:hash/:file", func(c echo.Context) error {
		name := c.Param("file")
		body, err := staticFiles.ReadFile("static/" + name)
		if err != nil || strings.Contains(name, "/") {
			return fault.New(fault.NotFound, "There is no such file.")
		}
		if "/static/"+c.Param("hash") == staticPath {
			c.Response().Header().Set(echo.HeaderCacheControl, "public, max-age=31536000, immutable")
		}
		return c.Blob(http.StatusOK, staticKinds[path.Ext(name)], body)
	})
}
