package web

import (
	"encoding/base64"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/door"
)

// A sentence about what a form did travels from the post to the page that follows: as a
// header of the kept answer, then as a cookie that the next page takes away.
const (
	saidHeader = "Kerfbook-Said"
	saidCookie = "kerfbook_said"
)

// goTo ends a post: the browser is sent to a page, which shows what was done.
func goTo(c echo.Context, href, said string) error {
	if said != "" {
		c.Response().Header().Set(saidHeader, base64.RawURLEncoding.EncodeToString([]byte(said)))
	}
	return c.Redirect(http.StatusSeeOther, href)
}

// saidWriter turns the header into the cookie, also when a kept answer is sent again.
type saidWriter struct {
	http.ResponseWriter
	r *http.Request
}

func (w saidWriter) WriteHeader(status int) {
	h := w.Header()
	if text := h.Get(saidHeader); text != "" {
		h.Del(saidHeader)
		http.SetCookie(w.ResponseWriter, &http.Cookie{Name: saidCookie, Value: text, Path: "/", MaxAge: 60, HttpOnly: true,
			Secure: door.Encrypted(w.r), SameSite: http.SameSiteLaxMode})
	}
	w.ResponseWriter.WriteHeader(status)
}

// takeSaid gives the sentence for this page and takes the cookie away.
func takeSaid(c echo.Context) string {
	ck, err := c.Cookie(saidCookie)
	if err != nil {
		return ""
	}
	http.SetCookie(c.Response(), &http.Cookie{Name: saidCookie, Path: "/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteLaxMode})
	text, err := base64.RawURLEncoding.DecodeString(ck.Value)
	if err != nil || len(text) > 500 {
		return ""
	}
	return strings.ToValidUTF8(string(text), "")
}
