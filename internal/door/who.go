package door

import (
	"net"
	"net/http"
	"strings"
	"time"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// CookieName is the name of the session cookie.
const CookieName = "kerfbook_session"

// Who gives the person who asks: by bearer token where one is sent, else by the session
// cookie. Nobody is not an error; a token that is not known is (Signin).
func Who(r *http.Request, a *access.Room) (access.Person, error) {
	if h := r.Header.Get("Authorization"); h != "" {
		scheme, secret, ok := strings.Cut(h, " ")
		if !ok || !strings.EqualFold(scheme, "Bearer") {
			return access.Person{}, fault.New(fault.Signin, "Send the token as: Authorization: Bearer TOKEN.")
		}
		return a.TokenPerson(r.Context(), strings.TrimSpace(secret))
	}
	return a.SessionPerson(r.Context(), SessionSecret(r))
}

// SessionSecret gives what the session cookie holds, or nothing.
func SessionSecret(r *http.Request) string {
	c, err := r.Cookie(CookieName)
	if err != nil {
		return ""
	}
	return c.Value
}

// As gives r with p as the one who acts, for the rooms and for the history.
func As(r *http.Request, p access.Person) *http.Request {
	ctx := access.WithPerson(r.Context(), p)
	return r.WithContext(postgres.WithActor(ctx, p.Actor(RequestID(ctx))))
}

// SetCookie gives the browser a session secret until then; stay keeps it when the
// browser is closed.
func SetCookie(w http.ResponseWriter, r *http.Request, secret string, until time.Time, stay bool) {
	c := cookie(r, secret)
	if stay {
		c.Expires, c.MaxAge = until, int(time.Until(until).Seconds())
	}
	http.SetCookie(w, c)
}

// ClearCookie takes the session cookie back.
func ClearCookie(w http.ResponseWriter, r *http.Request) {
	c := cookie(r, "")
	c.MaxAge = -1
	http.SetCookie(w, c)
}

func cookie(r *http.Request, value string) *http.Cookie {
	return &http.Cookie{Name: CookieName, Value: value, Path: "/", HttpOnly: true, Secure: Encrypted(r), SameSite: http.SameSiteLaxMode}
}

// Encrypted reports whether the browser came over TLS, to us or to a trusted proxy.
func Encrypted(r *http.Request) bool {
	return r.TLS != nil || (trusted(r) && r.Header.Get("X-Forwarded-Proto") == "https")
}

// Address gives where a request comes from, without the port.
func Address(r *http.Request) string {
	if trusted(r) {
		hops := strings.Split(r.Header.Get("X-Forwarded-For"), ",")
		// The last hop is what the proxy itself saw; earlier ones anybody can write.
		if last := strings.TrimSpace(hops[len(hops)-1]); net.ParseIP(last) != nil {
			return last
		}
	}
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

func trusted(r *http.Request) bool {
	a, _ := r.Context().Value(requestKey{}).(about)
	return a.proxy
}
